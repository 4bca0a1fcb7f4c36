"""Consent to health data: asked for by mail, given by link or on paper, withdrawn at any time (T0)."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction

from athletes import followups, outbox
from athletes.access import name_of, record
from athletes.concerns import Concern, Topic, Urgency
from athletes.models import Coach, Consent, Delivery, Link, Rider
from athletes.notices import CURRENT_CONSENT
from athletes.profiles.riders import stop_plans, today_of
from athletes.vocabulary import Reason

#: The mail that brings the link to consent and screening. Its payload names the rider, the link's purpose, and `to`,
#: "rider" or "guardian", which is also the link's subject, so that the page knows who answers.
CONSENT_MAIL = "consent-request"
#: How long that link is good for.
CONSENT_LINK = timedelta(days=14)
TO_RIDER, TO_GUARDIAN = "rider", "guardian"


class GuardianNeeded(Exception):
    """The rider may be under 18: only a guardian can give this consent."""


class OwnConsentNeeded(Exception):
    """The rider is 18 or older: only they can give this consent."""


class NobodyToAsk(Exception):
    """There is no address to ask at: an under-18's guardian is not named, or the rider has left."""


@transaction.atomic
def give_consent(
    *,
    rider: Rider,
    given_by: str,
    by_guardian: bool,
    by: Coach | Rider | str,
    now: datetime,
    wording: str = CURRENT_CONSENT,
    given_at: datetime | None = None,
) -> Consent:
    """A consent stands on record: to which wording, by whom, when. `given_at` is the date of a paper form.

    A consent by the same person to the same wording that stands already is returned as it is; another one is withdrawn
    and replaced. Raises `GuardianNeeded`, `OwnConsentNeeded`.
    """
    under_18 = rider.is_under_18(today_of(rider, now))
    if under_18 and not by_guardian:
        raise GuardianNeeded
    if by_guardian and not under_18:
        raise OwnConsentNeeded
    Rider.objects.select_for_update(of=("self",)).get(pk=rider.pk)
    standing = Consent.objects.filter(rider=rider).standing().first()
    if standing and (standing.wording, standing.given_by, standing.by_guardian) == (
        wording,
        given_by,
        by_guardian,
    ):
        return standing
    if standing:
        standing.withdrawn_at = now
        standing.save(update_fields=["withdrawn_at"])
    consent = Consent.objects.create(
        club_id=rider.club_id,
        rider=rider,
        wording=wording,
        given_by=given_by,
        by_guardian=by_guardian,
        given_at=min(given_at or now, now),
    )
    record("consent.give", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, wording=wording)
    return consent


@transaction.atomic
def withdraw_consent(*, rider: Rider, by: Coach | Rider | str, now: datetime) -> bool:
    """No consent stands: nothing more is planned or recorded about health, waiting plans do not go out, and the coach
    is told. What was recorded before goes by retention, or at once by erasure. False when none stood."""
    if not Consent.objects.filter(rider=rider).standing().update(withdrawn_at=now):
        return False
    stop_plans(rider, "consent withdrawn", now=now)
    why = Reason("T0", "consent-withdrawn", {"on": today_of(rider, now).isoformat()})
    followups.open_for(rider=rider, concern=Concern(Topic.SCREENING, Urgency.SOON, (why,)), by=by, now=now)
    record("consent.withdraw", club_id=rider.club_id, by=name_of(by), now=now, rider=rider)
    return True


def asked_person(rider: Rider, *, now: datetime) -> tuple[str, str]:
    """Who is asked for consent, `TO_RIDER` or `TO_GUARDIAN`, and their address, empty when there is none."""
    if rider.is_under_18(today_of(rider, now)):
        return TO_GUARDIAN, rider.guardian_email
    return TO_RIDER, rider.email


@transaction.atomic
def ask_for_consent(*, rider: Rider, by: Coach | str, now: datetime) -> Delivery:
    """A mail with a link to consent and screening is on its way to the rider, or to the guardian of an under-18; one a
    day at most. Raises `NobodyToAsk`."""
    to, address = asked_person(rider, now=now)
    if not address or rider.state == Rider.State.LEFT:
        raise NobodyToAsk
    delivery = outbox.enqueue(
        club_id=rider.club_id,
        kind=CONSENT_MAIL,
        dedup_key=f"{CONSENT_MAIL}:{rider.pk}:{address.lower()}:{today_of(rider, now).isoformat()}",
        recipient=address,
        due_at=now,
        now=now,
        rider=rider,
        channel=Delivery.Channel.ACCOUNT,
        payload={"rider": rider.pk, "purpose": Link.Purpose.CONSENT.value, "to": to},
    )
    record("consent.ask", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, to=to)
    return delivery


@transaction.atomic
def ask_all(*, riders: Iterable[Rider], by: Coach | str, now: datetime) -> tuple[int, list[Rider]]:
    """Each of the riders is asked. Returns how many were, and those for whom there is nobody to ask."""
    asked, without = 0, []
    for rider in riders:
        try:
            ask_for_consent(rider=rider, by=by, now=now)
            asked += 1
        except NobodyToAsk:
            without.append(rider)
    return asked, without
