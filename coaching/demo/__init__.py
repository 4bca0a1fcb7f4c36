"""The demo club: an invented scenario, and a past that the real verbs made week by week."""
