"""Short mails, to riders and coaches: a title, a few lines, one thing to do. No pain and no symptom stands in any.

The same arguments always give the same bytes, so that a resend is the same message.
"""

import re
from dataclasses import dataclass, field
from datetime import date, datetime
from email.message import EmailMessage

from django.utils import translation
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from programs.calendar import week_ics
from programs.engine.facts import Week
from programs.messages import begin, fill, fixed
from programs.sheet import SafeTexts, Sheet
from programs.wording import clinician_words, day_words, time_words, warning_words, week_words


@dataclass(frozen=True, slots=True)
class Notice(SafeTexts):
    """A short mail: what it says in paragraphs, then at most one link to follow. `safety` adds the safety notice."""

    title: str
    paragraphs: tuple[str, ...]
    action: str = ""
    action_url: str = ""
    club: str = ""
    lines: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    safety: tuple[str, ...] = ()
    reply_to: str = ""


def notice_mail(
    notice: Notice, *, sender: str, recipient: str, message_id: str, date: datetime
) -> EmailMessage:
    """A notice in the active language. Raises `BadAddress`."""
    language = get_language() or "en-gb"
    message = begin(
        sender_name=notice.club,
        sender=sender,
        recipient=recipient,
        message_id=message_id,
        date=date,
        subject=notice.title,
        reply_to=notice.reply_to,
    )
    fill(message, "notice", {"notice": notice, "title": notice.title}, language=language)
    return fixed(message, language=language)


@dataclass(frozen=True, slots=True)
class Reminder(SafeTexts):
    """To a coach: plans wait for approval. `week` is an ISO week such as ``2026-W45``."""

    coach_name: str
    week: str
    waiting: int
    desk_url: str
    club: str = ""


def reminder_mail(
    reminder: Reminder, *, sender: str, recipient: str, message_id: str, date: datetime
) -> EmailMessage:
    """Plans of the week are held until somebody approves them."""
    count = reminder.waiting
    waiting = ngettext("{count} plan waits for you", "{count} plans wait for you", count).format(count=count)
    notice = Notice(
        title=_("{waiting}: {week}").format(waiting=waiting, week=_iso_week_words(reminder.week)),
        paragraphs=(
            _("{name}, {waiting}.").format(name=reminder.coach_name, waiting=waiting),
            _("Nothing goes to these riders until you approve it."),
        ),
        action=_("Open the weekly desk"),
        action_url=reminder.desk_url,
        club=reminder.club,
    )
    return notice_mail(notice, sender=sender, recipient=recipient, message_id=message_id, date=date)


def _iso_week_words(week: str) -> str:
    found = re.fullmatch(r"(\d{4})-W(\d{2})", week)
    return week_words(Week(int(found[1]), int(found[2]))) if found else week


@dataclass(frozen=True, slots=True)
class DigestLine(SafeTexts):
    """One open follow-up. `topic` is empty when it is about health: a mail then says only that."""

    rider_name: str
    topic: str
    due_on: date
    is_overdue: bool = False


@dataclass(frozen=True, slots=True)
class Digest(SafeTexts):
    """To a coach, once a day: the open follow-ups, the most urgent first."""

    coach_name: str
    on: date
    lines: tuple[DigestLine, ...]
    follow_ups_url: str
    club: str = ""


#: A longer list is for the page, not for a mail.
_MOST_LINES = 60


def digest_mail(
    digest: Digest, *, sender: str, recipient: str, message_id: str, date: datetime
) -> EmailMessage:
    """The day's follow-ups, overdue ones marked in words."""
    count = len(digest.lines)
    open_now = ngettext("{count} follow-up open", "{count} follow-ups open", count).format(count=count)
    more = count - _MOST_LINES
    notice = Notice(
        title=_("{open}: {day}").format(open=open_now, day=day_words(digest.on)),
        paragraphs=(_("{name}, {open}.").format(name=digest.coach_name, open=open_now),),
        lines=tuple(_digest_line(line) for line in digest.lines[:_MOST_LINES]),
        after=(_("{count} more on the page.").format(count=more),) if more > 0 else (),
        action=_("Open the follow-ups"),
        action_url=digest.follow_ups_url,
        club=digest.club,
    )
    return notice_mail(notice, sender=sender, recipient=recipient, message_id=message_id, date=date)


def _digest_line(line: DigestLine) -> str:
    due = _("overdue since {day}") if line.is_overdue else _("due {day}")
    return _("{rider}: {topic}, {due}").format(
        rider=line.rider_name,
        topic=_topic_words(line.topic),
        due=due.format(day=day_words(line.due_on)),
    )


def _topic_words(topic: str) -> str:
    return {
        "": _("health reason"),
        "missed": _("missed sessions"),
        "silent": _("no check-ins"),
        "stalled": _("no progress"),
        "bounced": _("mail bounces"),
        "load-step": _("a load step to agree"),
        "left-out": _("exercises left out"),
    }.get(topic, _("health reason"))


@dataclass(frozen=True, slots=True)
class Alert(SafeTexts):
    """To a coach, at once: a rider reported something that stops all training. What it was stands on the page only."""

    coach_name: str
    rider_name: str
    follow_ups_url: str
    club: str = ""


