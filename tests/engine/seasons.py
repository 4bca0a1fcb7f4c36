"""Random seasons: invented riders whose weeks are worked out, lived, reported and eased, so that history grows from the
engine's own decisions.

    season = Season.begin(library, Random(7))
    for week in season.live(12): ...

Everything is drawn from the generator that is given: `random.Random` for the long run, one of Hypothesis's for the
short one, which then shrinks. What the riders do is the simulator's `Body`; what befalls them is drawn here.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from random import Random

from athletes.concerns import (
    Baseline,
    BodyReport,
    Event,
    Matter,
    Outcome,
    ReportKind,
    Sign,
    SorenessTrait,
    Symptom,
    SymptomReport,
    Topic,
)
from athletes.vocabulary import LOWER_BODY, Furniture, Implement, Pattern, RacePriority, Reason, Region, Side
from programs.engine.easing import ease
from programs.engine.facts import (
    Absence,
    AbsenceKind,
    AdjustableDumbbells,
    Barbell,
    BikeWeek,
    Block,
    Done,
    Exposure,
    FixedMass,
    Format,
    Growth,
    Kit,
    Library,
    Limit,
    Loading,
    Opening,
    Part,
    Phase,
    Race,
    Ride,
    Rider,
    SessionDecision,
    SessionRecord,
    SessionState,
    Slot,
    Standing,
    Template,
    WeekDecision,
    WeekFacts,
)
from programs.engine.history import is_lightened
from programs.engine.quantities import shift_week, week_days, week_of
from programs.engine.resolve import body_state, resolve_week
from programs.engine.simulate import Body, Persona

FIRST_MONDAY = date(2026, 1, 5)
PATTERNS = (
    Pattern.SQUAT,
    Pattern.HINGE,
    Pattern.SINGLE_LEG,
    Pattern.LATERAL,
    Pattern.CALF,
    Pattern.HIP,
    Pattern.POWER,
    Pattern.PUSH,
    Pattern.PULL,
    Pattern.FRONT_TRUNK,
    Pattern.SIDE_TRUNK,
    Pattern.ROTATION,
    Pattern.CARRY,
    Pattern.BALANCE,
    Pattern.MOBILITY,
)
SITES = (
    Region.KNEE,
    Region.LOWER_BACK,
    Region.SHOULDER,
    Region.HIP,
    Region.CALF,
    Region.FOOT_HEEL,
    Region.FRONT_THIGH,
    Region.BACK_THIGH,
)
#: How many weeks of exposures a rider's facts carry.
MEMORY = timedelta(weeks=30)


@dataclass(frozen=True)
class Eased:
    """A week that had gone out and was eased: what was known then, what was before and after."""

    facts: WeekFacts
    before: WeekDecision
    after: WeekDecision


@dataclass(frozen=True)
class LivedWeek:
    """One rider's week: what was known, what was decided, and the easings that followed."""

    facts: WeekFacts
    decision: WeekDecision
    easings: tuple[Eased, ...]


def chance(draw: Random, share: float) -> bool:
    return draw.random() < share


# --- riders and their surroundings ------------------------------------------------------------------------------------


def draw_kit(draw: Random) -> Kit:
    """Anything from an empty room to a hall with a rack."""
    kind = draw.choice(("none", "some", "some", "home", "home", "hall"))
    if kind == "none":
        return Kit(furniture=frozenset({Furniture.CHAIR}) if chance(draw, 0.5) else frozenset())
    if kind == "some":
        masses = draw.sample((4, 6, 8, 10, 12, 16, 20, 24), draw.randint(1, 3))
        implement = draw.choice((Implement.KETTLEBELL, Implement.DUMBBELL, Implement.BACKPACK))
        fixed = tuple(FixedMass(implement, Decimal(kg), draw.choice((1, 1, 2))) for kg in sorted(masses))
        return Kit(
            furniture=frozenset(draw.sample(list(Furniture), draw.randint(0, 5))),
            fixed=fixed,
            bands=tuple(range(1, draw.randint(0, 3) + 1)),
        )
    if kind == "home":
        fixed = tuple(FixedMass(Implement.KETTLEBELL, Decimal(kg), 1) for kg in (8, 12, 16))
        return Kit(
            furniture=frozenset({Furniture.CHAIR, Furniture.STEP, Furniture.TABLE, Furniture.TOWEL}),
            fixed=fixed,
            adjustable=AdjustableDumbbells(tuple(Decimal(kg) for kg in range(2, 21, 2)), 2)
            if chance(draw, 0.5)
            else None,
            bands=(1, 2, 3),
        )
    return hall_kit(draw)


