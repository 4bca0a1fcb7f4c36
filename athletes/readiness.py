"""Whether a rider may be given anything at all: consent first, then screening and clearance (rules T0, S1).

Pure. Nothing goes out until health data may be held and the screening asks for nothing that is not recorded.

T0  No health data before recorded consent; under 18 it must be a guardian's, and from 18 on the rider's own.
S1  Screening is answered, at most a year old, and has not been ended by a crash or surgery; any clearance it asks for
    is recorded with who and when, and is new enough; limits it asks for are in force. Neither replaces the other.

>>> why_not(Standing(consented=False, under_18=False), date(2026, 3, 2)).key
'no-consent'
"""

from dataclasses import dataclass
from datetime import date

from athletes.vocabulary import Reason

REASONS = {
    "no-consent": "No consent for health data is recorded yet, so nothing is planned.",
    "no-guardian-consent": "Under 18: a guardian's consent is not recorded yet, so nothing is planned.",
    "no-own-consent": "Now 18: the rider's own consent is not recorded yet, only a guardian's, so nothing is planned.",
    "consent-withdrawn": "Consent for health data was withdrawn on {on}, so nothing more is planned.",
    "not-screened": "The health screening is not answered yet, so nothing is planned.",
    "screening-over": "The health screening ran out on {until}; it is repeated each year.",
    "screening-ended": "A crash or surgery on {on} ended the health screening; it is answered again.",
    "clearance-needed": "The screening asks for clearance by a clinician; it is not recorded yet.",
    "limits-needed": "The screening asks for a named clinician's limits; none are recorded yet.",
}

#: What a screening may ask for that blocks a plan until a coach records it.
NEEDS_CLEARANCE = frozenset({"clearance", "stop-and-clearance"})
NEEDS_LIMITS = "clinician-limits"


@dataclass(frozen=True, slots=True)
class Standing:
    """What is on record for one rider. `needs` to `clearance_from` are of the newest screening, if any.

    `by_guardian`: whether a standing consent is a guardian's. `has_limits`: whether a clinician's limit is in force.
    `ended_on`: the newest crash or surgery, which ends an earlier screening. Dates are the rider's own.
    """

    consented: bool
    under_18: bool
    by_guardian: bool = False
    needs: str | None = None
    valid_until: date | None = None
    cleared_on: date | None = None
    has_limits: bool = False
    answered_on: date | None = None
    limits_needed: bool = False
    clearance_from: date | None = None
    ended_on: date | None = None


def why_not(standing: Standing, on: date) -> Reason | None:
    """The first thing missing before a plan may be made on the day `on`, or None when nothing is."""
    if not standing.consented:
        return Reason("T0", "no-consent")
    if standing.under_18 and not standing.by_guardian:
        return Reason("T0", "no-guardian-consent")
    if standing.by_guardian and not standing.under_18:
        return Reason("T0", "no-own-consent")
    if standing.needs is None or standing.valid_until is None:
        return Reason("S1", "not-screened")
    if standing.valid_until < on:
        return Reason("S1", "screening-over", {"until": standing.valid_until.isoformat()})
    if standing.ended_on and standing.answered_on and standing.ended_on > standing.answered_on:
        return Reason("S1", "screening-ended", {"on": standing.ended_on.isoformat()})
    if standing.needs in NEEDS_CLEARANCE and not _is_cleared(standing, on):
        return Reason("S1", "clearance-needed")
    if (standing.limits_needed or standing.needs == NEEDS_LIMITS) and not standing.has_limits:
        return Reason("S1", "limits-needed")
    return None


def _is_cleared(standing: Standing, on: date) -> bool:
    """Whether the clearance on record counts: not of the future, and not older than the screening allows."""
    cleared_on, since = standing.cleared_on, standing.clearance_from
    return cleared_on is not None and cleared_on <= on and (since is None or since <= cleared_on)
