"""The words and marks that the desk's pages share, beside those of `athletes/words.py`, and reasons as rows.

A mark is a name from `templates/components/mark.html`; the word always stands beside it. Text that may speak of health
goes through `reason_rows` or `reason_line`, which say "Health reason." to whoever may not read it.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes import words
from athletes.concerns import Topic
from athletes.models import FollowUp, Rider
from athletes.vocabulary import Pattern, Reason, Region, Side
from coaching.desk import figures
from coaching.desk.sources import source_of
from coaching.desk.ways import way_of
from programs import wording
from programs.engine.facts import Change, Phase
from programs.engine.quantities import Unit
from programs.models import Exercise, WeekPlan

State = WeekPlan.State

#: The mark of each topic; its words are in `athletes/words.py`.
_TOPIC_MARKS = {
    Topic.PAIN: "pain",
    Topic.SYMPTOM: "stop",
    Topic.ILLNESS: "clinician",
    Topic.CRASH: "stop",
    Topic.NUMBNESS: "clinician",
    Topic.SCREENING: "clinician",
    Topic.MISSED: "missed",
    Topic.SILENT: "silent",
    Topic.STALLED: "stall",
    Topic.BOUNCED: "bounced",
    Topic.LOAD_STEP: "up",
    Topic.LEFT_OUT: "look",
}

#: State of a plan: its mark and its word.
STATES: dict[str, tuple[str, Any]] = {
    State.DRAFT: ("draft", gettext_lazy("to be looked at")),
    State.APPROVED: ("approved", gettext_lazy("approved")),
    State.SENT: ("sent", gettext_lazy("sent")),
    State.HELD: ("paused", gettext_lazy("held")),
    State.WITHDRAWN: ("closed", gettext_lazy("withdrawn")),
    State.SUPERSEDED: ("closed", gettext_lazy("replaced")),
}

#: Change of a target: its mark and its word.
CHANGES: dict[str, tuple[str, Any]] = {
    Change.NEW: ("new", gettext_lazy("new")),
    Change.SAME: ("same", gettext_lazy("as last time")),
    Change.MORE_REPS: ("up", gettext_lazy("more reps")),
    Change.MORE_TIME: ("up", gettext_lazy("longer")),
    Change.MORE_LOAD: ("up", gettext_lazy("more load")),
    Change.MORE_SETS: ("up", gettext_lazy("more sets")),
    Change.SLOWER: ("up", gettext_lazy("slower")),
    Change.BRIDGE: ("up", gettext_lazy("a set at the next load")),
    Change.HARDER: ("up", gettext_lazy("a level up")),
    Change.EASIER: ("down", gettext_lazy("a level down")),
    Change.LESS_LOAD: ("down", gettext_lazy("less load")),
    Change.FEWER_REPS: ("down", gettext_lazy("fewer reps")),
    Change.FEWER_SETS: ("down", gettext_lazy("fewer sets")),
}

PHASES: dict[str, Any] = {
    Phase.LEARN: gettext_lazy("learn"),
    Phase.BUILD: gettext_lazy("build"),
    Phase.MAINTAIN: gettext_lazy("maintain"),
    Phase.TAPER: gettext_lazy("taper"),
    Phase.RACE_WEEK: gettext_lazy("race week"),
    Phase.REST: gettext_lazy("rest"),
    Phase.RETURN: gettext_lazy("return"),
}


def capital(text: object) -> str:
    """The words with a capital at their beginning."""
    said = str(text)
    return said[:1].upper() + said[1:]


def pattern_words(pattern: str) -> str:
    """A movement pattern as a heading: ``Single leg``."""
    return capital(words.label(Pattern(pattern)))


def site_words(region: str, side: str) -> str:
    """A stored site as read: ``knee (left)``; nothing for no region."""
    return words.site_words(Region(region), Side(side or Side.BOTH.value)) if region else ""


def matter_words(follow_up: FollowUp, *, may_see_health: bool) -> tuple[str, str]:
    """Mark and words of what a follow-up is about: ``Pain, knee (left)``; ``Health reason`` where that is all."""
    if follow_up.is_health and not may_see_health:
        return "private", capital(words.HEALTH_REASON)
    topic = Topic(follow_up.topic)
    word, site = capital(words.label(topic)), site_words(follow_up.region, follow_up.side)
    return _TOPIC_MARKS[topic], _("{topic}, {site}").format(topic=word, site=site) if site else word


def moment_words(at: datetime, zone: str) -> str:
    """A moment in the club's zone: ``Sunday 29 November, 17:00``."""
    local = at.astimezone(ZoneInfo(zone))
    return f"{wording.day_words(local.date())}, {wording.time_words(local.time())}"


def short_moment_words(at: datetime, zone: str) -> str:
    """The same in short: ``Sun 29, 17:00``."""
    local = at.astimezone(ZoneInfo(zone))
    return f"{wording.short_day_words(local.date())}, {wording.time_words(local.time())}"


def unit_of(rider: Rider) -> Unit:
    """The unit in which the rider reads masses."""
    return "lb" if rider.unit == Rider.Unit.LB else "kg"


def exercise_names() -> dict[str, str]:
    """The name of every exercise by its slug. One query."""
    return dict(Exercise.objects.values_list("slug", "name"))


def plain_kg(kg: Decimal) -> str:
    """Kilograms as text without idle zeros."""
    return format(kg.normalize(), "f")


# --- reasons ----------------------------------------------------------------------------------------------------------


def reason_line(
    reasons: Sequence[Reason], *, may_see_health: bool, names: Mapping[str, str], unit: Unit = "kg"
) -> str:
    """The first reason in one sentence, or nothing."""
    if not reasons:
        return ""
    return wording.guarded_sentence(reasons[0], may_see_health=may_see_health, names=names, unit=unit)


def reason_rows(
    reasons: Iterable[Reason], *, may_see_health: bool, names: Mapping[str, str], unit: Unit = "kg"
) -> list[dict[str, Any]]:
    """Reasons as `components/reasons.html` shows them: sentence, rule, figures and source; and where a page of the
    rider puts right what is lacking, the name of its address and what a link to it says.

    Whoever may not read health detail gets one row that says no more than that there is a health reason.
    """
    rows: list[dict[str, Any]] = []
    is_hidden = False
    for reason in reasons:
        if wording.is_health(reason) and not may_see_health:
            is_hidden = True
            continue
        rows.append(
            {
                "sentence": wording.sentence(reason, names=names, unit=unit),
                "rule": reason.rule,
                "key": reason.key,
                "figures": [
                    {"name": figures.name_of(name), "value": figures.value_of(name, value, names)}
                    for name, value in reason.figures.items()
                ],
                "source": source_of(reason.rule),
                "is_health": wording.is_health(reason),
                **way_of(reason.key),
            }
        )
    if is_hidden:
        rows.append({"sentence": _("Health reason."), "rule": "", "figures": [], "source": ""})
    return rows
