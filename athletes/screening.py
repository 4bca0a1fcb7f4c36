"""What a rider's health answers ask for before any training (rule S1). Pure: answers in, a decision out.

S1  Adults: three answers decide, as in the ACSM algorithm (active or not; known cardiovascular, metabolic or renal
    disease; signs or symptoms of it) with the intended intensity. S: Riebe 2015; the three inputs are published as
    such, the outcome of each row is from memory. An answer that was not given is read as the one that asks for more
    (H3).

    | row | active | disease | symptoms | light to moderate  | vigorous                       |
    |-----|--------|---------|----------|--------------------|--------------------------------|
    | 1   | no     | no      | no       | nothing            | a light start                  |
    | 2   | no     | yes     | no       | clearance          | clearance                      |
    | 3   | no     | no      | yes      | clearance          | clearance                      |
    | 4   | no     | yes     | yes      | clearance          | clearance                      |
    | 5   | yes    | no      | no       | nothing            | nothing                        |
    | 6   | yes    | yes     | no       | nothing            | clearance within 12 months     |
    | 7   | yes    | no      | yes      | stop and clearance | stop and clearance             |
    | 8   | yes    | yes     | yes      | stop and clearance | stop and clearance             |

    Pregnancy, the year after a birth, pelvic symptoms, a fragility fracture, uncontrolled blood pressure, or limits a
    clinician has already set: a named clinician's limits are recorded and obeyed, never guessed (ours). They are asked
    for beside any clearance, and neither replaces the other.
    Under 18: a guardian answers our own questions. Symptoms in sport ask for a stop and clearance, limits set by a
    clinician for those, anything else for clearance; not answered is read as yes (ours).
    Answers hold for a year, and end with a crash or surgery (ours). For row 6 a clearance of the 12 months before the
    answers counts; any other must not be older than the answers.

>>> screen_adult(AdultAnswers(active=True, disease=False, symptoms=True), on=date(2026, 3, 2)).needs
<Needs.STOP: 'stop-and-clearance'>
"""

from collections.abc import Iterable
from dataclasses import fields
from datetime import date, timedelta
from enum import StrEnum

from athletes.values import value_class
from athletes.vocabulary import Reason


class Intensity(StrEnum):
    """How hard the rider means to train."""

    LIGHT_TO_MODERATE = "light-to-moderate"
    VIGOROUS = "vigorous"


class Needs(StrEnum):
    """What must be recorded before anything is planned, mildest first."""

    NOTHING = "none"
    LIGHT_ONLY = "light-only"
    LIMITS = "clinician-limits"
    CLEARANCE = "clearance"
    STOP = "stop-and-clearance"


_ORDER = tuple(Needs)


class GuardianNeeded(ValueError):
    """The answers are about an under-18, and no guardian gave them."""


@value_class(kw_only=True)
class AdultAnswers:
    """An adult's answers; `None` is not answered. The first four are the published algorithm's inputs."""

    active: bool | None = None
    disease: bool | None = None
    symptoms: bool | None = None
    intensity: Intensity | None = None
    pregnant: bool | None = None
    birth_in_last_year: bool | None = None
    pelvic_symptoms: bool | None = None
    fragility_fracture: bool | None = None
    uncontrolled_blood_pressure: bool | None = None
    limits_set: bool | None = None


@value_class(kw_only=True)
class YoungAnswers:
    """A guardian's answers about an under-18; `None` is not answered."""

    symptoms_in_sport: bool | None = None
    heart_condition: bool | None = None
    sudden_death_in_family: bool | None = None
    told_not_to_train: bool | None = None
    long_term_condition: bool | None = None
    head_injury_in_last_three_months: bool | None = None
    injury_or_operation_in_last_year: bool | None = None
    pain_at_night_or_limping: bool | None = None
    limits_set: bool | None = None


@value_class
class ScreeningDecision:
    """What the answers ask for. `needs` is the strictest; `limits_needed` says that a named clinician's limits must be
    recorded as well. A clearance counts from `clearance_from` on; all ends after `valid_until`."""

    needs: Needs
    reasons: tuple[Reason, ...]
    valid_until: date
    limits_needed: bool = False
    clearance_from: date | None = None


