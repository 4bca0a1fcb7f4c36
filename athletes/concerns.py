"""What a rider reports about their body, and what follows: values only, shared by triage and the engine.

Pure: no Django, no clock. Dates are local to the rider.
"""

from datetime import date
from enum import IntEnum, StrEnum

from athletes.values import value_class
from athletes.vocabulary import Reason, Region, Side


class ReportKind(StrEnum):
    """What a body report is about. `PAIN` is the cautious reading whenever it is not clearly soreness (T3)."""

    PAIN = "pain"
    SORENESS = "soreness"
    LONG_STANDING = "long-standing"


class Sign(StrEnum):
    """A sign beside the score that stops everything until a coach has looked (T1)."""

    POP = "pop"
    SWELLING = "swelling"
    CANNOT_BEAR_WEIGHT = "cannot-bear-weight"


class SorenessTrait(StrEnum):
    """What the rider says about soreness (T3)."""

    BOTH_SIDES = "both-sides"
    IN_THE_MUSCLE = "in-the-muscle"
    AFTER_NEW_WORK = "after-new-work"
    EASES_ON_MOVING = "eases-on-moving"
    AT_NIGHT = "at-night"
    UNSURE = "unsure"


class Symptom(StrEnum):
    """A warning symptom (T4): everything stops, medical help now, clearance before anything is planned."""

    CHEST_PAIN = "chest-pain"
    PALPITATIONS = "palpitations"
    FAINTING = "fainting"
    BREATHLESS_AT_REST = "breathless-at-rest"
    FACE_OR_SPEECH = "face-or-speech"
    BLADDER_OR_BOWEL = "bladder-or-bowel"
    SADDLE_NUMBNESS_LASTING = "saddle-numbness-lasting"
    BOTH_LEGS_WEAK = "both-legs-weak"
    CALF_SWELLING = "calf-swelling"
    HEAD_INJURY = "head-injury"
    FEVER_WITH_BACK_PAIN = "fever-with-back-pain"
    DARK_URINE = "dark-urine"
    LIMPING_CHILD = "limping-child"


class Event(StrEnum):
    """Something that eases the week without being pain at a site."""

    ILLNESS = "illness"
    FEVER_OR_CHEST = "fever-or-chest"
    CRASH = "crash"
    SURGERY = "surgery"
    NUMBNESS_ON_BIKE = "numbness-on-bike"


@value_class
class BodyReport:
    """One report about one site on one day. Scores are 0 to 10; `None` is not answered, never zero (H3).

    `during` is the pain during or right after training, `next_morning` the morning after it. Two reports of one site
    and day count as one, the higher scores standing.
    """

    on: date
    region: Region
    side: Side = Side.BOTH
    during: int | None = None
    next_morning: int | None = None
    kind: ReportKind = ReportKind.PAIN
    signs: frozenset[Sign] = frozenset()
    traits: frozenset[SorenessTrait] = frozenset()
    hours_since_work: int | None = None


@value_class
class SymptomReport:
    """A warning symptom or event, with the day it was reported and, once recorded, the day it was cleared or over."""

    on: date
    symptom: Symptom | None = None
    event: Event | None = None
    cleared_on: date | None = None


class Outcome(StrEnum):
    """What a coach recorded when a pain matter was looked at (T2, T5)."""

    CARRY_ON = "carry-on"
    EASE = "ease"
    PAUSE = "pause"
    REFERRED = "referred"
    CLEARED = "cleared"
    RETURN = "return"


@value_class
class Matter:
    """A pain matter in the coach's hands: open until `closed_on`; `outcome` says how the rider comes back."""

    region: Region
    side: Side
    opened_on: date
    closed_on: date | None = None
    outcome: Outcome | None = None


@value_class
class Baseline:
    """A long-standing pain that a clinician has seen: scores up to `limit` (at most 5) are this rider's usual (T2)."""

    region: Region
    side: Side
    limit: int
    review_on: date


class Gate(IntEnum):
    """What a pain state allows an exercise that loads the site, mildest first; the larger wins (T1 to T5)."""

    FREE = 0  # carry on and progress
    HOLD = 1  # repeat, no rise of any kind
    HALF_SETS = 2  # half the sets, no rise (soreness)
    EASE = 3  # a level down, or a load at least 20 % lower, or half the reps
    STOP = 4  # this exercise is left out


@value_class
class SiteGate:
    """The gate on one site, and why."""

    region: Region
    side: Side
    gate: Gate
    reasons: tuple[Reason, ...]


@value_class
class SiteReturn:
    """A site coming back after a stop (T5), in steps counted from `since`."""

    region: Region
    side: Side
    since: date
    reasons: tuple[Reason, ...] = ()


class Urgency(IntEnum):
    """How soon a coach must look: decides the due time of a follow-up."""

    ROUTINE = 0  # by the end of the third day
    SOON = 1  # by the end of the next day
    TODAY = 2  # the same day
    NOW = 3  # at once, with its own mail


class Topic(StrEnum):
    """What a follow-up is about. One open follow-up a rider, topic and site."""

    PAIN = "pain"
    SYMPTOM = "symptom"
    ILLNESS = "illness"
    CRASH = "crash"
    NUMBNESS = "numbness"
    SCREENING = "screening"
    MISSED = "missed"
    SILENT = "silent"
    STALLED = "stalled"
    BOUNCED = "bounced"
    LOAD_STEP = "load-step"
    LEFT_OUT = "left-out"


#: Topics that nothing but a person may close.
NEVER_CLOSE_THEMSELVES = frozenset({Topic.PAIN, Topic.SYMPTOM, Topic.ILLNESS, Topic.CRASH, Topic.NUMBNESS})
#: Topics that only those with access to health detail may read; others see "health reason".
HEALTH_TOPICS = frozenset(
    {Topic.PAIN, Topic.SYMPTOM, Topic.ILLNESS, Topic.CRASH, Topic.NUMBNESS, Topic.SCREENING}
)


@value_class
class Concern:
    """Something a coach must look at: opened as a follow-up by whoever asked."""

    topic: Topic
    urgency: Urgency
    reasons: tuple[Reason, ...]
    region: Region | None = None
    side: Side | None = None


@value_class
class BodyState:
    """What the reports mean on a day: site gates, whether everything stops, and what a coach must be told.

    `stops_everything` empties the plan (T1 8 or more, T4, illness with fever). `halves_everything` halves the sets of
    what remains (P10, fever or chest). `rises_barred` bars every rise whatever the exercise. `returns` are sites that
    come back in steps after a stop (T5).
    """

    gates: tuple[SiteGate, ...] = ()
    stops_everything: bool = False
    halves_everything: bool = False
    rises_barred: bool = False
    reasons: tuple[Reason, ...] = ()
    concerns: tuple[Concern, ...] = ()
    returns: tuple[SiteReturn, ...] = ()
