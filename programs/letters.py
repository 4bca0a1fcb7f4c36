"""Makes the message of each delivery: reads its rows, mints its links, hands words to the renderers.

One function a kind; `make` picks it. Called inside `access.within(club)` by whoever holds the claim, before any
connection is opened.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from email.message import EmailMessage
from email.policy import SMTP

from django.conf import settings
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext_lazy as _

from athletes import access, profiles
from athletes.models import Coach, Delivery, FollowUp, Link, Rider
from programs import checkins, mail, notices, plans, sheets
from programs import facts as translator
from programs.models import WeekPlan
from programs.sheet import Sheet

#: How long a session's link is good for after the week has begun.
SESSION_LINK = timedelta(days=21)
#: How long the other links of a weekly mail are good for.
WEEK_LINK = timedelta(days=30)
#: How long plan mail can be stopped from a mail.
STOP_LINK = timedelta(days=400)


#: How long a link that was asked for is good.
FRESH_LINK = timedelta(days=1)
#: The kind of delivery that carries one link, as does the request for consent; `payload` holds ``rider``, ``purpose``.
LINK_MAIL = "link"
#: What each link opens, in words that follow "Open".
_OPENS = {
    Link.Purpose.SESSION: _("the check-in"),
    Link.Purpose.REPORT: _("the report of pain or a symptom"),
    Link.Purpose.PAGE: _("your page"),
    Link.Purpose.STOP_MAIL: _("the page that stops mail"),
}


class Void(Exception):
    """The delivery has nothing to say any more: what it was about is gone or replaced."""


def make(*, delivery: Delivery, message_id: str, now: datetime) -> bytes:
    """The exact bytes of the delivery's message. Raises `Void`."""
    language = delivery.rider.language if delivery.rider and not delivery.coach else settings.LANGUAGE_CODE
    with translation.override(language):
        message = _MAKERS[delivery.kind](delivery, message_id, now)
    return message.as_bytes(policy=SMTP)


def address_of(token: str) -> str:
    """The web address that opens a link."""
    return settings.ADDRESS + reverse("link-enter", args=[token])


def link(rider: Rider, purpose: str, *, now: datetime, lasts: timedelta, subject: str = "") -> str:
    """Mints a link and returns its address."""
    return address_of(access.make_link(rider=rider, purpose=purpose, subject=subject, now=now, lasts=lasts))


def stop_address(rider: Rider, *, now: datetime) -> str:
    """The web address that stops the rider's plan mail: by itself when a mail program posts to it (RFC 8058), after a
    question when a person opens it."""
    token = access.make_link(rider=rider, purpose=Link.Purpose.STOP_MAIL, now=now, lasts=STOP_LINK)
    return settings.ADDRESS + reverse("stop-mail", args=[token])


def addresses_for(plan: WeekPlan, *, now: datetime) -> sheets.Addresses:
    """Fresh links for everything that a weekly mail offers."""
    rider = plan.rider
    return sheets.Addresses(
        sessions={
            session.ordinal: link(
                rider, Link.Purpose.SESSION, now=now, lasts=SESSION_LINK, subject=str(session.key_id)
            )
            for session in plan.sessions.all()
        },
        report=link(rider, Link.Purpose.REPORT, now=now, lasts=WEEK_LINK),
        page=link(rider, Link.Purpose.PAGE, now=now, lasts=WEEK_LINK),
        stop=stop_address(rider, now=now),
    )


def _week(delivery: Delivery, message_id: str, now: datetime) -> EmailMessage:
    plan = WeekPlan.objects.filter(pk=delivery.payload["plan"]).first()
    if plan is None or not plans.may_still_be_sent(plan, now=now):
        raise Void
    plan = sheets.plan_with_rows(plan.pk)
    library = translator.library_of(plan.decision.library)
    sheet = sheets.sheet_of(plan, addresses=addresses_for(plan, now=now), library=library)
    if plan.is_downward and not _has_session_ahead(plan, now):
        return _withdrawn(delivery, sheet, message_id, now)
    return mail.week_mail(
        sheet, sender=settings.MAIL_FROM, recipient=delivery.recipient, message_id=message_id, date=now
    )


def _has_session_ahead(plan: WeekPlan, now: datetime) -> bool:
    today = now.astimezone(translator.zone_of(plan.rider, plan.rider.club)).date()
    return any(session.on >= today for session in plan.sessions.all())


def _withdrawn(delivery: Delivery, sheet: Sheet, message_id: str, now: datetime) -> EmailMessage:
    """Everything that was still to come is off: said without a reason, and taken out of the calendar."""
    return notices.withdrawn_mail(
        notices.Withdrawn(
            rider_name=sheet.rider_name,
            coach_name=sheet.coach_name,
            week=sheet.week,
            my_page_url=sheet.my_page_url,
            report_pain_url=sheet.report_pain_url,
            emergency_note=sheet.emergency_note,
            reply_to=sheet.reply_to,
            club=sheet.club,
            language=sheet.language,
            dropped=replace(sheet, sessions=sheet.dropped, dropped=()) if sheet.dropped else None,
        ),
        sender=settings.MAIL_FROM,
        recipient=delivery.recipient,
        message_id=message_id,
        date=now,
    )


