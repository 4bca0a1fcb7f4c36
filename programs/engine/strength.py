"""Where a rider starts, and what their age allows (rules S2 to S5, H1).

S2  The first six exposures of an exercise teach: 2 sets of 5 or 6 reps, 3 or more good reps left, at most +1 rep a
    time; holds from 20 to 30 s (practice). At most two new exercises a week (practice).
S3  Under 18: 6 to 15 reps, 1 to 3 sets, at most 3 non-consecutive days (S: NSCA 2009, the numbers from memory), no
    maximum tests or estimates, no body mass. A load step above 10 % needs a coach's yes, is at most 25 %, comes after
    three exposures at 15 with 3 left, and restarts at 2 x 6 (ours). In a growth spurt, as the coach entered it, and at
    13 to 15 also when nobody did: two days, an adult present, no heavier load (ours).
S4  From 50: rests of at least 120 s and one more exposure before each step (ours; S for the 2 min: NSCA 2019). From 65:
    balance work in each session (S: WHO 2020, NSCA 2019).
S5  The start level of each pattern comes from a short movement check (pass, not yet, hurts; no grades, no total): the
    highest level whose criteria are all passed. What was not asked is not passed (H3). Of exercises at one level the
    rider's kit decides, then which of them leads further up (ours).
H1  A new exercise or implement starts at 2 x floor with 4 good reps left, for two exposures. No load is carried over.
P2  The first load on a body-weight exercise: at most 8 kg lower body, 4 kg upper body, all implements together (ours).
    An exercise that needs a load begins, from 16 on, with the heaviest up to those masses that is to be had, for
    somebody younger with the lightest; where all there is weighs more, with the lightest, up to 16 kg for the lower and
    12 kg for the upper body where the exercise suits beginners, at 16 and 17 always up to 12 and 8 kg, younger up to 8
    and 4 kg (ours). With nothing as light as that it is not begun: something easier stands in for it (K6). What an
    adult has earned by the levels below and does not suit beginners begins with the lightest there is; and no cap holds
    for what was done with the implement before, where P10 has one of its own.

An age that a birth year leaves open is read on the careful side: the youngest possible for the young, the oldest for
the old.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from athletes.values import value_class
from athletes.vocabulary import Figure, Pattern, Reason
from programs.engine.facts import (
    CheckResult,
    Exercise,
    Growth,
    Holding,
    Kit,
    Library,
    Load,
    Loading,
    Measure,
    Rider,
    Slot,
    Target,
)
from programs.engine.families import bottom, easier, family, harder
from programs.engine.kit import holdings_for, reachable_loads, total_kg

TEACHING_EXPOSURES = 6
NEW_EXERCISES_A_WEEK = 2
START_SETS = 2
NEW_REPS_LEFT = 4
NEW_EXPOSURES = 2
TEACHING_REPS_LEFT = 3
HOLD_START_S = 20
HOLD_START_MOST_S = 30
FIRST_LOAD_LOWER_KG = Decimal(8)
FIRST_LOAD_UPPER_KG = Decimal(4)
#: The most that an exercise that needs a load may begin with (lower body, upper body): adults, at 16 and 17, younger.
BEGIN_KG = (Decimal(16), Decimal(12))
BEGIN_KG_FROM_16 = (Decimal(12), Decimal(8))
BEGIN_KG_YOUNGER = (FIRST_LOAD_LOWER_KG, FIRST_LOAD_UPPER_KG)

#: Reps at which an adult's and a young rider's load step restarts (P2, S3).
ADULT_FLOOR, YOUNG_FLOOR = 5, 6
#: What an under-18 must show before a load step above 10 % (S3): exposures in a row, reps, good reps left.
YOUNG_STEP_EXPOSURES, YOUNG_STEP_REPS, YOUNG_STEP_REPS_LEFT = 3, 15, 3
GROWTH_AGES = range(13, 16)

REASONS: dict[str, str] = {
    "under-18": "Under 18: {low} to {high} reps, at most {sets} sets, at most {days} days a week.",
    "growth-spurt": "Growth spurt: {days} days a week with an adult present, and no heavier load.",
    "growth-not-entered": "Aged 13 to 15 with no growth entered, so counted as a growth spurt: {days} days a week "
    "with an adult present, and no heavier load.",
    "from-50": "From 50: rest at least {rest_s} s, and {exposures} more session before each step.",
    "from-65": "From 65: balance work in each session.",
    "check-passed": "Starts at {exercise}: the highest level of the movement check with every criterion passed.",
    "check-not-passed": "Starts at {exercise}, the bottom level: nothing in the movement check was passed.",
    "check-not-asked": "Starts at {exercise}, the bottom level: the movement check did not ask.",
    "check-hurts": "{exercise} hurt in the movement check, so nothing above it was counted.",
    "check-bottom-hurts": "{exercise}, the bottom level, hurt in the movement check, so a coach looks first.",
}


@value_class
class AgeLimits:
    """What a rider's age allows (S3, S4).

    `max_step_percent` is the largest load step, `None` for adults, where P2 alone decides; a step above
    `agreed_above_percent` needs the coach's recorded yes. `extra_exposures` are added to those P1 to P4 ask for.
    `begin_kg` is the most that an exercise that needs a load may begin with, lower and upper body (P2).
    """

    min_reps: int = ADULT_FLOOR
    max_reps: int = 20
    max_sets: int = 4
    max_days: int = 3
    min_rest_s: int = 0
    extra_exposures: int = 0
    may_estimate: bool = True
    may_raise_load: bool = True
    max_step_percent: Decimal | None = None
    agreed_above_percent: Decimal | None = None
    balance_each_session: bool = False
    adult_needed: bool = False
    under_18: bool = False
    from_50: bool = False
    from_65: bool = False
    begin_kg: tuple[Decimal, Decimal] = BEGIN_KG


def age_limits(rider: Rider) -> AgeLimits:
    """The limits that hold for a rider, on the careful side of an age that is not exactly known (S3, S4)."""
    from_50, from_65 = rider.oldest_age >= 50, rider.oldest_age >= 65
    rest, extra = (120, 1) if from_50 else (0, 0)
    if rider.youngest_age >= 18:
        return AgeLimits(
            min_rest_s=rest,
            extra_exposures=extra,
            balance_each_session=from_65,
            from_50=from_50,
            from_65=from_65,
        )
    growing = in_growth_spurt(rider)
    return AgeLimits(
        min_reps=YOUNG_FLOOR,
        max_reps=15,
        max_sets=3,
        max_days=2 if growing else 3,
        min_rest_s=rest,
        extra_exposures=extra,
        may_estimate=False,
        may_raise_load=not growing,
        max_step_percent=Decimal(25),
        agreed_above_percent=Decimal(10),
        balance_each_session=from_65,
        adult_needed=growing,
        under_18=True,
        from_50=from_50,
        from_65=from_65,
        begin_kg=BEGIN_KG_FROM_16 if rider.youngest_age >= 16 else BEGIN_KG_YOUNGER,
    )


def in_growth_spurt(rider: Rider) -> bool:
    """Whether the rules for a growth spurt hold: under 18, and entered so or possibly 13 to 15 and not entered (S3)."""
    if rider.youngest_age >= 18 or rider.growth is Growth.NO:
        return False
    return rider.growth is Growth.YES or _may_be_13_to_15(rider)


def _may_be_13_to_15(rider: Rider) -> bool:
    return any(age in GROWTH_AGES for age in range(rider.youngest_age, rider.oldest_age + 1))


def age_reasons(rider: Rider) -> tuple[Reason, ...]:
    """The rules of age that hold for the rider, as reasons for the week (S3, S4)."""
    limits = age_limits(rider)
    reasons: list[Reason] = []
    if limits.under_18:
        figures: dict[str, Figure] = {
            "low": limits.min_reps,
            "high": limits.max_reps,
            "sets": limits.max_sets,
        }
        reasons.append(Reason("S3", "under-18", {**figures, "days": limits.max_days}))
    if limits.adult_needed:
        key = "growth-spurt" if rider.growth is Growth.YES else "growth-not-entered"
        reasons.append(Reason("S3", key, {"days": limits.max_days}))
    if limits.from_50:
        figures = {"rest_s": limits.min_rest_s, "exposures": limits.extra_exposures}
        reasons.append(Reason("S4", "from-50", figures))
    if limits.from_65:
        reasons.append(Reason("S4", "from-65"))
    return tuple(reasons)


def is_teaching(exposure_count: int) -> bool:
    """Whether an exercise with so many exposures behind it is still being taught (S2)."""
    return exposure_count < TEACHING_EXPOSURES


def amount_range(exercise: Exercise, slot: Slot, limits: AgeLimits) -> tuple[int, int]:
    """Floor and ceiling of an exercise in a slot, in reps within the limits of age or in seconds (S3, P1, P4).

    The slot narrows the exercise's own range; the limits of age come before both (I11). Where slot and exercise leave
    nothing between them, the ceiling wins, and floor and ceiling are the same.
    """
    low, high = max(exercise.low, slot.low or 0), min(exercise.high, slot.high or exercise.high)
    if exercise.measure is Measure.REPS:
        low, high = (min(max(reps, limits.min_reps), limits.max_reps) for reps in (low, high))
    return min(low, high), high


def first_target(
    exercise: Exercise,
    slot: Slot,
    holding: Holding | None,
    kit: Kit,
    limits: AgeLimits,
    *,
    max_total_kg: Decimal | None = None,
    max_reps: int | None = None,
    known: bool = False,
) -> Target | None:
    """The first target of an exercise with an implement (S2, H1): 2 x floor with 4 good reps left, the first load.

    A load on an exercise that can be done without keeps to the first-load limit of P2; where the lightest there is
    above it, the target is body weight. `max_total_kg` and `max_reps` are a clinician's (S1). With `known` it was done
    with the implement before, and no cap of a beginning holds. `None` when the exercise needs a load and none that is
    allowed can be reached: the caller goes a level down or leaves it out (K6).
    """
    load = first_load(exercise, holding, kit, limits, max_total_kg=max_total_kg, known=known)
    if load is None and exercise.loading is Loading.EXTERNAL:
        return None
    low, high = amount_range(exercise, slot, limits)
    if exercise.measure is Measure.HOLD:
        amount = min(max(low, HOLD_START_S), HOLD_START_MOST_S, high)
    else:
        amount = low if max_reps is None else min(low, max_reps)
    return Target(
        measure=exercise.measure,
        sets=min(START_SETS, slot.sets, limits.max_sets),
        amount=amount,
        load=load,
        rest_s=max(slot.rest_s, limits.min_rest_s),
        reps_left=NEW_REPS_LEFT,
    )


def first_load_limit(exercise: Exercise) -> Decimal:
    """The most that a first load on a body-weight exercise may weigh, all implements together (P2, ours)."""
    return FIRST_LOAD_LOWER_KG if exercise.lower_body else FIRST_LOAD_UPPER_KG


def begin_limit(exercise: Exercise, limits: AgeLimits) -> Decimal | None:
    """The most that an exercise that needs a load may begin with, all implements together; `None` for an adult's that
    does not suit beginners, since the levels below have earned it (P2, ours)."""
    if not (limits.under_18 or exercise.for_beginners):
        return None
    lower, upper = limits.begin_kg
    return lower if exercise.lower_body else upper


def first_load(
    exercise: Exercise,
    holding: Holding | None,
    kit: Kit,
    limits: AgeLimits,
    *,
    max_total_kg: Decimal | None = None,
    known: bool = False,
) -> Load | None:
    """The load that an exercise begins with; `None` for body weight, and where nothing that is allowed is to be had."""
    if holding is None or exercise.loading is Loading.BODY:
        return None
    either = exercise.loading is Loading.EITHER
    begin = first_load_limit(exercise) if either else None if known else begin_limit(exercise, limits)
    caps = [cap for cap in (max_total_kg, begin) if cap is not None]
    allowed = [load for load in reachable_loads(kit, holding) if all(total_kg(load) <= cap for cap in caps)]
    if not allowed:
        return None
    usual = [load for load in allowed if load.kg is not None and total_kg(load) <= first_load_limit(exercise)]
    return usual[-1] if usual and limits.begin_kg != BEGIN_KG_YOUNGER else allowed[0]


def start_levels(
    library: Library, results: Mapping[str, CheckResult], kits: Sequence[Kit] = ()
) -> tuple[dict[Pattern, str], tuple[Reason, ...]]:
    """The start level of each pattern of the library from a movement check, and why (S5).

    `results` are by exercise: whether the rider met what the check asks there. A level counts as passed when it was,
    and so was one of those just below it, down to the bottom. A pattern whose bottom level hurt has no start level. Of
    several passed at one level the start is one that can be done with one of `kits`, then one that leads further up.
    """
    levels: dict[Pattern, str] = {}
    reasons: list[Reason] = []
    for pattern in Pattern:
        lowest = bottom(library, pattern)
        if lowest is None:
            continue
        members = family(library, pattern)
        hurt = next((one for one in members if results.get(one.slug) is CheckResult.HURTS), None)
        if results.get(lowest.slug) is CheckResult.HURTS:
            reasons.append(Reason("S5", "check-bottom-hurts", {"exercise": lowest.slug}))
            continue
        if hurt is not None:
            reasons.append(Reason("S5", "check-hurts", {"exercise": hurt.slug}))
        start, key = _start(library, members, lowest, results, kits)
        levels[pattern] = start
        reasons.append(Reason("S5", key, {"exercise": start}))
    return levels, tuple(reasons)


def _start(
    library: Library,
    members: tuple[Exercise, ...],
    lowest: Exercise,
    results: Mapping[str, CheckResult],
    kits: Sequence[Kit],
) -> tuple[str, str]:
    """The start level in a family and the key of the reason."""
    passed: list[str] = []
    for one in members:  # lowest first, so what is below has been judged already
        below = [other.slug for other in easier(library, one.slug)]
        supported = not below or any(slug in passed for slug in below)
        if supported and results.get(one.slug) is CheckResult.PASS:
            passed.append(one.slug)
    if passed:
        return _best(library, [one for one in members if one.slug in passed], kits).slug, "check-passed"
    asked = any(one.slug in results for one in members)
    return lowest.slug, "check-not-passed" if asked else "check-not-asked"


def _best(library: Library, passed: Sequence[Exercise], kits: Sequence[Kit]) -> Exercise:
    """The highest of those passed; of several the one that can be done here, that leads furthest up, the first."""
    level = max(one.level for one in passed)

    def worth(one: Exercise) -> tuple[bool, int]:
        return any(holdings_for(one, kit) for kit in kits), _top_level(library, one)

    return max((one for one in passed if one.level == level), key=worth)


def _top_level(library: Library, one: Exercise) -> int:
    """The highest level that steps from the exercise lead to, its own where it leads nowhere."""
    return max((_top_level(library, other) for other in harder(library, one.slug)), default=one.level)
