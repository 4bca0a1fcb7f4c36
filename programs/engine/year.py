"""The year laid out backwards from priority races (rule Y3).

Y3  Counting back from each priority race that is tapered for: race week, taper, and before those build; maintain in
    the racing months once it is earned (P8), rebuild where 6 to under 10 weeks lie between two priority races (P9),
    rest in absences, return after 14 days away (P10), learn at the start. A week has one phase and says why. It is a
    forecast: every session counts as done, two in each week that is not rest, race week, maintain or holds a race.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

from athletes.values import value_class
from athletes.vocabulary import Figure, Reason
from programs.engine.facts import Absence, Phase, Race, Week
from programs.engine.history import LEARN_AGAIN_DAYS
from programs.engine.layoff import SHORT_DAYS, return_weeks
from programs.engine.quantities import shift_week, week_days, week_name, week_of, weeks_between
from programs.engine.races import RaceDiary, diary_of, is_racing_time, race_majority, rebuild_after
from programs.engine.season import (
    MAINTAIN_AFTER_WEEKS,
    MAINTAIN_LOST_AFTER_DAYS,
    MOST_OF_WEEK,
    days_away,
)

#: Six sessions at two a week (S2).
LEARNING_WEEKS: Final = 3

REASONS: dict[str, str] = {
    "laid-rest": "{days} days of this week away: rest.",
    "laid-race-week": "{days} days of this week are the last before {race}: race week.",
    "laid-taper": "{days} days of this week lie one to two weeks before {race}: taper.",
    "laid-maintain": "Racing time after {weeks} weeks at two sessions: maintain.",
    "laid-build": "{weeks} weeks to {race}: build.",
    "laid-build-racing": "Racing time, but {weeks} of {needed} weeks at two sessions come before: build.",
    "laid-build-no-race": "No priority race ahead: build.",
    "laid-rebuild": "{weeks} weeks between {race} and the next priority race: rebuild.",
    "laid-learn": "Week {week} of {weeks} of learning.",
    "laid-learn-again": "Week {week} back after {days} days away: the movements are learned again.",
    "laid-return": "Week {week} back after {days} days away: return.",
}


@value_class
class LaidWeek:
    """One week of the year laid out, with its one phase and why (Y3)."""

    week: Week
    phase: Phase
    reasons: tuple[Reason, ...]


def lay_out(
    *,
    races: Sequence[Race],
    first: Week,
    last: Week,
    absences: Sequence[Absence] = (),
    learning_weeks: int = LEARNING_WEEKS,
    weeks_at_two: int = 0,
) -> tuple[LaidWeek, ...]:
    """The phase of every week from `first` to `last`, both included (Y3).

    `learning_weeks` are still to come at the start; `weeks_at_two` are already done, which earn maintaining (P8).
    Raises `ValueError` when `last` lies before `first`.
    """
    if last < first:
        raise ValueError(f"the last week, {week_name(last)}, lies before the first, {week_name(first)}")
    diary, breaks = diary_of(races), _breaks(absences)
    laid = []
    learned, at_two = 0, weeks_at_two
    for by in range(weeks_between(first, last) + 1):
        week = shift_week(first, by)
        days = week_days(week)
        if any(pause.lost_on in days for pause in breaks):
            at_two = 0
        phase, why = (
            _away_or_back(week, days, absences, breaks)
            or _racing(days, diary)
            or _learning(learned + 1, learning_weeks)
            or _maintaining(days, diary, at_two)
            or _building(days, diary)
        )
        learned += phase is Phase.LEARN and why.rule == "S2"
        has_race = any(days[0] <= race.on <= days[6] for race in diary.racing)
        at_two += phase not in (Phase.REST, Phase.RACE_WEEK, Phase.MAINTAIN) and not has_race
        laid.append(LaidWeek(week, phase, (why,)))
    return tuple(laid)


@value_class
class _Break:
    """A time away of 14 days or more, absences that touch counting as one. `lost_on` is the day on which what earned
    maintaining is lost (P8), when it is that long."""

    from_on: date
    until_on: date

    @property
    def days(self) -> int:
        return (self.until_on - self.from_on).days + 1

    @property
    def lost_on(self) -> date | None:
        lost_on = self.from_on + timedelta(days=MAINTAIN_LOST_AFTER_DAYS - 1)
        return lost_on if lost_on <= self.until_on else None


def _breaks(absences: Sequence[Absence]) -> list[_Break]:
    merged: list[_Break] = []
    for absence in sorted(absences, key=lambda item: item.from_on):
        if merged and absence.from_on <= merged[-1].until_on + timedelta(days=1):
            merged[-1] = _Break(merged[-1].from_on, max(merged[-1].until_on, absence.until_on))
        else:
            merged.append(_Break(absence.from_on, absence.until_on))
    return [pause for pause in merged if pause.days >= SHORT_DAYS]


def _away_or_back(
    week: Week, days: Sequence[date], absences: Sequence[Absence], breaks: Sequence[_Break]
) -> tuple[Phase, Reason] | None:
    """Rest in a week mostly away, then return or learning again (Y1, P10). Being back counts from the first week that
    is not mostly away."""
    away = days_away(days, absences)
    if away >= MOST_OF_WEEK:
        return Phase.REST, Reason("Y1", "laid-rest", {"days": away})
    ended = [pause for pause in breaks if pause.until_on < days[MOST_OF_WEEK - 1]]
    if not ended:
        return None
    pause = max(ended, key=lambda item: item.until_on)
    back = weeks_between(week_of(pause.until_on + timedelta(days=MOST_OF_WEEK)), week) + 1
    figures: dict[str, Figure] = {"week": back, "days": pause.days}
    if pause.days >= LEARN_AGAIN_DAYS:
        if back <= LEARNING_WEEKS:
            return Phase.LEARN, Reason("P10", "laid-learn-again", figures)
    elif back <= return_weeks(pause.days):
        return Phase.RETURN, Reason("P10", "laid-return", figures)
    return None


def _racing(days: Sequence[date], diary: RaceDiary) -> tuple[Phase, Reason] | None:
    phase, race, count = race_majority(diary, days)
    if phase is None or race is None or count < MOST_OF_WEEK:
        return None
    key = "laid-race-week" if phase is Phase.RACE_WEEK else "laid-taper"
    return phase, Reason("P9", key, {"days": count, "race": race.name})


def _learning(week: int, weeks: int) -> tuple[Phase, Reason] | None:
    return (
        (Phase.LEARN, Reason("S2", "laid-learn", {"week": week, "weeks": weeks})) if week <= weeks else None
    )


def _maintaining(days: Sequence[date], diary: RaceDiary, at_two: int) -> tuple[Phase, Reason] | None:
    if not is_racing_time(diary, days[0], days[6]):
        return None
    if at_two >= MAINTAIN_AFTER_WEEKS:
        return Phase.MAINTAIN, Reason("P8", "laid-maintain", {"weeks": at_two})
    return Phase.BUILD, Reason("P8", "laid-build-racing", {"weeks": at_two, "needed": MAINTAIN_AFTER_WEEKS})


def _building(days: Sequence[date], diary: RaceDiary) -> tuple[Phase, Reason]:
    rebuild = rebuild_after(diary, days[0])
    if rebuild is not None:
        return Phase.BUILD, Reason("P9", "laid-rebuild", {"race": rebuild[0].name, "weeks": rebuild[1]})
    ahead = next((race for race in diary.priority if race.on >= days[0]), None)
    if ahead is None:
        return Phase.BUILD, Reason("Y3", "laid-build-no-race")
    weeks = (ahead.on - days[0]).days // 7
    return Phase.BUILD, Reason("Y3", "laid-build", {"weeks": weeks, "race": ahead.name})