def hall_kit(draw: Random) -> Kit:
    """A hall with dumbbells in steps of 2 kg and a barbell with small discs, most of them with a rack."""
    discs = tuple((Decimal(kg), 2) for kg in ("20", "10", "5", "2.5", "1.25"))
    safe = (
        frozenset(Furniture) if chance(draw, 0.6) else frozenset(Furniture) - {Furniture.RACK_WITH_SAFETIES}
    )
    return Kit(
        furniture=safe,
        fixed=tuple(FixedMass(Implement.DUMBBELL, Decimal(kg), 2) for kg in range(2, 31, 2)),
        barbell=Barbell(Decimal(20), Decimal(5), discs),
        bands=(1, 2, 3),
    )


def draw_rider(draw: Random) -> Rider:
    age = draw.choice((11, 13, 14, 16, 17, 25, 30, 35, 40, 49, 52, 58, 64, 67, 72))
    limits: list[Limit] = []
    if chance(draw, 0.12):
        limits.append(
            draw.choice(
                (
                    Limit(max_kg=Decimal(draw.choice((6, 10, 20)))),
                    Limit(max_reps=draw.choice((8, 10))),
                    Limit(region=draw.choice(SITES)),
                    Limit(pattern=draw.choice(PATTERNS)),
                    Limit(exercise="goblet-squat"),
                )
            )
        )
    return Rider(
        youngest_age=age,
        oldest_age=age + draw.choice((0, 1)),
        trains_alone=chance(draw, 0.6),
        growth=draw.choice(tuple(Growth)),
        adult_present=chance(draw, 0.5),
        limits=tuple(limits),
        minutes_cap=draw.choice((None, None, 25, 35, 45, 60)),
    )


def draw_template(draw: Random, block: int, ordinal: int, library: Library) -> Template:
    chosen = draw.sample(PATTERNS, draw.randint(3, 6))
    if chance(draw, 0.1):
        chosen.append(chosen[0])
    slots = []
    for place, pattern in enumerate(chosen):
        fixed = None
        if chance(draw, 0.08):
            fixed = draw.choice([one.slug for one in library.exercises if one.pattern is pattern])
        ranged = chance(draw, 0.2)
        slots.append(
            Slot(
                id=f"{block}-{ordinal}-{place}",
                part=Part.MAIN if pattern in LOWER_BODY or place < 2 else Part.ASSISTANCE,
                pattern=pattern,
                exercise=fixed,
                sets=draw.choice((1, 2, 3, 3, 3, 4)),
                low=draw.choice((5, 6, 8)) if ranged else None,
                high=draw.choice((12, 15, 30)) if ranged else None,
                rest_s=draw.choice((45, 60, 90, 120)),
            )
        )
    return Template(
        ordinal,
        f"Session {ordinal}",
        tuple(slots),
        draw.choice((Format.STRAIGHT, Format.STRAIGHT, Format.CIRCUIT)),
        warm_up_minutes=draw.choice((5, 6, 8)),
        cool_down_minutes=draw.choice((2, 4)),
    )


def draw_blocks(draw: Random, library: Library, weeks: int) -> tuple[Block, ...]:
    """Blocks end to end that cover the season, now and then with a week between that none covers."""
    blocks: list[Block] = []
    first = week_of(FIRST_MONDAY)
    covered = 0
    while covered < weeks:
        length = draw.choice((4, 6, 8, 12))
        sessions = draw.choice((1, 2, 2, 2, 3))
        templates = tuple(
            draw_template(draw, len(blocks), number, library)
            for number in range(1, draw.choice((1, 2, 2, 3)) + 1)
        )
        if blocks and chance(draw, 0.6):
            templates = blocks[-1].templates
        intent = draw.choice((Phase.BUILD,) * 6 + (Phase.LEARN, Phase.MAINTAIN, Phase.TAPER, Phase.REST))
        blocks.append(
            Block(
                shift_week(first, covered),
                shift_week(first, covered + length - 1),
                intent,
                sessions,
                templates,
            )
        )
        covered += length + (1 if chance(draw, 0.05) else 0)
    return tuple(blocks)


