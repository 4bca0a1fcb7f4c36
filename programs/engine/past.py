"""What a rider did, put in the orders that the rules of a week look at it in (rules H1, P10).

Made once a week and only looked at: whatever bears on the body, the past is the same.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from itertools import pairwise
from statistics import median

from athletes.vocabulary import Pattern
from programs.engine.facts import Exposure, Library, SessionState, Week, WeekFacts
from programs.engine.families import pattern_of
from programs.engine.history import was_trained
from programs.engine.layoff import REPEAT_DAYS, SHORT_DAYS, Gap, gap_before
from programs.engine.quantities import week_of
from programs.engine.target_facts import lowest

#: From how many days on a pattern left out counts as a break although the rider trained others meanwhile (P10, ours).
PATTERN_MISSED_DAYS = 21
NORMAL_WEEKS = 4
FIRST_DAYS = timedelta(weeks=1)
#: The least that can be a break (P10).
A_BREAK = timedelta(days=REPEAT_DAYS)


@dataclass
class Past:
    """The exposures and sessions of a rider's facts, by exercise and by pattern."""

    facts: WeekFacts
    library: Library
    _gaps: dict[tuple[Pattern, date, date | None], Gap | None] = field(default_factory=dict)

    @cached_property
    def by_exercise(self) -> dict[str, tuple[Exposure, ...]]:
        groups: dict[str, list[Exposure]] = defaultdict(list)
        for exposure in self.facts.exposures:
            groups[exposure.exercise].append(exposure)
        return {slug: tuple(rows) for slug, rows in groups.items()}

    @cached_property
    def trained(self) -> tuple[Exposure, ...]:
        """Those of which anything is known to have been done: the rest does not count (P10, H3)."""
        return tuple(one for one in self.facts.exposures if was_trained(one))

    @cached_property
    def by_pattern(self) -> dict[Pattern, list[Exposure]]:
        """What is known to have been trained of each pattern, oldest first."""
        groups: dict[Pattern, list[Exposure]] = {}
        # One list for all exercises of a pattern, found by their names.
        rows: dict[str, list[Exposure]] = {}
        for slug in self.by_exercise:
            pattern = pattern_of(self.library, slug)
            rows[slug] = [] if pattern is None else groups.setdefault(pattern, [])
        for exposure in self.trained:
            rows[exposure.exercise].append(exposure)
        return groups

    @cached_property
    def active_on(self) -> tuple[date, ...]:
        """The days on which the rider is known to have trained anything, ascending."""
        return tuple(sorted({one.on for one in self.trained}))

    @cached_property
    def _days(self) -> dict[Pattern, tuple[date, ...]]:
        """The days on which each pattern was trained, ascending."""
        return {pattern: tuple(sorted({one.on for one in rows})) for pattern, rows in self.by_pattern.items()}

    @cached_property
    def _ahead(self) -> tuple[tuple[date, frozenset[Pattern]], ...]:
        """The sessions that have gone out and are still to come, with what they ask for."""
        return tuple(
            (record.planned_on, record.patterns)
            for record in self.facts.sessions
            if record.state is SessionState.PLANNED and record.planned_on >= self.facts.today
        )

    def gap_of(self, pattern: Pattern, session_on: date, given_on: date | None = None) -> Gap | None:
        """The break in the pattern that a session on that day comes back from, as `context` says under P10. `given_on`
        is the first day of the week on which it is given already."""
        key = (pattern, session_on, given_on)
        if key not in self._gaps:
            self._gaps[key] = self._find_gap(*key)
        return self._gaps[key]

    def _find_gap(self, pattern: Pattern, session_on: date, given_on: date | None) -> Gap | None:
        trained = self._days.get(pattern)
        if not trained:
            return None
        ahead = {on for on, patterns in self._ahead if pattern in patterns}
        if given_on is not None:
            ahead.add(given_on)
        days = [on for on in trained if on < session_on]
        if ahead:
            days = sorted({*days, *(on for on in ahead if on < session_on)})
        if all(later - earlier < A_BREAK for earlier, later in pairwise([*days, session_on])):
            return None
        return gap_before([*days, *self._kept_going(days, session_on)], session_on)

    def _kept_going(self, days: list[date], session_on: date) -> list[date]:
        """Days that make a short break in one pattern, in which the rider trained others, a break to repeat after."""
        return [
            later - timedelta(days=SHORT_DAYS - 1)
            for earlier, later in pairwise([*days, session_on])
            if SHORT_DAYS <= (later - earlier).days < PATTERN_MISSED_DAYS
            and any(earlier < on < later for on in self.active_on)
        ]

    def usual_sets(self, pattern: Pattern, gap: Gap | None, session_on: date) -> Decimal | None:
        """The pattern's sets in a normal week, in a return less what has been done since; `None` without one (P10)."""
        trained = self.by_pattern.get(pattern, [])
        normal = [one for one in trained if not one.light] or trained
        before = [one for one in normal if gap is None or one.on <= gap.since]
        # A return that a new break has interrupted goes by what was less, before it or in it.
        usual = lowest(_weekly_sets(before), _weekly_sets(normal))
        if usual is None:
            return None
        if gap is not None and gap.days >= SHORT_DAYS and gap.week == 1:
            back = (one for one in trained if one.on > gap.since and session_on - one.on < FIRST_DAYS)
            usual = max(Decimal(0), usual - 2 * sum(one.target.sets for one in back))
        return usual


def _weekly_sets(exposures: Sequence[Exposure]) -> Decimal | None:
    """The median of the weekly sets of the last four weeks in which there are any (P10)."""
    weekly: dict[Week, int] = defaultdict(int)
    for one in exposures:
        weekly[week_of(one.on)] += one.target.sets
    return Decimal(median(sets for _week, sets in sorted(weekly.items())[-NORMAL_WEEKS:])) if weekly else None
