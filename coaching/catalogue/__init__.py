"""The catalogues of translations: what is to be translated, and the files that hold it.

Only for whoever develops: a running Ballast reads the compiled files in ``locale/`` and imports nothing of this.
"""
