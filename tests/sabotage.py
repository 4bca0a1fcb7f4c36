"""Sending with one rule broken on purpose, to see that what watches over the rule sees it.

`python -m tests.sabotage send_marked_first -A coaching worker ...` is a worker that does so.
"""

import sys
import uuid
from collections.abc import Callable
from datetime import datetime

import django
from celery.__main__ import main

type Patch = Callable[[object, str, object], None]


def send_marked_first(patch: Patch) -> None:
    """A mail is marked as sent before it is handed over: who dies in between loses it."""
    hand_over = tasks._hand_over

    def mark_and_hand_over(claim: outbox.Claim, letter: postman.Letter, *, now: datetime) -> bool:
        is_ours = hand_over(claim, letter, now=now)
        if is_ours:
            with access.within(claim.club_id):
                outbox.settle_sent(claim=claim, now=now)
        return is_ours

    patch(tasks, "_hand_over", mark_and_hand_over)


def send_without_lock(patch: Patch) -> None:
    """Whoever sees a due row takes it, whether or not somebody else has: two senders send it twice."""

    def claim_seen(club_id: uuid.UUID, pks: list[int], limit: int, now: datetime) -> list[outbox.Claim]:
        rows = Delivery.objects.filter(pk__in=pks).order_by("pk")[:limit]
        return [
            outbox.Claim(row.pk, club_id, uuid.uuid4(), row.kind, row.attempts, row.rider_id) for row in rows
        ]

    patch(outbox, "_claim_in", claim_seen)
    patch(outbox, "_claimed", lambda claim: Delivery.objects.filter(pk=claim.pk))


if __name__ == "__main__":
    django.setup()

from athletes import access, outbox, postman  # noqa: E402 - the worker's own models need the line above
from athletes.models import Delivery  # noqa: E402
from programs import tasks  # noqa: E402

if __name__ == "__main__":
    {"send_marked_first": send_marked_first, "send_without_lock": send_without_lock}[sys.argv.pop(1)](setattr)
    main()
