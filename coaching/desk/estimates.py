"""What a rider's check-ins say of a maximum, of holds and of where figures go, in words (rules P11 and M4).

For adults, and for who may see health: what has no estimate because it loads a sore site would tell of the site by
being left out. Nothing here is read by the engine, and no target is made from it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from athletes.concerns import BodyState
from athletes.models import Rider
from coaching.desk.words import pattern_words, unit_of
from programs import wording
from programs.engine import facts as engine
from programs.engine.estimates import SetEstimate, best_estimates, best_holds, set_estimates
from programs.engine.load import TREND_POINTS
from programs.engine.monitoring import trends_of
from programs.engine.quantities import Unit, kg_to_pounds, shown_mass
from programs.engine.strength import age_limits
from programs.engine.trends import Watched, WatchedTrend


@dataclass(frozen=True, slots=True)
class MaximumRow:
    """The best estimate of one exercise with one implement: the middle value, its spread, the set, and the trend."""

    exercise: str
    implement: str
    maximum: str
    spread: str
    made_from: str
    trend: str


@dataclass(frozen=True, slots=True)
class HoldRow:
    """The longest hold of one exercise, its day, and the trend."""

    exercise: str
    longest: str
    day: str
    trend: str


@dataclass(frozen=True, slots=True)
class Figures:
    """What stands under *Estimates* and under *Load*: nothing of the first for who may not see it."""

    maxima: tuple[MaximumRow, ...] = ()
    holds: tuple[HoldRow, ...] = ()
    #: What each trend is of, and the trend in a sentence.
    trends: tuple[tuple[str, str], ...] = ()
    are_estimated: bool = False


def read_figures(
    rider: Rider,
    *,
    exposures: Sequence[engine.Exposure],
    sessions: Sequence[engine.SessionRecord],
    library: engine.Library,
    state: BodyState | None,
    weeks: Sequence[engine.Week],
    names: Mapping[str, str],
    today: date,
) -> Figures:
    """The figures of one rider. `state` is that of the body, `None` for who may not see health; `weeks` are whole ones.

    Without a query. Estimates and holds are for adults; trends of sets and session load are for everybody.
    """
    limits = age_limits(engine.Rider(rider.youngest_age(today), rider.oldest_age(today)))
    made: tuple[SetEstimate, ...] = ()
    if state is not None:
        made = set_estimates(exposures, library, limits=limits, state=state, on=today)
    trends = trends_of(exposures, sessions, library, estimates=made, weeks=weeks, today=today)
    unit = unit_of(rider)
    folded = tuple(
        (_name_of(one), _weeks_trend(one)) for one in trends if one.what in (Watched.SETS, Watched.LOAD)
    )
    if state is None or limits.under_18:
        return Figures(trends=folded)
    best = best_estimates(exposures, library, limits=limits, state=state, on=today)
    return Figures(
        maxima=tuple(_maximum_row(one, trends, names, unit) for one in best),
        holds=tuple(
            HoldRow(
                exercise=names.get(one.exercise, one.exercise),
                longest=f"{one.seconds} s",
                day=_day(one.on),
                trend=_sessions_trend(_found(trends, Watched.HOLD, one.exercise), _seconds),
            )
            for one in best_holds(exposures, library, state=state, on=today)
        ),
        trends=folded,
        are_estimated=True,
    )


def _maximum_row(
    one: SetEstimate, trends: Iterable[WatchedTrend], names: Mapping[str, str], unit: Unit
) -> MaximumRow:
    trend = next(
        (
            other
            for other in trends
            if (other.what, other.of, other.holding) == (Watched.MAXIMUM, one.exercise, one.holding)
        ),
        None,
    )
    each = f"{one.holding.count} x " if one.holding.count > 1 else ""
    left = ngettext("{count} good rep left", "{count} good reps left", one.reps_left).format(
        count=one.reps_left
    )
    return MaximumRow(
        exercise=names.get(one.exercise, one.exercise),
        implement=wording.implement_words(one.load),
        maximum=each + _mass(one.estimate.kg, unit),
        spread=_unbroken(
            _("{low} to {high}").format(
                low=_whole(one.estimate.low, unit), high=_mass(one.estimate.high, unit)
            )
        ),
        made_from=wording.keep_together(
            _("{reps} x {load}, {left}, {day}").format(
                reps=one.amount, load=wording.load_words(one.load, unit), left=left, day=_day(one.on)
            )
        ),
        trend=_sessions_trend(trend, lambda value: _slope(value, unit)),
    )


def _day(on: date) -> str:
    return _unbroken(date_format(on, pgettext("date format", "j F")))


def _unbroken(words: str) -> str:
    return words.replace(" ", "\N{NO-BREAK SPACE}")


def _found(trends: Iterable[WatchedTrend], what: Watched, of: str) -> WatchedTrend | None:
    return next((one for one in trends if (one.what, one.of) == (what, of)), None)


# --- masses as they are read: a whole kilogram or pound, since an estimate knows no more ------------------------------


def _whole(kg: Decimal, unit: Unit) -> str:
    return format(shown_mass(kg, unit, places=0), "f")


def _mass(kg: Decimal, unit: Unit) -> str:
    return f"{_whole(kg, unit)} {unit}"


def _slope(kg: Decimal, unit: Unit) -> str:
    return f"{_tenths(kg_to_pounds(kg) if unit == 'lb' else kg)} {unit}"


def _seconds(value: Decimal) -> str:
    return f"{_tenths(value)} s"


def _tenths(value: Decimal) -> str:
    """One decimal, none where it is idle, with a true minus sign."""
    text = f"{value:.1f}".removesuffix(".0").replace("-", "−")
    return "0" if text == "−0" else text


# --- a trend in one sentence ------------------------------------------------------------------------------------------


def _sessions_trend(trend: WatchedTrend | None, in_words: Callable[[Decimal], str]) -> str:
    if trend is None:
        return _("No trend yet: fewer than {count} such sessions.").format(count=TREND_POINTS)
    over = ngettext("{count} session", "{count} sessions", trend.points).format(count=trend.points)
    return _sentence(trend, over, in_words)


def _weeks_trend(trend: WatchedTrend) -> str:
    over = ngettext("{count} week", "{count} weeks", trend.points).format(count=trend.points)
    return _sentence(trend, over, _sets if trend.what is Watched.SETS else _tenths)


def _sets(value: Decimal) -> str:
    return _("{count} sets").format(count=_tenths(value))


def _sentence(trend: WatchedTrend, over: str, in_words: Callable[[Decimal], str]) -> str:
    # What falls is told without signs, its interval from the smaller fall to the larger.
    falls = trend.is_clear and trend.slope < 0
    low, high = (-trend.high, -trend.low) if falls else (trend.low, trend.high)
    figures = {
        "change": in_words(abs(trend.slope)),
        "low": in_words(low).split(" ")[0],  # the unit stands after the other end
        "high": in_words(high),
        "over": over,
    }
    if {_tenths(value) for value in (trend.slope, trend.low, trend.high)} == {"0"}:
        return _("No change over {over}.").format(over=over)
    if not trend.is_clear:
        words = _("No clear change over {over}: {low} to {high} a week (95 % interval).")
    elif not falls:
        words = _("Rising by {change} a week over {over} (95 % interval {low} to {high}).")
    else:
        words = _("Falling by {change} a week over {over} (95 % interval {low} to {high}).")
    return wording.keep_together(words.format(**figures))


def _name_of(trend: WatchedTrend) -> str:
    return _("Session load") if trend.what is Watched.LOAD else pattern_words(trend.of)
