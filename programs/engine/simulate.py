"""Synthetic riders: what somebody might do with a target, so that a season can be seen before it happens.

    body = Body.fresh(persona, random.Random(7))
    body.perform("goblet-squat", target, generator)

Every response here is an assumption of ours, declared and not measured; no published model of a club rider exists. The
generator is passed in: the same seed gives the same season.

Strength  For each exercise and implement a hidden load that could be lifted once. At the first meeting it is set so
          that a few more reps than asked are possible; each session done raises it by 1.2 % times the persona's `gain`.
Reps      As many as 30 x (hidden load / load - 1), the inverse of a linear reps-to-load rule (the form of Epley 1985,
          used here only to make numbers of a plausible size), give or take one.
Holds     A hidden time, 25 s above the first target, 3 s longer with each session done.
Effort    Session RPE rises as good reps left fall, give or take one.
Coming    A session is done with the persona's `attends`, reported with `reports`; some days are cut short.
Pain      An episode starts in its week, at its site, with its score, and falls by one point a week.
"""

from dataclasses import dataclass, field
from datetime import date
from random import Random

from athletes.vocabulary import Region, Side
from programs.engine.facts import Done, Measure, Target
from programs.engine.kit import total_kg

GAIN_A_SESSION = 0.012
REPS_SPARE = (3, 8)
HOLD_SPARE_S, HOLD_GAIN_S = 25, 3
BODY_WEIGHT_LOAD = 40.0
CUT_SHORT = 0.06


@dataclass(frozen=True, slots=True)
class Episode:
    """A pain that a synthetic rider gets: in which week of the season, where, how bad at first (0 to 10)."""

    week: int
    region: Region
    side: Side
    score: int


@dataclass(frozen=True, slots=True)
class Persona:
    """How a synthetic rider responds. Probabilities are 0 to 1; `gain` multiplies the usual gain in strength."""

    attends: float = 0.9
    reports: float = 0.95
    gain: float = 1.0
    quiet_from: int | None = None
    episodes: tuple[Episode, ...] = ()


@dataclass(frozen=True, slots=True)
class SessionStory:
    """What a synthetic rider did in one session: None for `done` is an exercise left out for time."""

    done: tuple[Done | None, ...]
    minutes: int
    session_rpe: int
    cut_short: bool


@dataclass
class Body:
    """The hidden state of one synthetic rider."""

    persona: Persona
    strength: dict[tuple[str, str], float] = field(default_factory=dict)

    def comes(self, week: int, generator: Random) -> bool:
        """Whether the rider trains on a day in the given week of the season, from 0."""
        return generator.random() < self.persona.attends

    def tells(self, week: int, generator: Random) -> bool:
        """Whether the rider reports what was done, or that nothing was."""
        quiet = self.persona.quiet_from is not None and week >= self.persona.quiet_from
        return not quiet and generator.random() < self.persona.reports

    def pain(self, week: int) -> tuple[tuple[Region, Side, int], ...]:
        """Sites that hurt in the given week, with their scores."""
        found = []
        for episode in self.persona.episodes:
            score = episode.score - (week - episode.week)
            if week >= episode.week and score > 0:
                found.append((episode.region, episode.side, score))
        return tuple(found)

    def train(
        self, targets: tuple[tuple[str, Target, bool], ...], minutes: int, generator: Random
    ) -> SessionStory:
        """One session of (exercise, target, sided) targets that should take `minutes`."""
        short = generator.random() < CUT_SHORT
        keep = max(1, len(targets) - (1 if short else 0))
        done: list[Done | None] = [
            self.perform(exercise, target, sided, generator) for exercise, target, sided in targets[:keep]
        ]
        left = [one.reps_left for one in done if one is not None and one.reps_left is not None]
        hardest = min(left, default=3)
        rpe = max(1, min(10, 8 - hardest + generator.choice((-1, 0, 0, 1))))
        took = max(10, minutes + generator.randint(-6, 8) - (8 if short else 0))
        return SessionStory((*done, *([None] * (len(targets) - keep))), took, rpe, short)

    def perform(self, exercise: str, target: Target, sided: bool, generator: Random) -> Done:
        """What was done of one target, and what it left behind in the body."""
        if target.measure is Measure.HOLD:
            return self._hold(exercise, target, sided, generator)
        key = (exercise, target.load.holding.implement.value if target.load else "none")
        load = max(float(total_kg(target.load)), 1.0) if target.load else BODY_WEIGHT_LOAD
        if key not in self.strength:
            possible = target.amount + generator.randint(*REPS_SPARE)
            self.strength[key] = load * (1 + possible / 30)
        possible = max(1, round(30 * (self.strength[key] / load - 1)) + generator.choice((-1, 0, 0, 1)))
        self.strength[key] *= 1 + GAIN_A_SESSION * self.persona.gain
        return _done(target, possible, sided, min(4, max(0, possible - target.amount)))

    def _hold(self, exercise: str, target: Target, sided: bool, generator: Random) -> Done:
        key = (exercise, "hold")
        self.strength.setdefault(key, float(target.amount + HOLD_SPARE_S))
        possible = max(5, round(self.strength[key]) + generator.randint(-5, 5))
        self.strength[key] += HOLD_GAIN_S * self.persona.gain
        return _done(target, possible, sided, None)


def _done(target: Target, possible: int, sided: bool, reps_left: int | None) -> Done:
    amounts = (min(target.amount, possible),) * target.sets
    if sided:
        return Done(left_amounts=amounts, right_amounts=amounts, load=target.load, reps_left=reps_left)
    return Done(amounts=amounts, load=target.load, reps_left=reps_left)


def season_week(first: date, on: date) -> int:
    """How many whole weeks after the season's first Monday a day is, from 0."""
    return (on - first).days // 7
