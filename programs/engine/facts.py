"""The engine's values: what it is told and what it answers. All frozen, all exact, all without behaviour.

Loads are `Decimal` kilograms (Q1), dates are local dates, weeks are ISO 8601 weeks (Q2), times are minutes from local
midnight, durations are whole minutes or seconds as the name says. `None` means unknown and is never success (H3).
"""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from functools import cached_property

from athletes.concerns import Baseline, BodyReport, Concern, Matter, SymptomReport
from athletes.values import value_class
from athletes.vocabulary import (
    Furniture,
    Implement,
    Muscle,
    Pattern,
    RacePriority,
    Reason,
    Region,
)

#: The shape of the facts document. Raised whenever a field changes meaning.
SCHEMA = 1
#: The version of the rules. Raised whenever the same facts may give another decision.
ENGINE = 2


@value_class(order=True)
class Week:
    """An ISO 8601 week. `year` is the ISO year, which differs from the calendar's at the edges."""

    year: int
    number: int


# --- exercises (K, L) -------------------------------------------------------------------------------------------------


class Measure(StrEnum):
    REPS = "reps"
    HOLD = "hold"


class Loading(StrEnum):
    """Whether an exercise is done with external load: never, may be, must be."""

    BODY = "body"
    EITHER = "either"
    EXTERNAL = "external"


class Part(StrEnum):
    """Part of a session. What is dropped first when minutes are short: assistance before main, warm-up never."""

    WARM_UP = "warm-up"
    MAIN = "main"
    ASSISTANCE = "assistance"
    COOL_DOWN = "cool-down"


@value_class
class Holding:
    """How an implement is used: which, and how many at once (1, or 2 for a pair of equal mass)."""

    implement: Implement
    count: int = 1


@value_class
class Criterion:
    """What earns the next level: `sets` sets of `value` reps (or seconds) with `reps_left` good reps left (reps)."""

    sets: int
    value: int
    reps_left: int = 2


@value_class
class Edge:
    """A step up from an exercise to a harder one of the same pattern."""

    harder: str
    criterion: Criterion


@value_class
class Exercise:
    """One exercise as the engine sees it; the words for people are kept elsewhere.

    `low` and `high` bound reps or seconds; `lower_s`, `pause_s`, `lift_s` are the tempo of one rep in seconds.
    `furniture` is all needed; `holdings` are alternatives, any one of which will do (empty when `loading` is BODY).
    `muscles` maps a muscle to its share of a set: 1 primary, 0.5 secondary (P12). `suits` are the patterns that a
    warm-up or cool-down part goes with.
    """

    slug: str
    pattern: Pattern
    level: int
    measure: Measure
    loading: Loading
    part: Part
    low: int
    high: int
    sided: bool = False
    furniture: frozenset[Furniture] = frozenset()
    holdings: tuple[Holding, ...] = ()
    primary: frozenset[Region] = frozenset()
    secondary: frozenset[Region] = frozenset()
    muscles: tuple[tuple[Muscle, Decimal], ...] = ()
    lower_s: int = 2
    pause_s: int = 0
    lift_s: int = 2
    for_beginners: bool = True
    needs_safeties: bool = False
    trains_balance: bool = False
    lower_body: bool = True
    edges: tuple[Edge, ...] = ()
    suits: frozenset[Pattern] = frozenset()
    #: Reps added by one success (P1).
    rep_increment: int = 1

    def __hash__(self) -> int:
        # Two that are equal have one name. To hash all that an exercise is would cost more than what is kept by it.
        return hash(self.slug)


@value_class
class Library:
    """All exercises, by slug. `digest` names the version, so that stored facts need not repeat it."""

    exercises: tuple[Exercise, ...]
    digest: str = ""

    def __hash__(self) -> int:
        return hash(self.digest)


# --- kit (K) ----------------------------------------------------------------------------------------------------------


@value_class
class FixedMass:
    """A kettlebell, dumbbell, vest or backpack of one mass, and how many of it there are (K1, K4)."""

    implement: Implement
    kg: Decimal
    count: int = 1


