"""The services that Ballast stands on, started without root, containers or anything installed by hand.

`python -m coaching.stack` runs the whole demo. The tests use the same modules to start PostgreSQL, Redis, the web
server, the worker and the ticker for themselves. Nothing here reads Django's settings or a model: it starts what they
need.
"""
