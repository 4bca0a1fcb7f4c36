"""The rider's week by mail: text, HTML with the figures of what is new, the card and the calendar file.

The same arguments always give the same bytes, so that a resend is the same message. No pain and no symptom stands in
it. List-Unsubscribe comes with RFC 8058's one click; List-Id is RFC 2919's.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from typing import Any

from django.utils import translation
from django.utils.text import slugify
from django.utils.translation import gettext as _

from programs.calendar import week_ics
from programs.card import sentences
from programs.documents import card_pdf
from programs.drawings import week_strip_columns
from programs.figures import figure_png
from programs.figures.drawing import drawn
from programs.messages import begin, fill, fixed, mailbox
from programs.sheet import Sheet, numbered
from programs.wording import (
    clinician_words,
    day_words,
    format_words,
    keep_together,
    names_words,
    pain_words,
    session_days_words,
    strip_legend,
    strip_words,
    time_words,
    warning_words,
    week_words,
)

# --- figures ----------------------------------------------------------------------------------------------------------

#: How wide a figure is in the mail (pixels), and how many octets all may have, so that the mail stays under 150 KB
#: without its card. The card has them all.
_FIGURE_WIDTH = 240
_MOST_OCTETS = 72 * 1024


@dataclass(frozen=True, slots=True)
class MailFigure:
    """A figure in the mail: a part of the message, which the HTML shows by its Content-ID (RFC 2392). `alt` is what is
    read where pictures are off."""

    cid: str
    alt: str
    width: int
    height: int
    picture: bytes


def _new_figures(sheet: Sheet, message_id: str) -> dict[str, MailFigure]:
    """The figures of the exercises that are new this week, by exercise: those are the ones that have to be learnt.

    They are attached, since Gmail shows no picture that stands in its address (data:), and one from the web waits for a
    tap and tells when the mail is read.
    """
    seed, domain = (
        hashlib.sha256(message_id.encode()).hexdigest()[:16],
        message_id.strip("<>").rpartition("@")[2],
    )
    figures: dict[str, MailFigure] = {}
    octets = 0
    for item in (item for session in sheet.sessions for item in session.items):
        drawing = drawn(item.slug) if item.new and item.slug not in figures else None
        picture = figure_png(item.slug, width=_FIGURE_WIDTH) if drawing else None
        if drawing is None or picture is None or octets + len(picture) > _MOST_OCTETS:
            continue
        octets += len(picture)
        figures[item.slug] = MailFigure(
            cid=f"{item.slug}.{seed}@{domain}",
            alt=": ".join([item.name, *item.cues[:1]]),
            width=_FIGURE_WIDTH,
            height=round(drawing.height * _FIGURE_WIDTH / drawing.width),
            picture=picture,
        )
    return figures


def _relate(message: EmailMessage, figures: Mapping[str, MailFigure]) -> None:
    """The HTML becomes one with the pictures that it shows (RFC 2387)."""
    html = message.get_body(("html",))
    if html is None:
        return
    for slug, figure in figures.items():
        html.add_related(
            figure.picture,
            maintype="image",
            subtype="png",
            cid=f"<{figure.cid}>",
            filename=f"{slug}.png",
            disposition="inline",
        )


# --- the rider's week -------------------------------------------------------------------------------------------------


def week_mail(sheet: Sheet, *, sender: str, recipient: str, message_id: str, date: datetime) -> EmailMessage:
    """The rider's week in the sheet's language.

    `sender` and `recipient` are addresses, the sender with or without a name; the club's name is the one shown. `date`
    is an aware time. Raises `BadAddress`. A week without sessions has no card, and a calendar file only when it takes
    sessions of an earlier plan out of the calendar.
    """
    with translation.override(sheet.language):
        message = begin(
            sender_name=sheet.club,
            sender=sender,
            recipient=recipient,
            message_id=message_id,
            date=date,
            subject=_week_subject(sheet),
            reply_to=sheet.reply_to,
        )
        message["List-Id"] = _list_id(sheet.club, sender)
        if sheet.unsubscribe_url:
            message["List-Unsubscribe"] = f"<{sheet.unsubscribe_url}>"
            message["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
        figures = _new_figures(sheet, message_id)
        fill(message, "week", _week_context(sheet, figures), language=sheet.language)
        _relate(message, figures)
        _attach_week(message, sheet, date)
    return fixed(message, language=sheet.language)


def _week_subject(sheet: Sheet) -> str:
    if not sheet.sessions:
        subject = _("Week {number}: no strength sessions").format(number=sheet.week.number)
    else:
        subject = _("Week {number}: strength on {days}").format(
            number=sheet.week.number, days=session_days_words(sheet.sessions)
        )
    return _("Use this instead. {subject}").format(subject=subject) if sheet.supersedes else subject


def _week_context(sheet: Sheet, figures: Mapping[str, MailFigure]) -> dict[str, Any]:
    yet = dict(figures)
    sessions = [
        {
            "session": session,
            "day": day_words(session.on),
            "time": time_words(session.start),
            "format": format_words(session.format),
            "warm_up": names_words(session.warm_up),
            "cool_down": names_words(session.cool_down),
            "items": [
                (number, item, keep_together(item.line), sentences(item.cues), yet.pop(item.slug, None))
                for number, item in numbered(session.items)
            ],
        }
        for session in sheet.sessions
    ]
    return {
        "sheet": sheet,
        "week": week_words(sheet.week),
        "title": _week_subject(sheet),
        "sessions": sessions,
        "columns": week_strip_columns(sheet.strip),
        "strip_words": strip_words(sheet.strip),
        "strip_legend": strip_legend(sheet.strip),
        "warning": warning_words(sheet.emergency_note),
        "pain": pain_words(sheet.pain_limit),
        "clinician": clinician_words(),
    }


def _attach_week(message: EmailMessage, sheet: Sheet, date: datetime) -> None:
    week = f"{sheet.week.year}-w{sheet.week.number:02d}"
    if sheet.sessions:
        message.add_attachment(
            card_pdf(sheet), maintype="application", subtype="pdf", filename=f"strength-{week}.pdf"
        )
    if sheet.sessions or sheet.dropped:
        message.add_attachment(
            week_ics(sheet, stamped_at=date),
            maintype="text",
            subtype="calendar",
            filename=f"strength-{week}.ics",
            params={"charset": "utf-8", "method": "PUBLISH"},
        )


def _list_id(club: str, sender: str) -> str:
    """RFC 2919: a list's label and the sender's domain; no name before it, so that nothing needs encoding."""
    label = slugify(club)[:60].strip("-") or "club"
    return f"<week-plans.{label}.{mailbox(sender).domain}>"