@value_class
class Barbell:
    """A bar, its pair of collars (together), and discs as (mass, number of pairs) (K2)."""

    bar_kg: Decimal
    collars_kg: Decimal = Decimal(0)
    disc_pairs: tuple[tuple[Decimal, int], ...] = ()


@value_class
class AdjustableDumbbells:
    """Adjustable dumbbells: the masses that each can be set to, and how many there are, 1 or 2 (K3)."""

    masses: tuple[Decimal, ...]
    count: int = 1


@dataclass(frozen=True)
class Kit:
    """What is at a venue. `bands` are ordered levels, lightest 1, with no mass (K5)."""

    furniture: frozenset[Furniture] = frozenset()
    fixed: tuple[FixedMass, ...] = ()
    barbell: Barbell | None = None
    adjustable: AdjustableDumbbells | None = None
    bands: tuple[int, ...] = ()

    @cached_property
    def _hash(self) -> int:
        return hash((self.furniture, self.fixed, self.barbell, self.adjustable, self.bands))

    def __hash__(self) -> int:
        # What can be loaded is kept by kit, and asked for so often that hashing every disc each time would show.
        return self._hash


@value_class
class Load:
    """An external load: `kg` is the mass of each of `holding.count` implements; a band has a `band` level instead."""

    holding: Holding
    kg: Decimal | None = None
    band: int | None = None


# --- targets and what was done (H, P) ---------------------------------------------------------------------------------


@value_class
class Target:
    """What is asked: `sets` x `amount` (reps, or seconds when `measure` is HOLD), a side at a time if the exercise is
    sided. `load` None is body weight. `reps_left` is how many good reps should be left. `lower_s` overrides the tempo.
    `bridge_sets` of the sets are done at `bridge_load` for `bridge_amount` (P3)."""

    measure: Measure
    sets: int
    amount: int
    load: Load | None = None
    rest_s: int = 90
    reps_left: int = 3
    lower_s: int | None = None
    bridge_load: Load | None = None
    bridge_sets: int = 0
    bridge_amount: int = 0


@value_class
class Done:
    """What was done: per set (and per side when sided: the weaker side's), with the load that was used.

    `reps_left` is 0 to 4, 4 meaning 4 or more. `held_longer` says of a hold whether each set could have gone on for 5 s
    or more, `None` when nobody said. `out_of_time` marks sets left out for time, which is not failing.
    """

    amounts: tuple[int, ...] | None = None
    left_amounts: tuple[int, ...] | None = None
    right_amounts: tuple[int, ...] | None = None
    load: Load | None = None
    reps_left: int | None = None
    out_of_time: bool = False
    held_longer: bool | None = None


@value_class
class Exposure:
    """One exercise in one session that has happened or was due. `done` None: no report, or not done.

    `light` marks taper, light-week and return sessions, which never count for or against progress (P7).
    `session_rpe` is the CR-10 of the whole session.
    """

    on: date
    exercise: str
    target: Target
    done: Done | None = None
    session_rpe: int | None = None
    light: bool = False


class SessionState(StrEnum):
    PLANNED = "planned"
    DONE = "done"
    PART = "part"
    NOT_DONE = "not-done"
    SILENT = "silent"  # past its grace without a report (M3)


@value_class
class SessionRecord:
    """One session that went out: its week and ordinal, the day it was planned, the day it was done, and the patterns
    that it asked for."""

    week: Week
    ordinal: int
    planned_on: date
    state: SessionState
    done_on: date | None = None
    minutes: int | None = None
    session_rpe: int | None = None
    patterns: frozenset[Pattern] = frozenset()


# --- the rider and the week (S, Y, W) ---------------------------------------------------------------------------------


