"""Slows down guessing: wrong tries are counted by place and by account over a quarter of an hour.

Kept in the database, so that every web process counts the same. Nobody is locked out for good: after the window the
next try is free again.
"""

import hashlib
from datetime import datetime, timedelta

from athletes.models import SignInFailure

WINDOW = timedelta(minutes=15)
MOST_FROM_A_PLACE = 30
MOST_FOR_AN_ACCOUNT = 10


def _key(kind: str, value: str) -> str:
    return hashlib.sha256(f"{kind}:{value}".encode()).hexdigest()


def must_wait(*, place: str, account: str, now: datetime) -> bool:
    """Whether another try must wait, from this network address or for this account."""
    since = SignInFailure.objects.filter(at__gt=now - WINDOW)
    return (
        since.filter(key=_key("place", place)).count() >= MOST_FROM_A_PLACE
        or since.filter(key=_key("account", account)).count() >= MOST_FOR_AN_ACCOUNT
    )


def note_failure(*, place: str, account: str, now: datetime) -> None:
    """Counts a wrong try, and forgets those from before the window."""
    SignInFailure.objects.filter(at__lte=now - WINDOW).delete()
    SignInFailure.objects.bulk_create(
        [SignInFailure(key=_key("place", place), at=now), SignInFailure(key=_key("account", account), at=now)]
    )