LIMITING = (
    "pregnant",
    "birth_in_last_year",
    "pelvic_symptoms",
    "fragility_fracture",
    "uncontrolled_blood_pressure",
    "limits_set",
)

#: What a guardian's yes, or no answer at all, asks for; clearance where nothing stands here.
YOUNG_NEEDS = {"symptoms_in_sport": Needs.STOP, "limits_set": Needs.LIMITS}

ASKED_OF_ADULTS = ("active", "disease", "symptoms", "intensity", *LIMITING)

REASONS: dict[str, str] = {
    "screening-clear": "Nothing in the answers asks for clearance.",
    "screening-light-start": "Not active so far: start light to moderate and build up to hard work gradually.",
    "screening-disease": "Known heart, metabolic or kidney disease and not active so far: clearance first.",
    "screening-disease-vigorous": "Known heart, metabolic or kidney disease and hard work intended: clearance in the "
    "last {months} months.",
    "screening-symptoms": "Signs or symptoms of heart, metabolic or kidney disease: clearance first.",
    "screening-symptoms-stop": "Signs or symptoms of heart, metabolic or kidney disease: stop, and clearance first.",
    "screening-not-answered": "Not answered, so read as the answer that asks for more: {question}.",
    "screening-pregnant": "Pregnant: a named clinician's limits are recorded first.",
    "screening-birth-in-last-year": "Gave birth in the last year: a named clinician's limits are recorded first.",
    "screening-pelvic-symptoms": "Pelvic symptoms: a named clinician's limits are recorded first.",
    "screening-fragility-fracture": "A bone broken by a slight fall: a named clinician's limits are recorded first.",
    "screening-uncontrolled-blood-pressure": "Blood pressure not under control: a named clinician's limits are "
    "recorded first.",
    "screening-limits-set": "A clinician has set limits: they are recorded first.",
    "screening-young-symptoms-in-sport": "Chest pain, fainting or unusual breathlessness in sport: stop, and "
    "clearance first.",
    "screening-young-heart-condition": "A heart condition: clearance first.",
    "screening-young-sudden-death-in-family": "A sudden death in the family at a young age: clearance first.",
    "screening-young-told-not-to-train": "Told by a clinician not to train: clearance first.",
    "screening-young-long-term-condition": "A long-term condition: clearance first.",
    "screening-young-head-injury-in-last-three-months": "A head injury in the last three months: clearance first.",
    "screening-young-injury-or-operation-in-last-year": "An injury or operation in the last year: clearance first.",
    "screening-young-pain-at-night-or-limping": "Pain at night or a limp: clearance first.",
    "screening-ended-by": "Ended by {event} on {on}: the screening is answered again.",
    "screening-out-of-date": "The answers held until {until}: the screening is answered again.",
    "screening-no-clearance": "No clearance since {since} is recorded.",
    "screening-no-limits": "No named clinician's limits are recorded.",
}

CLEARANCE_MONTHS = 12


def year_on(on: date, years: int = 1) -> date:
    """The same day so many years on; 29 February becomes the 28th."""
    try:
        return on.replace(year=on.year + years)
    except ValueError:
        return on.replace(year=on.year + years, day=28)


def screen_adult(answers: AdultAnswers, *, on: date) -> ScreeningDecision:
    """What an adult's answers of `on` ask for."""
    reasons = [_unanswered(name) for name in ASKED_OF_ADULTS if getattr(answers, name) is None]
    needs, key = _row(answers)
    reasons.append(
        Reason("S1", key, {"months": CLEARANCE_MONTHS} if key == "screening-disease-vigorous" else {})
    )
    # only a "no" frees from the limits: not answered asks for more (H3)
    limiting = [name for name in LIMITING if getattr(answers, name) is not False]
    reasons.extend(
        Reason("S1", f"screening-{name.replace('_', '-')}")
        for name in limiting
        if getattr(answers, name) is True
    )
    if limiting:
        needs = max(needs, Needs.LIMITS, key=_ORDER.index)
    in_last_year = key == "screening-disease-vigorous"
    return ScreeningDecision(
        needs=needs,
        reasons=tuple(reasons),
        valid_until=_valid_until(on),
        limits_needed=bool(limiting),
        clearance_from=_clearance_from(needs, on, in_last_year=in_last_year),
    )