class Growth(StrEnum):
    """Whether a young rider is in a growth spurt, as the coach entered it (S3)."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class CheckResult(StrEnum):
    """Result of one criterion of the movement check (S5)."""

    PASS = "pass"
    NOT_YET = "not-yet"
    HURTS = "hurts"


@value_class
class Limit:
    """A named clinician's limit, obeyed and never guessed (S1): leaves out an exercise, a pattern or a region, or caps
    load or reps of everything."""

    exercise: str | None = None
    pattern: Pattern | None = None
    region: Region | None = None
    max_kg: Decimal | None = None
    max_reps: int | None = None


@value_class
class Rider:
    """Who trains. `youngest_age` and `oldest_age` bracket the age that a birth year allows; rules for the young use the
    first, rules for the old the second. `may_train` is False until consent and clearance are recorded (S1, T0);
    `why_not` then says why."""

    youngest_age: int
    oldest_age: int
    may_train: bool = True
    why_not: Reason | None = None
    paused: bool = False
    trains_alone: bool = True
    growth: Growth = Growth.UNKNOWN
    adult_present: bool = False
    limits: tuple[Limit, ...] = ()
    minutes_cap: int | None = None
    first_week_on: date | None = None
    #: Load steps above 10 % that a coach said yes to for an under-18 (S3): (exercise slug, new kg of each implement;
    #: for a band its level).
    agreed_steps: tuple[tuple[str, Decimal], ...] = ()


@value_class
class Opening:
    """A time when the rider could train: a date, start and length in minutes, and the venue's name."""

    on: date
    start: int
    minutes: int
    venue: str
    preferred: bool = False


@value_class
class Ride:
    """A ride in the diary. A key ride is one that legs should be fresh for."""

    on: date
    start: int
    minutes: int
    key: bool = False


@value_class
class Race:
    on: date
    start: int
    name: str
    priority: RacePriority = RacePriority.OTHER


class AbsenceKind(StrEnum):
    HOLIDAY = "holiday"
    ILLNESS = "illness"
    INJURY = "injury"
    OTHER = "other"


@value_class
class Absence:
    """Away from strength training, both days included."""

    from_on: date
    until_on: date
    kind: AbsenceKind = AbsenceKind.HOLIDAY


class Phase(StrEnum):
    """The one intent of a week (Y1)."""

    LEARN = "learn"
    BUILD = "build"
    MAINTAIN = "maintain"
    TAPER = "taper"
    RACE_WEEK = "race-week"
    REST = "rest"
    RETURN = "return"


@value_class
class Slot:
    """A place in a session that asks for a pattern, or for a fixed exercise. `low`..`high` narrow the exercise's own
    range when given."""

    id: str
    part: Part
    pattern: Pattern
    exercise: str | None = None
    sets: int = 3
    low: int | None = None
    high: int | None = None
    rest_s: int = 90


class Format(StrEnum):
    STRAIGHT = "straight"
    CIRCUIT = "circuit"


@value_class
class Template:
    """One session as the coach wrote it for the squad."""

    ordinal: int
    name: str
    slots: tuple[Slot, ...]
    format: Format = Format.STRAIGHT
    warm_up_minutes: int = 6
    cool_down_minutes: int = 4


@value_class
class Block:
    """Weeks of a program with one intent: `first` to `last`, both included."""

    first: Week
    last: Week
    intent: Phase
    sessions: int
    templates: tuple[Template, ...]
    name: str = ""


@value_class
class BikeWeek:
    """Hours on the bike in a week, as entered; a week that nobody entered is absent, not zero (Y2)."""

    week: Week
    hours: Decimal


@value_class
class Standing:
    """The exercise that is the rider's level in a pattern, and since when."""

    pattern: Pattern
    exercise: str
    since_on: date | None = None