def _fresh_link(delivery: Delivery, message_id: str, now: datetime) -> EmailMessage:
    """A link that a rider asked for. `payload` names the purpose."""
    rider = Rider.objects.select_related("club").get(pk=delivery.payload["rider"])
    purpose = Link.Purpose(delivery.payload["purpose"])
    until = (now + FRESH_LINK).astimezone(translator.zone_of(rider, rider.club))
    return notices.link_mail(
        notices.FreshLink(
            rider_name=rider.given_name,
            opens=str(_OPENS[purpose]),
            link_url=link(rider, purpose, now=now, lasts=FRESH_LINK),
            valid_until=until,
            club=rider.club.name,
            language=rider.language,
        ),
        sender=settings.MAIL_FROM,
        recipient=delivery.recipient,
        message_id=message_id,
        date=now,
    )


def _consent(delivery: Delivery, message_id: str, now: datetime) -> EmailMessage:
    """The club asks for consent. `payload` says whom the mail goes to, which the link keeps: only a guardian's opens
    what a guardian may do."""
    rider = Rider.objects.select_related("club", "squad__coach__user").get(pk=delivery.payload["rider"])
    to = str(delivery.payload["to"])
    coach, lasts = rider.squad.coach.user, profiles.CONSENT_LINK
    return notices.consent_mail(
        notices.ConsentAsked(
            reader_name=rider.guardian_name if to == profiles.TO_GUARDIAN else rider.given_name,
            rider_name=rider.given_name,
            coach_name=coach.name,
            club=rider.club.name,
            link_url=link(rider, Link.Purpose.CONSENT, now=now, lasts=lasts, subject=to),
            valid_until=(now + lasts).astimezone(translator.zone_of(rider, rider.club)),
            is_guardian=to == profiles.TO_GUARDIAN,
            reply_to=coach.email,
            language=rider.language,
        ),
        sender=settings.MAIL_FROM,
        recipient=delivery.recipient,
        message_id=message_id,
        date=now,
    )


def _reminder(delivery: Delivery, message_id: str, now: datetime) -> EmailMessage:
    coach = _coach(delivery)
    waiting = WeekPlan.objects.filter(state=WeekPlan.State.DRAFT, rider__squad__coach=coach).count()
    if not waiting:
        raise Void
    return notices.reminder_mail(
        notices.Reminder(
            coach_name=coach.user.name,
            week=delivery.payload["week"],
            waiting=waiting,
            club=coach.club.name,
            desk_url=settings.ADDRESS + reverse("desk"),
        ),
        sender=settings.MAIL_FROM,
        recipient=delivery.recipient,
        message_id=message_id,
        date=now,
    )


def _alert(delivery: Delivery, message_id: str, now: datetime) -> EmailMessage:
    rider = Rider.objects.select_related("club").get(pk=delivery.payload["rider"])
    return notices.alert_mail(
        notices.Alert(
            coach_name=_coach(delivery).user.name,
            rider_name=rider.name,
            club=rider.club.name,
            follow_ups_url=settings.ADDRESS + reverse("follow-ups"),
        ),
        sender=settings.MAIL_FROM,
        recipient=delivery.recipient,
        message_id=message_id,
        date=now,
    )


def _digest(delivery: Delivery, message_id: str, now: datetime) -> EmailMessage:
    coach = _coach(delivery)
    rows = FollowUp.objects.open().filter(owner=coach).by_urgency().select_related("rider")
    lines = tuple(
        notices.DigestLine(
            rider_name=row.rider.name,
            topic="" if row.is_health else row.topic,
            due_on=_local_day(row.due_at, coach),
            is_overdue=row.due_at < now,
        )
        for row in rows
    )
    if not lines:
        raise Void
    return notices.digest_mail(
        notices.Digest(
            coach_name=coach.user.name,
            on=date.fromisoformat(delivery.payload["on"]),
            lines=lines,
            club=coach.club.name,
            follow_ups_url=settings.ADDRESS + reverse("follow-ups"),
        ),
        sender=settings.MAIL_FROM,
        recipient=delivery.recipient,
        message_id=message_id,
        date=now,
    )


def _local_day(at: datetime, coach: Coach) -> date:
    """The local date of a moment in the coach's club."""
    return plans.local_date(coach.club, at)


def _coach(delivery: Delivery) -> Coach:
    if delivery.coach is None:
        raise Void
    return Coach.objects.select_related("user", "club").get(pk=delivery.coach.pk)


_MAKERS: dict[str, Callable[[Delivery, str, datetime], EmailMessage]] = {
    plans.WEEK_MAIL: _week,
    plans.REMINDER_MAIL: _reminder,
    checkins.ALERT_MAIL: _alert,
    checkins.DIGEST_MAIL: _digest,
    LINK_MAIL: _fresh_link,
    profiles.CONSENT_MAIL: _consent,
}


# --- what is asked and done around sending ----------------------------------------------------------------------------


def is_in_force(delivery: Delivery, *, now: datetime) -> bool:
    """Whether what the mail says still holds: read last thing before it is handed over (T0)."""
    if delivery.kind != plans.WEEK_MAIL:
        return True
    plan = WeekPlan.objects.filter(pk=delivery.payload["plan"]).first()
    return plan is not None and plans.may_still_be_sent(plan, now=now)


def note_sent(delivery: Delivery, *, now: datetime) -> None:
    """What follows once the mail has gone."""
    if delivery.kind == plans.WEEK_MAIL:
        plan = WeekPlan.objects.filter(pk=delivery.payload["plan"]).first()
        if plan is not None:
            plans.mark_sent(plan=plan, now=now)