def draw_steady_block(draw: Random, library: Library, weeks: int) -> tuple[Block, ...]:
    """One program from beginning to end, in three of ten years kept up and no longer built on from the 17th week on."""
    sessions = draw.choice((1, 2, 2, 3))
    templates = tuple(draw_template(draw, 0, number, library) for number in range(1, sessions + 1))
    first = week_of(FIRST_MONDAY)
    if sessions >= 2 and chance(draw, 0.3):
        return (
            Block(first, shift_week(first, 15), Phase.BUILD, sessions, templates),
            Block(shift_week(first, 16), shift_week(first, weeks), Phase.MAINTAIN, sessions, templates),
        )
    return (Block(first, shift_week(first, weeks), Phase.BUILD, sessions, templates),)


def draw_races(draw: Random, weeks: int) -> tuple[Race, ...]:
    count = draw.choice((0, 1, 2, 4, 8))
    days = sorted(draw.sample(range(weeks * 7), min(count, weeks * 7)))
    return tuple(
        Race(
            FIRST_MONDAY + timedelta(days=day),
            draw.choice((8, 10, 18)) * 60,
            f"Race {place}",
            draw.choice(tuple(RacePriority)),
        )
        for place, day in enumerate(days)
    )


def draw_absences(draw: Random, weeks: int) -> tuple[Absence, ...]:
    found = []
    for _count in range(draw.choice((0, 0, 1, 2))):
        begin = FIRST_MONDAY + timedelta(days=draw.randrange(weeks * 7))
        length = draw.choice((3, 7, 10, 16, 35, 60))
        found.append(Absence(begin, begin + timedelta(days=length), draw.choice(tuple(AbsenceKind))))
    return tuple(found)


@dataclass(frozen=True)
class Times:
    """A week's times by weekday: (weekday, start, minutes, venue, preferred) and (weekday, start, minutes, key)."""

    openings: tuple[tuple[int, int, int, str, bool], ...]
    rides: tuple[tuple[int, int, int, bool], ...]

    @classmethod
    def draw(cls, draw: Random, venues: tuple[str, ...], *, ample: bool = False) -> "Times":
        days = draw.sample(range(7), 6 if ample else draw.randint(1, 6))
        lengths = (60, 90, 120) if ample else (15, 25, 40, 60, 90, 120)
        openings = tuple(
            (
                day,
                draw.choice((6, 7, 12, 17, 18, 19)) * 60,
                draw.choice(lengths),
                draw.choice(venues),
                chance(draw, 0.3),
            )
            for day in sorted(days)
        )
        rides = tuple(
            (day, draw.choice((7, 9, 17)) * 60, draw.choice((60, 120, 240)), chance(draw, 0.4))
            for day in sorted(draw.sample(range(7), draw.randint(0, 4)))
        )
        return cls(openings, rides)


# --- a season ---------------------------------------------------------------------------------------------------------


def _as_known(record: SessionRecord, today: date) -> SessionRecord:
    """The session as it is known on a day: the weeks are lived one by one, and the next is worked out days before the
    last one is over."""
    if (record.done_on or record.planned_on) <= today:
        return record
    return replace(record, state=SessionState.PLANNED, done_on=None)