@value_class
class WeekFacts:
    """Everything that decides one rider's week. `today` is the local date on which it is resolved.

    `exposures` and `sessions` are oldest first. `fixed_days` are (ordinal, date) that a coach pinned. `hurting` are the
    patterns whose bottom level hurt in the movement check and that nobody has set a level for since (S5): a pattern
    without a standing starts at its bottom, one that is hurting is left out.
    """

    week: Week
    today: date
    rider: Rider
    blocks: tuple[Block, ...]
    openings: tuple[Opening, ...]
    venues: tuple[tuple[str, Kit], ...]
    standings: tuple[Standing, ...] = ()
    exposures: tuple[Exposure, ...] = ()
    sessions: tuple[SessionRecord, ...] = ()
    rides: tuple[Ride, ...] = ()
    races: tuple[Race, ...] = ()
    absences: tuple[Absence, ...] = ()
    bike_weeks: tuple[BikeWeek, ...] = ()
    reports: tuple[BodyReport, ...] = ()
    symptoms: tuple[SymptomReport, ...] = ()
    matters: tuple[Matter, ...] = ()
    baselines: tuple[Baseline, ...] = ()
    fixed_days: tuple[tuple[int, date], ...] = ()
    progress_allowed: bool = True
    hurting: tuple[Pattern, ...] = ()
    schema: int = SCHEMA


# --- decisions --------------------------------------------------------------------------------------------------------


class Change(StrEnum):
    """What a target is, beside the one before it."""

    NEW = "new"
    SAME = "same"
    MORE_REPS = "more-reps"
    MORE_TIME = "more-time"
    MORE_LOAD = "more-load"
    MORE_SETS = "more-sets"
    SLOWER = "slower"
    BRIDGE = "bridge"
    HARDER = "harder"
    EASIER = "easier"
    LESS_LOAD = "less-load"
    FEWER_REPS = "fewer-reps"
    FEWER_SETS = "fewer-sets"


@value_class
class TargetDecision:
    """The next target of one exercise, the kind of change and every reason for it. `exercise` differs from the one
    asked about when the level moved; `concerns` are to be opened as follow-ups."""

    exercise: str
    target: Target
    change: Change
    reasons: tuple[Reason, ...]
    concerns: tuple[Concern, ...] = ()


@value_class
class Item:
    """One slot of a session, resolved. `previous` is the last target of the same exercise and implement, if any."""

    slot: str
    part: Part
    pattern: Pattern
    exercise: str
    target: Target
    change: Change
    reasons: tuple[Reason, ...]
    previous: Target | None = None


@value_class
class LeftOut:
    """A slot that no exercise fits, or that was dropped for time."""

    slot: str
    pattern: Pattern
    reasons: tuple[Reason, ...]


@value_class
class SessionDecision:
    """One session: when, where, what. `warm_up` and `cool_down` are slugs of library parts, done in order."""

    ordinal: int
    name: str
    on: date
    start: int
    minutes: int
    venue: str
    format: Format
    warm_up_minutes: int
    cool_down_minutes: int
    warm_up: tuple[str, ...]
    items: tuple[Item, ...]
    cool_down: tuple[str, ...]
    left_out: tuple[LeftOut, ...] = ()
    reasons: tuple[Reason, ...] = ()


@value_class
class Cost:
    """One term of a placement's price, a unitless weighted penalty."""

    term: str
    points: int


@value_class
class Placement:
    """Where the sessions stand: (ordinal, opening) pairs in order of date, the cost by term, the runner-up, and when
    sessions had to be dropped, how many and which constraints did it."""

    chosen: tuple[tuple[int, Opening], ...]
    costs: tuple[Cost, ...] = ()
    runner_up: tuple[tuple[int, Opening], ...] | None = None
    runner_up_costs: tuple[Cost, ...] = ()
    dropped: int = 0
    reasons: tuple[Reason, ...] = ()


@value_class
class WeekDecision:
    """One rider's week. Nothing in `sessions` when `may_send` is False; `reasons` then say why.

    `may_send_unapproved` is False where a coach must look first (W3). `standings` are the levels that this decision
    moves."""

    week: Week
    phase: Phase
    sessions: tuple[SessionDecision, ...]
    reasons: tuple[Reason, ...]
    placement: Placement | None = None
    standings: tuple[Standing, ...] = ()
    concerns: tuple[Concern, ...] = ()
    may_send: bool = True
    may_send_unapproved: bool = True
    light: bool = False
    sets_by_muscle: tuple[tuple[Muscle, Decimal], ...] = field(default_factory=tuple)
    engine: int = ENGINE
