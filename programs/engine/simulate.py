"""Synthetic riders: what somebody might do with a target, so that a season can be seen before it happens.

    body = Body.fresh(persona)
    body.perform("goblet-squat", target, False, generator)

Every response here is an assumption of ours, declared and not measured; no published model of a club rider exists. The
generator is passed in: the same seed gives the same season.

Strength   For each exercise and implement a hidden load that could be lifted once. At the first meeting it is set so
           that `spare` reps more than asked are possible, 3 to 8 unless the persona says otherwise; each session done
           raises it by 1.2 % times the persona's `gain`. With a `ceiling` that gain shrinks in proportion to what is
           left to gain, and ends where the hidden load is `ceiling` times that of the first meeting.
Loss       An exercise not done for more than 14 days loses 1.5 % of its hidden load for each week beyond those, and
           never falls below the first meeting. A hold loses 3 s a week likewise. Only where the days are told.
Reps       As many as 30 x (hidden load / load - 1), the inverse of a linear reps-to-load rule (the form of Epley 1985,
           used here only to make numbers of a plausible size), give or take one. Body weight counts as 40 kg of load,
           a band as 1 kg whatever its level.
Bridge     A persona that `heeds_bridges` does of a bridge's heavier sets what the hidden load allows; another does
           them all.
Holds      A hidden time, 25 s above the first target, 3 s times `gain` longer with each session done, give or take 5 s.
Effort     Session RPE is 8 less the good reps left in the hardest exercise, give or take one. A persona that
           `misjudges` tells one good rep too many or too few in that share of its sets.
Coming     A session is done with the persona's `attends`, reported with `reports`, and from the week `quiet_from` on
           nothing is reported; 6 of 100 sessions are cut short by their last exercise and 8 minutes.
Minutes    A session takes 6 minutes less to 8 more than planned, 10 at least.
Pain       An episode starts in its week, at its site, with its score, and falls by one point a week, whatever is done.
           The next morning it is one point less.
Illness    A spell of days in which nothing is done, told on its first day. With fever it counts as fever or chest.
Holiday    A spell of days without training, known from the beginning of the season.
"""

from dataclasses import dataclass, field, replace
from datetime import date
from random import Random

from athletes.values import value_class
from athletes.vocabulary import Region, Side
from programs.engine.facts import Done, Load, Measure, Target
from programs.engine.kit import total_kg

GAIN_A_SESSION = 0.012
REPS_SPARE = (3, 8)
HOLD_SPARE_S, HOLD_GAIN_S = 25, 3
#: What "longer" means when it is asked whether a hold could have gone on.
HOLD_LONGER_S = 5
BODY_WEIGHT_LOAD = 40.0
REPS_AT_NOTHING = 30
CUT_SHORT = 0.06
#: Days without an exercise that cost nothing; beyond them the share of the hidden load, or the seconds, lost a week.
KEPT_DAYS, LOSS_A_WEEK, HOLD_LOSS_S = 14, 0.015, 3


@value_class
class Episode:
    """A pain that a synthetic rider gets: in which week of the season, where, how bad at first (0 to 10)."""

    week: int
    region: Region
    side: Side
    score: int


@value_class
class Spell:
    """Days away from training: an illness or a holiday. `from_day` counts from 0, the season's first Monday."""

    from_day: int
    days: int
    is_feverish: bool = False

    @property
    def until_day(self) -> int:
        """Its last day."""
        return self.from_day + self.days - 1

    def holds(self, day: int) -> bool:
        """Whether a day of the season lies in it."""
        return self.from_day <= day <= self.until_day


@value_class
class Persona:
    """How a synthetic rider responds. Probabilities are 0 to 1; `gain` multiplies the usual gain in strength, `ceiling`
    is the multiple of the first strength at which it ends (None: it never does)."""

    attends: float = 0.9
    reports: float = 0.95
    gain: float = 1.0
    quiet_from: int | None = None
    episodes: tuple[Episode, ...] = ()
    ceiling: float | None = None
    misjudges: float = 0.0
    spare: tuple[int, int] = REPS_SPARE
    heeds_bridges: bool = False
    illnesses: tuple[Spell, ...] = ()
    holidays: tuple[Spell, ...] = ()


@value_class
class SessionStory:
    """What a synthetic rider did in one session: None for `done` is an exercise left out for time."""

    done: tuple[Done | None, ...]
    minutes: int
    session_rpe: int
    cut_short: bool


#: An exercise and how it is loaded: each has a hidden strength of its own (H1).
type Key = tuple[str, str]


