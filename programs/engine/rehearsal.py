"""A season that is lived before it happens: a synthetic rider trains by a program, week by week, as the engine decides.

    season = rehearse(script, cast, library, number=3)

Each Sunday the coming week is worked out from everything reported so far and approved as it stands; each session is
done, missed or passed over on its day; a pain of 3 or more, an illness or a session passed over works the rest of the
week out again, downwards. The final plan of every week, and each that was eased, is held against the safety properties.
Of the generator everything is drawn that chance decides; it is seeded with the cast's seed and the rider's number, so
one rider's season depends on no other's.

The coach of these riders is an assumption of ours as well: looks at a follow-up on the third day, says yes to a load
step that waits for it, closes a pain once it is told as 2 or less (as a return where it had stopped the site) and an
illness when it is over, leaves silence open until a check-in, and changes nothing.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Final

from athletes.concerns import BodyReport, BodyState, Concern, Event, Matter, Outcome, SymptomReport, Topic
from athletes.triage import sites_to_ask
from athletes.values import value_class
from athletes.vocabulary import Pattern, Region, Side
from programs.engine.cast import Cast, Player, draw_player
from programs.engine.easing import ease
from programs.engine.facts import (
    Absence,
    BikeWeek,
    Block,
    Done,
    Exposure,
    Item,
    Library,
    Opening,
    Part,
    Phase,
    Race,
    Ride,
    Rider,
    SessionDecision,
    SessionRecord,
    SessionState,
    Week,
    WeekDecision,
    WeekFacts,
)
from programs.engine.families import exercise_of
from programs.engine.history import is_lightened
from programs.engine.kit import total_kg
from programs.engine.load import is_missed, silence
from programs.engine.played import Broken, Lift, PlayedSeason, PlayedWeek
from programs.engine.quantities import shift_week, week_days
from programs.engine.resolve import body_state, resolve_week
from programs.engine.safety import find_breaches
from programs.engine.simulate import Body, Spell

#: How far back a rider's facts reach, as those of a club do.
MEMORY: Final = timedelta(weeks=30)
#: From which score on a report works the rest of the week out again (T0), and up to which a coach closes the matter.
EASES_FROM, CLOSES_TO, STOPPED_FROM = 3, 2, 6
LOOKS_AFTER: Final = timedelta(days=3)
#: A site is told of on a Sunday unless it was in so many days before.
TOLD_LATELY: Final = timedelta(days=2)
LIGHT_PHASES: Final = (Phase.TAPER, Phase.RACE_WEEK, Phase.RETURN)

type Site = tuple[Region, Side]
type Matters = tuple[Topic, Region | None, Side | None]


@value_class
class Script:
    """The program that is lived: its blocks end to end from `first`, and the races of its season."""

    first: Week
    blocks: tuple[Block, ...]
    races: tuple[Race, ...] = ()


def rehearse(script: Script, cast: Cast, library: Library, *, number: int) -> PlayedSeason:
    """The season of the cast's rider of that number, from 0. The same arguments give the same season."""
    draw = Random(f"{cast.seed}:{number}")  # noqa: S311 - a story, not a secret
    player = draw_player(cast, library, number=number, draw=draw)
    life = Life(script, player, library, draw)
    weeks = tuple(life.live(place) for place in range(cast.weeks))
    return PlayedSeason(number, player.around.rider.youngest_age, weeks)


def rehearse_each(
    script: Script, cast: Cast, library: Library, numbers: Sequence[int]
) -> tuple[PlayedSeason, ...]:
    """The seasons of the riders of those numbers, in that order."""
    return tuple(rehearse(script, cast, library, number=number) for number in numbers)


# --- a life -----------------------------------------------------------------------------------------------------------


