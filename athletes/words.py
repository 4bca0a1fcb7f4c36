"""The words that people read for regions, patterns, kit, days, reports and what follows from them.

>>> str(label(Region.WRIST_HAND))
'wrist or hand'

What a rider is asked, the scales, consent and the safety notices are in `athletes/questions.py`.
"""

from collections.abc import Mapping
from datetime import date
from enum import Enum
from typing import Any

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext, pgettext_lazy

from athletes.concerns import (
    Event,
    Gate,
    Outcome,
    ReportKind,
    Sign,
    SorenessTrait,
    Symptom,
    Topic,
    Urgency,
)
from athletes.screening import Intensity, Needs
from athletes.vocabulary import (
    Day,
    Furniture,
    Implement,
    Muscle,
    Pattern,
    RacePriority,
    Region,
    Role,
    Side,
)

#: Words are made late, in the language of whoever reads them.
type Words = str | Promise

REGIONS: dict[Region, Words] = {
    Region.HEAD: _("head"),
    Region.NECK: _("neck"),
    Region.SHOULDER: _("shoulder"),
    Region.ELBOW: _("elbow"),
    Region.WRIST_HAND: _("wrist or hand"),
    Region.CHEST: pgettext_lazy("body region", "chest"),
    Region.UPPER_BACK: pgettext_lazy("body region", "upper back"),
    Region.LOWER_BACK: pgettext_lazy("body region", "lower back"),
    Region.ABDOMEN: _("belly"),
    Region.HIP: _("hip"),
    Region.GROIN: _("groin"),
    Region.FRONT_THIGH: _("front of the thigh"),
    Region.BACK_THIGH: _("back of the thigh"),
    Region.KNEE: _("knee"),
    Region.SHIN: _("shin"),
    Region.CALF: pgettext_lazy("body region", "calf"),
    Region.ANKLE: _("ankle"),
    Region.FOOT_HEEL: _("foot or heel"),
}

SIDES: dict[Side, Words] = {
    Side.LEFT: _("left"),
    Side.RIGHT: _("right"),
    Side.BOTH: _("both sides, or the middle"),
}

PATTERNS: dict[Pattern, Words] = {
    Pattern.SQUAT: _("squat"),
    Pattern.HINGE: _("hinge"),
    Pattern.SINGLE_LEG: _("single leg"),
    Pattern.LATERAL: _("lateral"),
    Pattern.PUSH: _("push"),
    Pattern.PULL: _("pull"),
    Pattern.FRONT_TRUNK: _("front trunk"),
    Pattern.SIDE_TRUNK: _("side trunk"),
    Pattern.ROTATION: _("rotation"),
    Pattern.CARRY: _("carry"),
    Pattern.CALF: pgettext_lazy("movement pattern", "calf"),
    Pattern.HIP: pgettext_lazy("movement pattern", "hip"),
    Pattern.POWER: _("power"),
    Pattern.BALANCE: _("balance"),
    Pattern.MOBILITY: _("mobility"),
    Pattern.WARM_UP: _("warm-up"),
    Pattern.COOL_DOWN: _("cool-down"),
}

IMPLEMENTS: dict[Implement, Words] = {
    Implement.NONE: _("body weight"),
    Implement.KETTLEBELL: _("kettlebell"),
    Implement.DUMBBELL: _("dumbbell"),
    Implement.ADJUSTABLE_DUMBBELL: _("adjustable dumbbell"),
    Implement.BARBELL: _("barbell"),
    Implement.VEST: _("weighted vest"),
    Implement.BACKPACK: _("backpack"),
    Implement.BAND: _("band"),
}

FURNITURE: dict[Furniture, Words] = {
    Furniture.CHAIR: _("chair"),
    Furniture.BENCH: _("bench"),
    Furniture.STEP: _("step"),
    Furniture.TABLE: _("table"),
    Furniture.PULL_UP_BAR: _("pull-up bar"),
    Furniture.RACK_WITH_SAFETIES: _("rack with safety bars"),
    Furniture.STICK: _("stick"),
    Furniture.TOWEL: _("towel"),
}

