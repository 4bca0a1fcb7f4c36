"""What races do to the days and weeks around them (rules P9 and Y1 as they read the race diary).

P9  Before a priority race the days are counted back from it: from 13 to 7 days before, sets are cut 40 %; from 6 days
    before to the race, 60 %, with one session. S: Bosquet 2007, 41 to 60 % of volume over two weeks in endurance
    training: for strength work an extrapolation. Load is kept. Tapers are at least 6 weeks apart: the earlier race
    keeps its taper, since what is done cannot be undone by a race entered later (ours). The hours that legs rest
    before a race hold for every race, tapered for or not, and are in `spots`.
Y1  The racing months are the time between two races less than 6 weeks apart; minor races do not count (ours).
P9  Between two seasons, that is from one priority race to the next: under 6 weeks maintain, 6 to under 10 rebuild from
    10 % less load, 10 or more build (practice; the numbers are ours).
"""

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import Final

from athletes.values import value_class
from athletes.vocabulary import RacePriority
from programs.engine.facts import Phase, Race

#: Days before a priority race that are taper or race week (P9).
TAPER_DAYS: Final = range(7, 14)
RACE_WEEK_DAYS: Final = range(7)
TAPER_CUT: Final = 40
RACE_WEEK_CUT: Final = 60
#: Least days between two races that are both tapered for, and least between racing months.
SIX_WEEKS: Final = 42
TEN_WEEKS: Final = 70
REBUILD_LOAD_CUT: Final = 10


@value_class
class RaceDiary:
    """The races in order: `tapered` are the priority races that are tapered for, `priority` all priority ones and
    `racing` those that make racing months (priority and other)."""

    tapered: tuple[Race, ...]
    priority: tuple[Race, ...]
    racing: tuple[Race, ...]


def diary_of(races: Sequence[Race]) -> RaceDiary:
    """The race diary, with the tapers chosen at least 6 weeks apart (P9)."""
    ordered = sorted(races, key=lambda race: (race.on, race.start, race.name))
    priority = tuple(race for race in ordered if race.priority is RacePriority.PRIORITY)
    tapered: list[Race] = []
    for race in priority:
        if not tapered or (race.on - tapered[-1].on).days >= SIX_WEEKS:
            tapered.append(race)
    racing = tuple(race for race in ordered if race.priority is not RacePriority.MINOR)
    return RaceDiary(tuple(tapered), priority, racing)


def race_phase_on(diary: RaceDiary, on: date) -> tuple[Phase, Race] | None:
    """Whether a day is of a taper or of a race week, and before which race (P9); None when neither."""
    for race in diary.tapered:
        before = (race.on - on).days
        if before in RACE_WEEK_DAYS:
            return Phase.RACE_WEEK, race
        if before in TAPER_DAYS:
            return Phase.TAPER, race
    return None


def race_majority(diary: RaceDiary, days: Sequence[date]) -> tuple[Phase | None, Race | None, int]:
    """The race phase of most of the days, its race and how many days they are."""
    counts: dict[tuple[Phase, Race], int] = {}
    for on in days:
        found = race_phase_on(diary, on)
        if found is not None:
            counts[found] = counts.get(found, 0) + 1
    if not counts:
        return None, None, 0
    (phase, race), count = max(counts.items(), key=lambda item: item[1])
    return phase, race, count


def cut_on(diary: RaceDiary, on: date) -> int | None:
    """Percent of sets to cut on a day for a race to come (P9): 40, 60, or None."""
    found = race_phase_on(diary, on)
    if found is None:
        return None
    return TAPER_CUT if found[0] is Phase.TAPER else RACE_WEEK_CUT


def is_racing_time(diary: RaceDiary, first: date, last: date) -> bool:
    """Whether the days from `first` to `last` touch racing months (Y1)."""
    dates = [race.on for race in diary.racing]
    return any(
        earlier <= last and first <= later and (later - earlier).days < SIX_WEEKS
        for earlier, later in pairwise(dates)
    )


def rebuild_after(diary: RaceDiary, on: date) -> tuple[Race, int] | None:
    """The last priority race before a day and the weeks from it to the next one, when that is 6 to under 10: the time
    to rebuild from 10 % less (P9)."""
    for earlier, later in pairwise(diary.priority):
        if earlier.on < on <= later.on and SIX_WEEKS <= (later.on - earlier.on).days < TEN_WEEKS:
            return earlier, (later.on - earlier.on).days // 7
    return None