def _row(answers: AdultAnswers) -> tuple[Needs, str]:
    """The row of the published table, each missing answer read as the one that asks for more."""
    has_disease, has_symptoms = answers.disease is not False, answers.symptoms is not False
    is_vigorous = answers.intensity is not Intensity.LIGHT_TO_MODERATE
    if has_symptoms:
        # an unknown activity asks for the stop as well: it is the stricter of the two rows
        if answers.active is False:
            return Needs.CLEARANCE, "screening-symptoms"
        return Needs.STOP, "screening-symptoms-stop"
    if has_disease:
        if answers.active is not True:
            return Needs.CLEARANCE, "screening-disease"
        if is_vigorous:
            return Needs.CLEARANCE, "screening-disease-vigorous"
        return Needs.NOTHING, "screening-clear"
    if answers.active is not True and is_vigorous:
        return Needs.LIGHT_ONLY, "screening-light-start"
    return Needs.NOTHING, "screening-clear"


def screen_young(answers: YoungAnswers, *, by_guardian: bool, on: date) -> ScreeningDecision:
    """What a guardian's answers of `on` about an under-18 ask for. Raises `GuardianNeeded`."""
    if not by_guardian:
        raise GuardianNeeded("a guardian answers the health screening of an under-18")
    needs, limits_needed, reasons = Needs.NOTHING, False, []
    for one in fields(answers):
        answer = getattr(answers, one.name)
        if answer is False:
            continue
        asks = YOUNG_NEEDS.get(one.name, Needs.CLEARANCE)
        if answer is None:
            reasons.append(_unanswered(one.name))
        elif one.name == "limits_set":
            reasons.append(Reason("S1", "screening-limits-set"))
        else:
            reasons.append(Reason("S1", f"screening-young-{one.name.replace('_', '-')}"))
        limits_needed = limits_needed or one.name == "limits_set"
        needs = max(needs, asks, key=_ORDER.index)
    return ScreeningDecision(
        needs=needs,
        reasons=tuple(reasons) or (Reason("S1", "screening-clear"),),
        valid_until=_valid_until(on),
        limits_needed=limits_needed,
        clearance_from=_clearance_from(needs, on, in_last_year=False),
    )


def _unanswered(name: str) -> Reason:
    return Reason("S1", "screening-not-answered", {"question": name.replace("_", " ")})


def _valid_until(on: date) -> date:
    return year_on(on) - timedelta(days=1)


def _clearance_from(needs: Needs, on: date, *, in_last_year: bool) -> date | None:
    if needs not in (Needs.CLEARANCE, Needs.STOP):
        return None
    return year_on(on, -1) if in_last_year else on


def missing(
    decision: ScreeningDecision,
    *,
    answered_on: date,
    on: date,
    cleared_on: date | None = None,
    limits_recorded: bool = False,
    crashes: Iterable[date] = (),
    operations: Iterable[date] = (),
) -> tuple[Reason, ...]:
    """What still keeps the rider from training on `on`; nothing when the screening is settled.

    A clearance or limits beyond `on` do not count yet. A crash or operation on the day of the answers came before them.
    """
    reasons = []
    if on > decision.valid_until:
        reasons.append(Reason("S1", "screening-out-of-date", {"until": decision.valid_until.isoformat()}))
    for event, days in (("crash", crashes), ("surgery", operations)):
        reasons.extend(
            Reason("S1", "screening-ended-by", {"event": event, "on": day.isoformat()})
            for day in sorted(days)
            if answered_on < day <= on
        )
    since = decision.clearance_from
    if since is not None and (cleared_on is None or not since <= cleared_on <= on):
        reasons.append(Reason("S1", "screening-no-clearance", {"since": since.isoformat()}))
    if decision.limits_needed and not limits_recorded:
        reasons.append(Reason("S1", "screening-no-limits"))
    return tuple(reasons)