MUSCLES: dict[Muscle, Words] = {
    Muscle.QUADRICEPS: _("front thigh muscles"),
    Muscle.HAMSTRINGS: _("back thigh muscles"),
    Muscle.GLUTES: _("buttock muscles"),
    Muscle.ADDUCTORS: _("inner thigh muscles"),
    Muscle.HIP_FLEXORS: _("hip flexors"),
    Muscle.CALVES: _("calf muscles"),
    Muscle.SHIN_MUSCLES: _("shin muscles"),
    Muscle.LOWER_BACK: pgettext_lazy("muscle group", "lower back"),
    Muscle.ABDOMINALS: _("front of the belly"),
    Muscle.OBLIQUES: _("sides of the belly"),
    Muscle.CHEST: pgettext_lazy("muscle group", "chest"),
    Muscle.UPPER_BACK: pgettext_lazy("muscle group", "upper back"),
    Muscle.SHOULDERS: _("shoulders"),
    Muscle.UPPER_ARMS: _("upper arms"),
    Muscle.FOREARMS: _("forearms"),
}

ROLES: dict[Role, Words] = {
    Role.OWNER: _("club owner"),
    Role.COACH: _("coach"),
    Role.ASSISTANT: _("assistant coach"),
    Role.WELFARE: _("welfare officer"),
}

DAYS: dict[Day, Words] = {
    Day.MONDAY: _("Monday"),
    Day.TUESDAY: _("Tuesday"),
    Day.WEDNESDAY: _("Wednesday"),
    Day.THURSDAY: _("Thursday"),
    Day.FRIDAY: _("Friday"),
    Day.SATURDAY: _("Saturday"),
    Day.SUNDAY: _("Sunday"),
}

RACE_PRIORITIES: dict[RacePriority, Words] = {
    RacePriority.PRIORITY: _("priority race"),
    RacePriority.OTHER: _("other race"),
    RacePriority.MINOR: _("minor race"),
}

REPORT_KINDS: dict[ReportKind, Words] = {
    ReportKind.PAIN: _("pain"),
    ReportKind.SORENESS: _("muscle soreness"),
    ReportKind.LONG_STANDING: _("my long-standing pain, as usual"),
}

SIGNS: dict[Sign, Words] = {
    Sign.POP: _("a pop or a snap"),
    Sign.SWELLING: _("swelling"),
    Sign.CANNOT_BEAR_WEIGHT: _("cannot put weight on it"),
}

SORENESS_TRAITS: dict[SorenessTrait, Words] = {
    SorenessTrait.BOTH_SIDES: _("about the same on both sides"),
    SorenessTrait.IN_THE_MUSCLE: _("in the muscle, not at a joint or tendon"),
    SorenessTrait.AFTER_NEW_WORK: _("came after new or harder work"),
    SorenessTrait.EASES_ON_MOVING: _("eases once I move"),
    SorenessTrait.AT_NIGHT: _("hurts at night"),
    SorenessTrait.UNSURE: _("I am not sure"),
}

SYMPTOMS: dict[Symptom, Words] = {
    Symptom.CHEST_PAIN: _("chest pain"),
    Symptom.PALPITATIONS: _("racing or irregular heartbeat"),
    Symptom.FAINTING: _("fainting"),
    Symptom.BREATHLESS_AT_REST: _("breathless at rest"),
    Symptom.FACE_OR_SPEECH: _("face, arm or speech changes"),
    Symptom.BLADDER_OR_BOWEL: _("lost bladder or bowel control"),
    Symptom.SADDLE_NUMBNESS_LASTING: _("lasting saddle numbness"),
    Symptom.BOTH_LEGS_WEAK: _("both legs weak"),
    Symptom.CALF_SWELLING: _("calf swelling"),
    Symptom.HEAD_INJURY: _("head injury"),
    Symptom.FEVER_WITH_BACK_PAIN: _("fever with back pain"),
    Symptom.DARK_URINE: _("dark urine with severe muscle pain"),
    Symptom.LIMPING_CHILD: _("a child who limps"),
}