class Life:
    """One rider living a program. Call `live` for the weeks in their order, from 0."""

    def __init__(self, script: Script, player: Player, library: Library, draw: Random) -> None:
        self.script, self.player, self.library, self.draw = script, player, library, draw
        self.body = Body.fresh(player.persona)
        self.rider: Rider = player.around.rider
        self.monday = week_days(script.first)[0]
        self.standings = {one.pattern: one for one in player.around.standings}
        self.absences = tuple(self._absence(spell) for spell in player.persona.holidays)
        self.exposures: list[Exposure] = []
        self.records: list[SessionRecord] = []
        self.reports: list[BodyReport] = []
        self.symptoms: list[SymptomReport] = []
        self.matters: list[Matter] = []
        self.bike_weeks: list[BikeWeek] = []
        self.open: dict[Matters, date] = {}
        self.raised: list[Topic] = []
        self.broken: list[Broken] = []
        self.place = 0

    def live(self, place: int) -> PlayedWeek:
        """Lives the week of that place, from 0, and tells what came of it."""
        self.place, self.raised, self.broken = place, [], []
        week = shift_week(self.script.first, place)
        days = week_days(week)
        self.bike_weeks.append(BikeWeek(week, self.player.bike_hours[place]))
        today = days[0] - timedelta(days=1)
        self._tell_of_sites(today)
        facts = self._facts(week, today)
        decision = resolve_week(facts, self.library)
        self._hold_against(decision, facts)
        self._take(decision, days[0])
        final = self._live_days(decision, days)
        return self._told(decision, final)

    def _take(self, decision: WeekDecision, monday: date) -> None:
        """What the decision leaves behind before its first session."""
        for moved in decision.standings:
            self.standings[moved.pattern] = moved
        for concern in decision.concerns:
            self._raise(concern, monday)
        self._agree(decision)
        if self.rider.first_week_on is None and decision.sessions:
            self.rider = replace(self.rider, first_week_on=monday)
        for session in decision.sessions:
            self._record(decision, session, SessionState.PLANNED)

    def _agree(self, decision: WeekDecision) -> None:
        """The coach says yes to each step that waits for one (S3)."""
        steps = set(self.rider.agreed_steps)
        for session in decision.sessions:
            for item in session.items:
                for reason in item.reasons:
                    if reason.key == "step-needs-a-yes":
                        kg = str(reason.figures["to_kg"]).removeprefix("band ")
                        steps.add((item.exercise, Decimal(kg)))
        self.rider = replace(self.rider, agreed_steps=tuple(sorted(steps)))

    def _live_days(self, decision: WeekDecision, days: tuple[date, ...]) -> WeekDecision:
        """The seven days, and the week as it stood at their end."""
        standing = decision
        for on in days:
            changed = self._befall(on)
            for session in [one for one in standing.sessions if one.on == on]:
                changed |= self._session(standing, session)
            changed |= self._notice_silence(on)
            self._see_to_follow_ups(on)
            if changed:
                standing = self._eased(standing, on)
        return standing

    # --- what befalls -----------------------------------------------------------------------------------------------

    def _befall(self, on: date) -> bool:
        """An illness begins or is over. Whether the rest of the week must be worked out again."""
        day = (on - self.monday).days
        for spell in self.player.persona.illnesses:
            if day == spell.until_day + 1:
                self.symptoms = [
                    replace(one, cleared_on=on) if one.cleared_on is None else one for one in self.symptoms
                ]
            if day == spell.from_day:
                event = Event.FEVER_OR_CHEST if spell.is_feverish else Event.ILLNESS
                self.symptoms.append(SymptomReport(on, event=event))
                self._look(on)
                return True
        return False

    def _absence(self, spell: Spell) -> Absence:
        begins = self.monday + timedelta(days=spell.from_day)
        return Absence(begins, begins + timedelta(days=spell.days - 1))

    def _tell_of_sites(self, on: date) -> None:
        """On Sundays: the mornings after, and how sites do that hurt or that a coach waits for (T1, T2, T5)."""
        if self.body.is_quiet(self.place):
            return
        self._answer_mornings(on)
        scores = {(region, side): score for region, side, score in self.body.pain(self.place - 1)}
        for site in self._asked_about(on, scores):
            lately = (one for one in self.reports if (one.region, one.side) == site)
            if all(on - one.on > TOLD_LATELY for one in lately):
                score = scores.get(site, 0)
                self.reports.append(BodyReport(on, *site, during=score, next_morning=max(0, score - 1)))

    def _answer_mornings(self, on: date) -> None:
        self.reports = [
            replace(one, next_morning=max(0, (one.during or 0) - 1))
            if one.next_morning is None and one.on < on
            else one
            for one in self.reports
        ]

    def _asked_about(self, on: date, scores: dict[Site, int]) -> tuple[Site, ...]:
        """Sites that hurt, those that something bars, and those whose matter is open."""
        if not (scores or self.reports):
            return ()
        waits = [(one.region, one.side) for one in self.matters if one.closed_on is None]
        return tuple(dict.fromkeys([*scores, *waits, *sites_to_ask(self._state(on))]))

    # --- sessions ---------------------------------------------------------------------------------------------------

    def _session(self, plan: WeekDecision, session: SessionDecision) -> bool:
        """A session is done, missed or passed over; whether what was told eases the rest."""
        ill = self.body.illness((session.on - self.monday).days)
        comes, tells = self.body.comes(self.place, self.draw), self.body.tells(self.place, self.draw)
        if not comes or ill is not None:
            self._record(plan, session, SessionState.NOT_DONE if tells else SessionState.SILENT)
            self._expose(plan, session, None, None)
            return False
        targets = tuple(
            (item.exercise, item.target, exercise_of(self.library, item.exercise).sided)
            for item in session.items
        )
        story = self.body.train(targets, session.minutes, self.draw, session.on)
        if not tells:
            self._record(plan, session, SessionState.SILENT)
            self._expose(plan, session, None, None)
            return False
        state = SessionState.PART if story.cut_short else SessionState.DONE
        self._record(plan, session, state, story.minutes, story.session_rpe)
        self._expose(plan, session, story.done, story.session_rpe)
        scores = {(region, side): score for region, side, score in self.body.pain(self.place)}
        for topic in (Topic.MISSED, Topic.SILENT):
            self.open.pop((topic, None, None), None)
        self._answer_mornings(session.on)
        for site in self._asked_about(session.on, scores):
            self.reports.append(BodyReport(session.on, *site, during=scores.get(site, 0)))
        self._look(session.on)
        return any(score >= EASES_FROM for score in scores.values())

    def _notice_silence(self, on: date) -> bool:
        """Whether a session has become missed on that day (M3); two in a row or a fortnight call a coach."""
        newly = any(
            one.state is SessionState.SILENT
            and is_missed(one.planned_on, reported=False, today=on)
            and not is_missed(one.planned_on, reported=False, today=on - timedelta(days=1))
            for one in self.records[-6:]
        )
        if newly:
            concern = silence(self.records, on)
            if concern is not None:
                self._raise(concern, on)
        return newly

    def _record(
        self,
        plan: WeekDecision,
        session: SessionDecision,
        state: SessionState,
        minutes: int | None = None,
        session_rpe: int | None = None,
    ) -> None:
        key = (plan.week, session.ordinal)
        self.records = [one for one in self.records if (one.week, one.ordinal) != key]
        done_on = session.on if state in (SessionState.DONE, SessionState.PART) else None
        patterns = frozenset(item.pattern for item in session.items)
        self.records.append(SessionRecord(*key, session.on, state, done_on, minutes, session_rpe, patterns))

    def _expose(
        self,
        plan: WeekDecision,
        session: SessionDecision,
        done: tuple[Done | None, ...] | None,
        session_rpe: int | None,
    ) -> None:
        """What was asked and done becomes history, with the cut targets marked as the rows of a club are."""
        light_week = plan.light or plan.phase in LIGHT_PHASES
        for place, item in enumerate(session.items):
            light = light_week or is_lightened(reason.key for reason in item.reasons)
            did = done[place] if done is not None else None
            self.exposures.append(Exposure(session.on, item.exercise, item.target, did, session_rpe, light))

    def _eased(self, standing: WeekDecision, on: date) -> WeekDecision:
        """What is left of the week after what was told, with the sessions that went taken off (T0)."""
        facts = self._facts(standing.week, on)
        eased = ease(standing, facts, self.library)
        if eased is standing or eased == standing:
            return standing
        self._hold_against(eased, facts)
        days = {session.ordinal: session.on for session in eased.sessions}
        kept = []
        for one in self.records:
            if one.week == standing.week and one.state is SessionState.PLANNED:
                if one.ordinal not in days:
                    continue
                one = replace(one, planned_on=days[one.ordinal])
            kept.append(one)
        self.records = kept
        return eased

    # --- the coach --------------------------------------------------------------------------------------------------

    def _look(self, on: date) -> None:
        """Opens what everything told so far calls a coach for."""
        for concern in self._state(on).concerns:
            self._raise(concern, on)

    def _state(self, on: date) -> BodyState:
        return body_state(self._facts(shift_week(self.script.first, self.place), on), on)

    def _raise(self, concern: Concern, on: date) -> None:
        key: Matters = (concern.topic, concern.region, concern.side)
        if key in self.open:
            return
        self.open[key] = on
        self.raised.append(concern.topic)
        if concern.topic is Topic.PAIN and concern.region is not None and concern.side is not None:
            self.matters.append(Matter(concern.region, concern.side, on))

    def _see_to_follow_ups(self, on: date) -> None:
        for key, opened_on in tuple(self.open.items()):
            if on - opened_on >= LOOKS_AFTER and self._may_close(key, on):
                del self.open[key]

    def _may_close(self, key: Matters, on: date) -> bool:
        """Whether the coach is done with it; a pain matter gets its outcome."""
        topic, region, side = key
        if topic is Topic.ILLNESS:
            return all(one.cleared_on is not None for one in self.symptoms)
        if topic in (Topic.MISSED, Topic.SILENT):
            return False  # a check-in settles it
        if topic is not Topic.PAIN:
            return True
        mine = [one for one in self.reports if (one.region, one.side) == (region, side)]
        if mine and (mine[-1].during or 0) > CLOSES_TO:
            return False
        for place, matter in enumerate(self.matters):
            if (matter.region, matter.side) == (region, side) and matter.closed_on is None:
                worst = max((one.during or 0 for one in mine if one.on >= matter.opened_on), default=0)
                outcome = Outcome.RETURN if worst >= STOPPED_FROM else Outcome.CARRY_ON
                self.matters[place] = replace(matter, closed_on=on, outcome=outcome)
        return True

    # --- facts and what is told -------------------------------------------------------------------------------------

    def _facts(self, week: Week, today: date) -> WeekFacts:
        days, around = week_days(week), self.player.around
        near = [days[0] + timedelta(days=offset) for offset in range(-8, 16)]
        since = today - MEMORY
        return WeekFacts(
            week=week,
            today=today,
            rider=self.rider,
            blocks=self.script.blocks,
            openings=tuple(
                Opening(days[one.weekday], one.start, one.minutes, one.venue, one.is_preferred)
                for one in around.times
            ),
            venues=around.venues,
            standings=tuple(self.standings.values()),
            exposures=tuple(one for one in self.exposures if one.on >= since),
            sessions=tuple(one for one in self.records if one.planned_on >= since),
            rides=tuple(
                Ride(on, one.start, one.minutes, one.is_key)
                for on in near
                for one in around.rides
                if one.weekday == on.weekday()
            ),
            races=self.script.races,
            absences=self.absences,
            bike_weeks=tuple(self.bike_weeks),
            reports=tuple(self.reports),
            symptoms=tuple(self.symptoms),
            matters=tuple(self.matters),
        )

    def _hold_against(self, plan: WeekDecision, facts: WeekFacts) -> None:
        for breach in find_breaches(plan, facts, self.library):
            figures = ", ".join(f"{name} {value}" for name, value in sorted(breach.reason.figures.items()))
            self.broken.append(Broken(breach.id, breach.reason.key, figures, breach.refuses))

    def _told(self, plan: WeekDecision, final: WeekDecision) -> PlayedWeek:
        states = Counter(one.state for one in self.records if one.week == plan.week)
        done = states[SessionState.DONE] + states[SessionState.PART]
        room = {(one.weekday, one.start): one.minutes for one in self.player.around.times}
        cap = self.rider.minutes_cap
        return PlayedWeek(
            week=plan.week,
            phase=plan.phase,
            is_light=plan.light,
            asked=len(plan.sessions),
            done=done,
            not_done=states[SessionState.NOT_DONE],
            silent=states[SessionState.SILENT],
            called_off=len(plan.sessions) - len(final.sessions),
            minutes=sum(session.minutes for session in plan.sessions),
            room=sum(
                min(room.get((session.on.weekday(), session.start), session.minutes), cap or session.minutes)
                for session in plan.sessions
            ),
            sets=_by_pattern([item for session in plan.sessions for item in session.items]),
            sets_done=self._sets_done(final),
            lifts=self._lifts(final),
            follow_ups=tuple(self.raised),
            broken=tuple(self.broken),
        )

    def _trained(self, session: SessionDecision, week: Week) -> bool:
        return any(
            one.week == week and one.ordinal == session.ordinal and one.done_on is not None
            for one in self.records
        )

    def _sets_done(self, final: WeekDecision) -> tuple[tuple[Pattern, int], ...]:
        items = [
            item for session in final.sessions if self._trained(session, final.week) for item in session.items
        ]
        return _by_pattern(items)

    def _lifts(self, final: WeekDecision) -> tuple[Lift, ...]:
        """The main exercises of the week in the order of sessions, each as it was asked last."""
        found: dict[str, Lift] = {}
        for session in final.sessions:
            for item in session.items:
                if item.part is not Part.MAIN:
                    continue
                before = found.get(item.exercise)
                is_done = self._trained(session, final.week) and (before is None or before.is_done)
                found[item.exercise] = self._lift(item, is_done)
        return tuple(found.values())

    def _lift(self, item: Item, is_done: bool) -> Lift:
        load = item.target.load
        return Lift(
            pattern=item.pattern,
            exercise=item.exercise,
            measure=item.target.measure,
            sets=item.target.sets,
            amount=item.target.amount,
            kg=total_kg(load) if load is not None and load.kg is not None else None,
            band=load.band if load is not None else None,
            is_done=is_done,
        )


def _by_pattern(items: list[Item]) -> tuple[tuple[Pattern, int], ...]:
    """Sets of each pattern in the order of patterns; those with none are left out."""
    counts = Counter[Pattern]()
    for item in items:
        counts[item.pattern] += item.target.sets
    return tuple((pattern, counts[pattern]) for pattern in Pattern if counts[pattern])
