"""Telling soreness from pain, and what soreness allows (rule T3; the rules' prose is in `athletes/triage.py`). Pure.

Whatever is not clearly soreness is pain: each doubt, and each question that was not answered, is read that way.
"""

from athletes.concerns import BodyReport, Gate, ReportKind, SorenessTrait
from athletes.findings import Finding, peak_of
from athletes.vocabulary import Region, Side

HALF_SETS_FROM = 6
PAIN_FROM = 8
GONE_IN_HOURS = 72
COUNTS_FOR_DAYS = 7

#: What the rider must say for it to be soreness, and what makes it pain whatever else is said.
NEEDED = frozenset(
    {
        SorenessTrait.BOTH_SIDES,
        SorenessTrait.IN_THE_MUSCLE,
        SorenessTrait.AFTER_NEW_WORK,
        SorenessTrait.EASES_ON_MOVING,
    }
)
DOUBTS = frozenset({SorenessTrait.AT_NIGHT, SorenessTrait.UNSURE})
#: Regions that are joint and tendon rather than muscle.
JOINTS = frozenset(
    {Region.HEAD, Region.ELBOW, Region.WRIST_HAND, Region.KNEE, Region.ANKLE, Region.FOOT_HEEL}
)
#: Where soreness of an under-18 is always read as pain: heel, shin, hip and back.
YOUNG_PAIN = frozenset({Region.FOOT_HEEL, Region.SHIN, Region.HIP, Region.LOWER_BACK, Region.UPPER_BACK})

REASONS: dict[str, str] = {
    "sore-repeat": "{region} ({side}): muscle soreness of {score} out of 10 on {on}, so repeat and no rise.",
    "sore-high": "{region} ({side}): muscle soreness of {score} out of 10 on {on}, so half the sets.",
    "sore-long": "{region} ({side}): muscle soreness on {on} for more than {hours} h, so half the sets.",
    "sore-unknown": "{region} ({side}): muscle soreness on {on} without a score or a time, so half the sets.",
}


def classify(report: BodyReport, *, under_18: bool) -> ReportKind:
    """What a report is about as T3 reads it: soreness only if everything the rider said points there."""
    if report.kind is not ReportKind.SORENESS:
        return report.kind
    peak = peak_of(report)
    is_soreness = (
        report.side is Side.BOTH
        and report.traits >= NEEDED
        and not report.traits & DOUBTS
        and not report.signs
        and report.region not in JOINTS
        and not (under_18 and report.region in YOUNG_PAIN)
        and (peak is None or peak < PAIN_FROM)
    )
    return ReportKind.SORENESS if is_soreness else ReportKind.PAIN


def grade_soreness(report: BodyReport) -> Finding:
    """What one report of soreness allows (T3): a repeat, or half the sets when high, long or not fully answered."""
    peak, hours, on = peak_of(report), report.hours_since_work, report.on.isoformat()
    if peak is not None and peak >= HALF_SETS_FROM:
        return Finding(Gate.HALF_SETS, "T3", "sore-high", (("on", on), ("score", peak)))
    if hours is not None and hours > GONE_IN_HOURS:
        return Finding(Gate.HALF_SETS, "T3", "sore-long", (("hours", GONE_IN_HOURS), ("on", on)))
    if peak is None or hours is None:
        return Finding(Gate.HALF_SETS, "T3", "sore-unknown", (("on", on),))
    return Finding(Gate.HOLD, "T3", "sore-repeat", (("on", on), ("score", peak)))