EVENTS: dict[Event, Words] = {
    Event.ILLNESS: _("illness without fever or chest signs"),
    Event.FEVER_OR_CHEST: _("fever, or illness on the chest"),
    Event.CRASH: _("crash"),
    Event.SURGERY: _("surgery"),
    Event.NUMBNESS_ON_BIKE: _("numbness on the bike that clears quickly"),
}

OUTCOMES: dict[Outcome, Words] = {
    Outcome.CARRY_ON: _("carry on"),
    Outcome.EASE: _("ease"),
    Outcome.PAUSE: _("pause"),
    Outcome.REFERRED: _("referred to a clinician"),
    Outcome.CLEARED: _("cleared"),
    Outcome.RETURN: _("return in steps"),
}

GATES: dict[Gate, Words] = {
    Gate.FREE: _("carry on"),
    Gate.HOLD: _("repeat, no rise"),
    Gate.HALF_SETS: _("half the sets"),
    Gate.EASE: _("ease"),
    Gate.STOP: _("stop"),
}

URGENCIES: dict[Urgency, Words] = {
    Urgency.ROUTINE: _("within three days"),
    Urgency.SOON: _("by tomorrow"),
    Urgency.TODAY: _("today"),
    Urgency.NOW: _("now"),
}

TOPICS: dict[Topic, Words] = {
    Topic.PAIN: _("pain"),
    Topic.SYMPTOM: _("warning symptom"),
    Topic.ILLNESS: _("illness"),
    Topic.CRASH: _("crash"),
    Topic.NUMBNESS: _("numbness on the bike"),
    Topic.SCREENING: _("health screening"),
    Topic.MISSED: _("missed sessions"),
    Topic.SILENT: _("no check-in for a fortnight"),
    Topic.STALLED: _("stalled"),
    Topic.BOUNCED: _("mail comes back"),
    Topic.LOAD_STEP: _("large load step"),
    Topic.LEFT_OUT: _("left out of the plan"),
}

#: What a role without access to health detail reads instead of such a topic.
HEALTH_REASON: Words = _("health reason")

INTENSITIES: dict[Intensity, Words] = {
    Intensity.LIGHT_TO_MODERATE: _("light to moderate: I can talk throughout"),
    Intensity.VIGOROUS: _("hard: I can say a few words at a time"),
}

NEEDS: dict[Needs, Words] = {
    Needs.NOTHING: _("nothing more is needed"),
    Needs.LIGHT_ONLY: _("a light start"),
    Needs.LIMITS: _("a named clinician's limits"),
    Needs.CLEARANCE: _("a clinician's clearance"),
    Needs.STOP: _("stop, and a clinician's clearance"),
}

_ALL: tuple[Mapping[Any, Words], ...] = (
    REGIONS,
    SIDES,
    PATTERNS,
    IMPLEMENTS,
    FURNITURE,
    MUSCLES,
    ROLES,
    DAYS,
    RACE_PRIORITIES,
    REPORT_KINDS,
    SIGNS,
    SORENESS_TRAITS,
    SYMPTOMS,
    EVENTS,
    OUTCOMES,
    GATES,
    URGENCIES,
    TOPICS,
    INTENSITIES,
    NEEDS,
)
#: By type, since members of different types may be equal ("calf" is a region and a pattern).
WORDS: dict[type[Enum], Mapping[Any, Words]] = {type(next(iter(words))): words for words in _ALL}


def label(member: Enum) -> Words:
    """The words for a member of a vocabulary, in the reader's language. Raises `KeyError` for a type without words."""
    return WORDS[type(member)][member]


def date_words(on: date) -> str:
    """The date in full, such as ``3 November 2026``. Languages that write the first of a month another way may."""
    first = pgettext("date format of the first day of a month", "j F Y")
    return date_format(on, first if on.day == 1 else pgettext("date format", "j F Y"))


def site_words(region: Region, side: Side) -> str:
    """A site as read: ``knee (left)``, or ``knee`` alone for both sides or the middle."""
    if side is Side.BOTH:
        return str(label(region))
    return str(_("{region} ({side})")).format(region=label(region), side=label(side))