def alert_mail(alert: Alert, *, sender: str, recipient: str, message_id: str, date: datetime) -> EmailMessage:
    """Somebody must be looked after now."""
    notice = Notice(
        title=_("Now: {rider} needs you").format(rider=alert.rider_name),
        paragraphs=(
            _("{name}, {rider} has reported something that stops all training.").format(
                name=alert.coach_name, rider=alert.rider_name
            ),
            _("The rider was told to seek medical help now. Call {rider}, then open the follow-up.").format(
                rider=alert.rider_name
            ),
            _("Nothing is planned until clearance is recorded."),
        ),
        action=_("Open the follow-up"),
        action_url=alert.follow_ups_url,
        club=alert.club,
        safety=(
            _("If nobody has called for help yet, call the local emergency number."),
            _("This is not medical advice."),
        ),
    )
    return notice_mail(notice, sender=sender, recipient=recipient, message_id=message_id, date=date)


@dataclass(frozen=True, slots=True)
class FreshLink(SafeTexts):
    """To a rider: the link that was asked for. `opens` says what it opens, such as ``your page``."""

    rider_name: str
    opens: str
    link_url: str
    valid_until: datetime
    club: str = ""
    language: str = "en-gb"


def link_mail(
    fresh: FreshLink, *, sender: str, recipient: str, message_id: str, date: datetime
) -> EmailMessage:
    """A fresh link, with its end. `valid_until` is an aware local time."""
    with translation.override(fresh.language):
        until = _("{day}, {time}").format(
            day=day_words(fresh.valid_until), time=time_words(fresh.valid_until.time())
        )
        notice = Notice(
            title=_("Your link: {opens}").format(opens=fresh.opens),
            paragraphs=(
                _("{name}, here is the link that you asked for.").format(name=fresh.rider_name),
                _("It works until {until}. Keep it to yourself: whoever has it can open {opens}.").format(
                    until=until, opens=fresh.opens
                ),
            ),
            action=_("Open {opens}").format(opens=fresh.opens),
            action_url=fresh.link_url,
            after=(_("You did not ask for it? Delete this mail. Nothing else happens."),),
            club=fresh.club,
        )
        return notice_mail(notice, sender=sender, recipient=recipient, message_id=message_id, date=date)


@dataclass(frozen=True, slots=True)
class ConsentAsked(SafeTexts):
    """To a rider, or to the guardian of a young one (`is_guardian`): the club asks for consent and a few answers."""

    reader_name: str
    rider_name: str
    coach_name: str
    club: str
    link_url: str
    valid_until: datetime
    is_guardian: bool = False
    reply_to: str = ""
    language: str = "en-gb"


def consent_mail(
    asked: ConsentAsked, *, sender: str, recipient: str, message_id: str, date: datetime
) -> EmailMessage:
    """Who asks, for whom, what for, and what happens without an answer. `valid_until` is an aware local time."""
    with translation.override(asked.language):
        until = _("{day}, {time}").format(
            day=day_words(asked.valid_until), time=time_words(asked.valid_until.time())
        )
        if asked.is_guardian:
            title = _("{club} asks for your consent for {rider}").format(
                club=asked.club, rider=asked.rider_name
            )
            why = _(
                "{name}, {club} would like to plan strength training for {rider}, who is under 18. For that a guardian "
                "says yes to what is kept, and answers a few questions."
            )
        else:
            title = _("{club} asks for your consent").format(club=asked.club)
            why = _(
                "{name}, {club} would like to plan strength training for you. For that you say yes to what is kept, "
                "and answer a few questions."
            )
        notice = Notice(
            title=title,
            paragraphs=(
                why.format(name=asked.reader_name, club=asked.club, rider=asked.rider_name),
                _(
                    "The page says what is kept, who sees it and how to take it back. It takes about three minutes."
                ),
                _("Nothing is planned until then. The link works until {until}.").format(until=until),
            ),
            action=_("Read and answer"),
            action_url=asked.link_url,
            after=(_("Questions? Answer this mail: it reaches {coach}.").format(coach=asked.coach_name),),
            club=asked.club,
            reply_to=asked.reply_to,
        )
        return notice_mail(notice, sender=sender, recipient=recipient, message_id=message_id, date=date)


@dataclass(frozen=True, slots=True)
class Withdrawn(SafeTexts):
    """To a rider: the plan that went out is not to be used any more. Why stands on no mail."""

    rider_name: str
    coach_name: str
    week: Week
    my_page_url: str = ""
    report_pain_url: str = ""
    emergency_note: str = ""
    pain_limit: int = 2
    reply_to: str = ""
    club: str = ""
    language: str = "en-gb"
    dropped: Sheet | None = field(default=None)


def withdrawn_mail(
    withdrawn: Withdrawn, *, sender: str, recipient: str, message_id: str, date: datetime
) -> EmailMessage:
    """Do not use the plan. With `dropped`, the sheet that went out with its SEQUENCE raised, the mail carries a file
    that takes its sessions out of the calendar."""
    with translation.override(withdrawn.language):
        week = week_words(withdrawn.week)
        notice = Notice(
            title=_("Do not use the plan of {week}").format(week=week),
            paragraphs=(
                _(
                    "{name}, do not use the plan of {week} until your coach, {coach}, has been in touch. "
                    "Throw the card away."
                ).format(name=withdrawn.rider_name, week=week, coach=withdrawn.coach_name),
            ),
            action=_("Open your page") if withdrawn.my_page_url else "",
            action_url=withdrawn.my_page_url,
            club=withdrawn.club,
            safety=(warning_words(withdrawn.emergency_note), clinician_words()),
            reply_to=withdrawn.reply_to,
        )
        message = notice_mail(notice, sender=sender, recipient=recipient, message_id=message_id, date=date)
        if withdrawn.dropped is not None:
            message.add_attachment(
                week_ics(withdrawn.dropped, stamped_at=date, method="CANCEL"),
                maintype="text",
                subtype="calendar",
                filename="cancelled.ics",
                params={"charset": "utf-8", "method": "CANCEL"},
            )
    return fixed(message, language=withdrawn.language)