@dataclass
class Season:
    """One rider's season, lived week by week."""

    library: Library
    draw: Random
    rider: Rider
    blocks: tuple[Block, ...]
    venues: tuple[tuple[str, Kit], ...]
    times: Times
    races: tuple[Race, ...]
    absences: tuple[Absence, ...]
    body: Body
    troubles: float
    is_steady: bool = False
    lifts: bool = False
    standings: dict[Pattern, Standing] = field(default_factory=dict)
    hurting: tuple[Pattern, ...] = ()
    exposures: list[Exposure] = field(default_factory=list)
    sessions: list[SessionRecord] = field(default_factory=list)
    reports: list[BodyReport] = field(default_factory=list)
    symptoms: list[SymptomReport] = field(default_factory=list)
    matters: list[Matter] = field(default_factory=list)
    baselines: list[Baseline] = field(default_factory=list)
    bike_weeks: list[BikeWeek] = field(default_factory=list)
    fixed_days: tuple[tuple[int, date], ...] = ()

    @classmethod
    def begin(cls, library: Library, draw: Random, weeks: int = 30) -> "Season":
        """A rider at the beginning of a season: half of them with a steady year ahead, the others with anything."""
        venues = tuple((name, draw_kit(draw)) for name in ("Home", "Hall")[: draw.choice((1, 1, 2))])
        rider = draw_rider(draw)
        if chance(draw, 0.5):
            return cls._begin_steady(library, draw, weeks, rider, venues)._settle()
        return cls(
            library=library,
            draw=draw,
            rider=rider,
            blocks=draw_blocks(draw, library, weeks),
            venues=venues,
            times=Times.draw(draw, tuple(name for name, _kit in venues)),
            races=draw_races(draw, weeks),
            absences=draw_absences(draw, weeks),
            body=Body(
                Persona(
                    attends=draw.choice((0.98, 0.9, 0.9, 0.7, 0.5)),
                    reports=draw.choice((1.0, 0.95, 0.95, 0.7)),
                    gain=draw.choice((0.5, 1.0, 2.0, 4.0)),
                )
            ),
            troubles=draw.choice((0.0, 0.03, 0.1, 0.3)),
        )._settle()

    @classmethod
    def _begin_steady(
        cls, library: Library, draw: Random, weeks: int, rider: Rider, venues: tuple[tuple[str, Kit], ...]
    ) -> "Season":
        """One program, ample time, hardly anything missed: so that progress gets to its later rules. Half of them lift
        in a well equipped hall, since with body weight and a bell or two there is hardly a load to go up to."""
        lifts = chance(draw, 0.5)
        if lifts:
            venues = ((venues[0][0], hall_kit(draw)),)
            rider = replace(rider, youngest_age=draw.choice((17, 25, 35, 45)), limits=())
            rider = replace(rider, oldest_age=rider.youngest_age + draw.choice((0, 1)))
        return cls(
            library=library,
            draw=draw,
            lifts=lifts,
            rider=replace(rider, minutes_cap=draw.choice((None, None, 60)), limits=rider.limits[:1]),
            blocks=draw_steady_block(draw, library, weeks),
            venues=venues,
            times=Times.draw(draw, tuple(name for name, _kit in venues), ample=True),
            races=draw_races(draw, weeks)[: draw.choice((0, 0, 1))],
            absences=(),
            body=Body(Persona(attends=0.99, reports=1.0, gain=draw.choice((2.0, 4.0, 8.0)))),
            troubles=draw.choice((0.0, 0.0, 0.02, 0.06)),
            is_steady=True,
        )

    def _settle(self) -> "Season":
        """Levels for some patterns, and now and then one that hurt in the movement check."""
        for pattern in PATTERNS:
            members = [one for one in self.library.exercises if one.pattern is pattern]
            if self.lifts:
                loaded = [one for one in members if one.loading is not Loading.BODY]
                members = loaded or members
            if chance(self.draw, 0.9 if self.lifts else 0.5):
                self.standings[pattern] = Standing(pattern, self.draw.choice(members).slug)
        if chance(self.draw, 0.05):
            self.hurting = (self.draw.choice(PATTERNS),)
        return self

    def live(self, weeks: int) -> Iterator[LivedWeek]:
        """The season's weeks, each given as soon as it has been lived."""
        for number in range(weeks):
            monday = FIRST_MONDAY + timedelta(weeks=number)
            self._befall(monday)
            yield self._week(number, monday)

    # --- what befalls -----------------------------------------------------------------------------------------------

    def _befall(self, monday: date) -> None:
        """Changes of kit, times and state from one week to the next."""
        draw = self.draw
        if chance(draw, 0.7):
            self.bike_weeks.append(BikeWeek(week_of(monday), Decimal(draw.choice((3, 5, 6, 7, 8, 12)))))
        if chance(draw, self.troubles):
            self._trouble(monday - timedelta(days=draw.randrange(4)))
        self._coach(monday)
        if not self.is_steady:
            self._change(monday)

    def _change(self, monday: date) -> None:
        draw = self.draw
        if chance(draw, 0.04):
            self.venues = tuple((name, draw_kit(draw)) for name, _kit in self.venues)
        if chance(draw, 0.06):
            self.times = Times.draw(draw, tuple(name for name, _kit in self.venues))
        if chance(draw, 0.02):
            self.rider = replace(self.rider, paused=not self.rider.paused)
        elif self.rider.paused and chance(draw, 0.5):
            self.rider = replace(self.rider, paused=False)
        may_train = not chance(draw, 0.02)
        why = None if may_train else Reason("S1", "not-screened")
        self.rider = replace(self.rider, may_train=may_train, why_not=why)
        self.fixed_days = ()
        if chance(draw, 0.05):
            self.fixed_days = ((draw.choice((1, 2)), monday + timedelta(days=draw.randrange(7))),)

    def _trouble(self, on: date) -> None:
        """A pain, soreness, an illness, a crash or a warning symptom on a day."""
        draw = self.draw
        kind = draw.choice(("pain",) * 6 + ("soreness",) * 3 + ("ill", "ill", "symptom"))
        site, side = draw.choice(SITES), draw.choice(tuple(Side))
        if kind == "pain":
            during = draw.choice((None, 1, 2, 3, 3, 4, 4, 5, 5, 6, 7, 9))
            morning = draw.choice((None, during, during, 2, 5))
            signs = frozenset({draw.choice(tuple(Sign))}) if chance(draw, 0.04) else frozenset()
            report_kind = ReportKind.LONG_STANDING if chance(draw, 0.1) else ReportKind.PAIN
            self.reports.append(BodyReport(on, site, side, during, morning, report_kind, signs))
            if chance(draw, 0.05):
                self.baselines.append(Baseline(site, side, draw.randint(3, 5), on + timedelta(days=40)))
        elif kind == "soreness":
            traits = frozenset(
                {
                    SorenessTrait.BOTH_SIDES,
                    SorenessTrait.IN_THE_MUSCLE,
                    SorenessTrait.AFTER_NEW_WORK,
                    SorenessTrait.EASES_ON_MOVING,
                }
            )
            region = draw.choice((Region.FRONT_THIGH, Region.BACK_THIGH, Region.CALF, Region.CHEST))
            self.reports.append(
                BodyReport(
                    on,
                    region,
                    Side.BOTH,
                    draw.choice((3, 5, 6, 7)),
                    None,
                    ReportKind.SORENESS,
                    traits=traits,
                    hours_since_work=draw.choice((24, 48, 90, None)),
                )
            )
        elif kind == "ill":
            event = draw.choice((Event.ILLNESS, Event.FEVER_OR_CHEST, Event.CRASH, Event.NUMBNESS_ON_BIKE))
            self.symptoms.append(SymptomReport(on, event=event))
        else:
            self.symptoms.append(SymptomReport(on, symptom=draw.choice(tuple(Symptom))))

    def _coach(self, today: date) -> None:
        """A coach opens, closes and clears."""
        draw = self.draw
        state = body_state(self.facts(today, week_of(today)), today)
        for concern in state.concerns:
            if concern.topic is Topic.PAIN and concern.region and concern.side:
                known = (concern.region, concern.side)
                if not any((one.region, one.side) == known and one.closed_on is None for one in self.matters):
                    self.matters.append(Matter(concern.region, concern.side, today))
        for place, matter in enumerate(self.matters):
            if matter.closed_on is None and chance(draw, 0.4):
                outcome = draw.choice(
                    (
                        Outcome.CARRY_ON,
                        Outcome.RETURN,
                        Outcome.RETURN,
                        Outcome.CLEARED,
                        Outcome.EASE,
                        Outcome.PAUSE,
                    )
                )
                self.matters[place] = replace(matter, closed_on=today, outcome=outcome)
                if outcome in (Outcome.RETURN, Outcome.CLEARED) and chance(draw, 0.8):
                    for days in (8, 4, 0):
                        self._tell(BodyReport(today - timedelta(days=days), matter.region, matter.side, 1, 1))
        for place, symptom in enumerate(self.symptoms):
            if symptom.cleared_on is None and chance(draw, 0.5):
                self.symptoms[place] = replace(symptom, cleared_on=today)

    def _tell(self, report: BodyReport) -> None:
        self.reports.append(report)
        self.reports.sort(key=lambda one: one.on)

    # --- a week -----------------------------------------------------------------------------------------------------

    def facts(self, today: date, week: object = None) -> WeekFacts:
        """What is known on a day about a week, that day's own unless another is given."""
        of = week_of(today) if week is None else week
        days = week_days(of)  # type: ignore[arg-type]
        around = [days[0] + timedelta(days=offset) for offset in range(-8, 16)]
        return WeekFacts(
            week=of,  # type: ignore[arg-type]
            today=today,
            rider=self.rider,
            blocks=self.blocks,
            openings=tuple(
                Opening(day, start, minutes, venue, preferred)
                for day in days
                for weekday, start, minutes, venue, preferred in self.times.openings
                if weekday == day.weekday()
            ),
            venues=self.venues,
            standings=tuple(self.standings.values()),
            exposures=tuple(one for one in self.exposures if one.on <= today and one.on >= today - MEMORY),
            sessions=tuple(_as_known(one, today) for one in self.sessions),
            rides=tuple(
                Ride(day, start, minutes, key)
                for day in around
                for weekday, start, minutes, key in self.times.rides
                if weekday == day.weekday()
            ),
            races=self.races,
            absences=self.absences,
            bike_weeks=tuple(self.bike_weeks),
            reports=tuple(one for one in self.reports if one.on <= today),
            symptoms=tuple(one for one in self.symptoms if one.on <= today),
            matters=tuple(self.matters),
            baselines=tuple(self.baselines),
            fixed_days=self.fixed_days,
            hurting=self.hurting,
        )

    def _week(self, number: int, monday: date) -> LivedWeek:
        draw = self.draw
        today = monday - timedelta(days=draw.choice((0, 1, 3)))
        facts = self.facts(today, week_of(monday))
        decision = resolve_week(facts, self.library)
        standing = decision
        for moved in decision.standings:
            self.standings[moved.pattern] = moved
        self._agree(decision)
        if self.rider.first_week_on is None and decision.sessions:
            self.rider = replace(self.rider, first_week_on=monday)
        easings: list[Eased] = []
        pending = {session.ordinal: session for session in decision.sessions}
        for session in pending.values():
            self._record(standing, session, SessionState.PLANNED, None)
        if pending and chance(draw, self.troubles):
            # Told by link before the week has begun: most of what is reported bears on sessions that are still ahead.
            on = min(session.on for session in pending.values()) - timedelta(days=1)
            if on >= today:
                self._trouble(on)
                standing = self._ease(standing, self.facts(on, facts.week), easings)
                pending = {one.ordinal: one for one in standing.sessions}
                self._forget_dropped(standing)
        while pending:
            ordinal = min(pending, key=lambda one: (pending[one].on, one))
            session = pending.pop(ordinal)
            reported = self._session(number, standing, session)
            if not reported:
                continue
            on = self._last_day(ordinal)
            standing = self._ease(standing, self.facts(on, facts.week), easings)
            pending = {one.ordinal: one for one in standing.sessions if one.ordinal in pending}
            self._forget_dropped(standing)
        return LivedWeek(facts, decision, tuple(easings))

    def _ease(self, standing: WeekDecision, facts: WeekFacts, easings: list[Eased]) -> WeekDecision:
        eased = ease(standing, facts, self.library)
        easings.append(Eased(facts, standing, eased))
        return eased

    def _agree(self, decision: WeekDecision) -> None:
        """A coach says yes to some of the steps that wait for one (S3)."""
        for concern in decision.concerns:
            if concern.topic is Topic.LOAD_STEP and chance(self.draw, 0.7):
                slugs = {item.exercise for session in decision.sessions for item in session.items}
                kg = str(concern.reasons[0].figures["to_kg"]).removeprefix("band ")
                steps = {(slug, Decimal(kg)) for slug in slugs} | set(self.rider.agreed_steps)
                self.rider = replace(self.rider, agreed_steps=tuple(sorted(steps)))

    def _last_day(self, ordinal: int) -> date:
        newest = [one for one in self.sessions if one.ordinal == ordinal][-1]
        return newest.done_on or newest.planned_on

    def _forget_dropped(self, standing: WeekDecision) -> None:
        """Sessions that the eased week no longer has are not waited for, and moved ones stand on their new day."""
        on = {session.ordinal: session.on for session in standing.sessions}
        self.sessions = [
            replace(one, planned_on=on[one.ordinal])
            if one.week == standing.week and one.state is SessionState.PLANNED and one.ordinal in on
            else one
            for one in self.sessions
            if one.week != standing.week or one.state is not SessionState.PLANNED or one.ordinal in on
        ]

    def _session(self, number: int, plan: WeekDecision, session: SessionDecision) -> bool:
        """One session is done, missed or passed over; whether anything was reported that eases the rest."""
        draw = self.draw
        comes, tells = self.body.comes(number, draw), self.body.tells(number, draw)
        if not comes or not tells:
            state = SessionState.NOT_DONE if tells else SessionState.SILENT
            self._record(plan, session, state, None)
            self._expose(plan, session, None, session.on, None)
            return tells and chance(draw, 0.1)
        late = (0,) if self.is_steady else (0,) * 12 + (1, 2)
        done_on = session.on + timedelta(days=draw.choice(late))
        exercises = {one.slug: one for one in self.library.exercises}
        story = self.body.train(
            tuple((item.exercise, item.target, exercises[item.exercise].sided) for item in session.items),
            session.minutes,
            draw,
        )
        done = tuple(self._as_told(one) for one in story.done)
        state = SessionState.PART if story.cut_short else SessionState.DONE
        self._record(plan, session, state, done_on)
        rpe = story.session_rpe if chance(draw, 0.9) else None
        self._expose(plan, session, done, done_on, rpe)
        hurts = chance(draw, self.troubles)
        if hurts:
            self._trouble(done_on)
        return hurts or done_on != session.on or chance(draw, 0.05)

    def _as_told(self, done: Done | None) -> Done | None:
        """Now and then something is not told."""
        draw = self.draw
        if done is None or chance(draw, 0.98 if self.is_steady else 0.85):
            return done
        kind = draw.choice(("no effort", "no load", "one side", "nothing", "short"))
        if kind == "no effort":
            return replace(done, reps_left=None, held_longer=None)
        if kind == "no load":
            return replace(done, load=None)
        if kind == "one side" and done.left_amounts is not None:
            return replace(done, right_amounts=None)
        if kind == "short" and done.amounts is not None:
            return replace(done, amounts=done.amounts[:-1], out_of_time=chance(draw, 0.5))
        return Done() if kind == "nothing" else done

    def _record(
        self, plan: WeekDecision, session: SessionDecision, state: SessionState, done_on: date | None
    ) -> None:
        key = (plan.week, session.ordinal)
        self.sessions = [one for one in self.sessions if (one.week, one.ordinal) != key]
        patterns = frozenset(item.pattern for item in session.items)
        self.sessions.append(
            SessionRecord(plan.week, session.ordinal, session.on, state, done_on, patterns=patterns)
        )

    def _expose(
        self,
        plan: WeekDecision,
        session: SessionDecision,
        done: tuple[Done | None, ...] | None,
        on: date,
        rpe: int | None,
    ) -> None:
        """What was asked and done becomes history, with the cut targets marked as the rows of a club are."""
        light_week = plan.light or plan.phase in (Phase.TAPER, Phase.RACE_WEEK, Phase.RETURN)
        for place, item in enumerate(session.items):
            self.exposures.append(
                Exposure(
                    on=on,
                    exercise=item.exercise,
                    target=item.target,
                    done=done[place] if done is not None else None,
                    session_rpe=rpe,
                    light=light_week or is_lightened(reason.key for reason in item.reasons),
                )
            )
        self.exposures.sort(key=lambda one: one.on)