@dataclass
class Body:
    """The hidden state of one synthetic rider: by exercise and implement the load that could be lifted once, in kg, or
    for a hold the seconds; what it was at the first meeting; and when it was done last."""

    persona: Persona
    strength: dict[Key, float] = field(default_factory=dict)
    first: dict[Key, float] = field(default_factory=dict)
    done_on: dict[Key, date] = field(default_factory=dict)

    @classmethod
    def fresh(cls, persona: Persona) -> "Body":
        """A body that has met no exercise yet."""
        return cls(persona)

    # --- what befalls -----------------------------------------------------------------------------------------------

    def comes(self, week: int, generator: Random) -> bool:
        """Whether the rider trains on a day in the given week of the season, from 0."""
        return generator.random() < self.persona.attends

    def tells(self, week: int, generator: Random) -> bool:
        """Whether the rider reports what was done, or that nothing was."""
        return not self.is_quiet(week) and generator.random() < self.persona.reports

    def is_quiet(self, week: int) -> bool:
        """Whether the rider has stopped reporting by the given week."""
        return self.persona.quiet_from is not None and week >= self.persona.quiet_from

    def pain(self, week: int) -> tuple[tuple[Region, Side, int], ...]:
        """Sites that hurt in the given week, with their scores."""
        found = []
        for episode in self.persona.episodes:
            score = episode.score - (week - episode.week)
            if week >= episode.week and score > 0:
                found.append((episode.region, episode.side, score))
        return tuple(found)

    def illness(self, day: int) -> Spell | None:
        """The illness that holds a day of the season, if one does."""
        return next((spell for spell in self.persona.illnesses if spell.holds(day)), None)

    # --- training ---------------------------------------------------------------------------------------------------

    def train(
        self,
        targets: tuple[tuple[str, Target, bool], ...],
        minutes: int,
        generator: Random,
        on: date | None = None,
    ) -> SessionStory:
        """One session of (exercise, target, sided) targets that should take `minutes`, on a day where that is told."""
        short = generator.random() < CUT_SHORT
        keep = max(1, len(targets) - (1 if short else 0))
        done: list[Done | None] = [
            self.perform(exercise, target, sided, generator, on) for exercise, target, sided in targets[:keep]
        ]
        left = [one.reps_left for one in done if one is not None and one.reps_left is not None]
        hardest = min(left, default=3)
        rpe = max(1, min(10, 8 - hardest + generator.choice((-1, 0, 0, 1))))
        took = max(10, minutes + generator.randint(-6, 8) - (8 if short else 0))
        return SessionStory((*done, *([None] * (len(targets) - keep))), took, rpe, short)

    def perform(
        self, exercise: str, target: Target, sided: bool, generator: Random, on: date | None = None
    ) -> Done:
        """What was done of one target, and what it left behind in the body."""
        if target.measure is Measure.HOLD:
            return self._hold(exercise, target, sided, generator, on)
        key = (exercise, target.load.holding.implement.value if target.load else "none")
        load = _kg(target.load)
        if key not in self.strength:
            possible = target.amount + generator.randint(*self.persona.spare)
            self.strength[key] = load * (1 + possible / REPS_AT_NOTHING)
        self._lose(key, on)
        hidden = self.strength[key]
        possible = max(1, _reps(hidden, load) + generator.choice((-1, 0, 0, 1)))
        self.strength[key] = hidden * (1 + GAIN_A_SESSION * self.persona.gain * self._room(key))
        left = min(4, max(0, possible - target.amount))
        if self.persona.misjudges and generator.random() < self.persona.misjudges:
            left = min(4, max(0, left + generator.choice((-1, 1))))
        heavier = 0
        if target.bridge_sets and self.persona.heeds_bridges:
            heavier = min(target.bridge_amount, max(0, _reps(hidden, _kg(target.bridge_load))))
        return self._done(target, possible, sided, left, heavier)

    def _hold(self, exercise: str, target: Target, sided: bool, generator: Random, on: date | None) -> Done:
        key = (exercise, "hold")
        self.strength.setdefault(key, float(target.amount + HOLD_SPARE_S))
        self._lose(key, on)
        possible = max(5, round(self.strength[key]) + generator.randint(-5, 5))
        self.strength[key] += HOLD_GAIN_S * self.persona.gain
        done = self._done(target, possible, sided, None, 0)
        return replace(done, held_longer=possible >= target.amount + HOLD_LONGER_S)

    def _done(self, target: Target, possible: int, sided: bool, left: int | None, heavier: int) -> Done:
        straight = min(target.amount, possible)
        amounts = (straight,) * target.sets
        if target.bridge_sets and self.persona.heeds_bridges:
            amounts = (*amounts[target.bridge_sets :], *((heavier,) * target.bridge_sets))
        if sided:
            return Done(left_amounts=amounts, right_amounts=amounts, load=target.load, reps_left=left)
        return Done(amounts=amounts, load=target.load, reps_left=left)

    # --- gain and loss ----------------------------------------------------------------------------------------------

    def _room(self, key: Key) -> float:
        """The share of the usual gain that is still to be had, 1 at the first meeting."""
        ceiling = self.persona.ceiling
        first = self.first.setdefault(key, self.strength[key])
        if ceiling is None:
            return 1.0
        return max(0.0, 1 - (self.strength[key] / first - 1) / (ceiling - 1))

    def _lose(self, key: Key, on: date | None) -> None:
        """What a break has cost, down to the first meeting at most."""
        first = self.first.setdefault(key, self.strength[key])
        if on is None:
            return
        before = self.done_on.get(key, on)
        weeks = max(0, (on - before).days - KEPT_DAYS) / 7
        lost = HOLD_LOSS_S * weeks if key[1] == "hold" else self.strength[key] * LOSS_A_WEEK * weeks
        self.strength[key] = max(first, self.strength[key] - lost)
        self.done_on[key] = on


def _kg(load: Load | None) -> float:
    """What a load counts as in kg; a band counts as 1."""
    return max(float(total_kg(load)), 1.0) if load else BODY_WEIGHT_LOAD


def _reps(hidden: float, load: float) -> int:
    return round(REPS_AT_NOTHING * (hidden / load - 1))


def season_week(first: date, on: date) -> int:
    """How many whole weeks after the season's first Monday a day is, from 0."""
    return (on - first).days // 7
