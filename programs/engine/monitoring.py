"""What is watched over weeks, in one answer (rules M1 to M4 and P11): load by week, what was missed, trends, estimates.

Nothing here decides anything: no target is made from it, nothing is scored, and no figure stands for a risk (M2).
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Context, Decimal

from athletes.concerns import Baseline, BodyReport, BodyState, Concern, Matter, SymptomReport
from athletes.triage import assess
from athletes.values import value_class
from programs.engine.estimates import (
    BestHold,
    SetEstimate,
    best_estimates,
    best_holds,
    set_estimates,
)
from programs.engine.facts import Exposure, Library, Rider, SessionRecord, SessionState, Week
from programs.engine.load import WeekLoad, is_missed, silence, week_loads
from programs.engine.quantities import plain, shift_week, week_of
from programs.engine.strength import AgeLimits, age_limits
from programs.engine.trends import (
    Watched,
    WatchedTrend,
    hold_readings,
    load_readings,
    maximum_readings,
    set_readings,
    trend_of,
)

_CONTEXT = Context(prec=28)
_PLACES = Decimal("0.0001")


@value_class
class MonitorQuestion:
    """What is known of a rider up to `today`: ages as a birth year leaves them, sessions, what was done, the body.

    `weeks` is how many weeks back the load is told, the running one included. `sessions` and `exposures` are oldest
    first; what `library` does not hold is left aside. `reports`, `symptoms`, `matters` and `baselines` are what bears
    on the body: an exercise that loads a site with a gate on it gets no estimate.
    """

    today: date
    youngest_age: int
    oldest_age: int
    library: Library = Library(())
    sessions: tuple[SessionRecord, ...] = ()
    exposures: tuple[Exposure, ...] = ()
    reports: tuple[BodyReport, ...] = ()
    symptoms: tuple[SymptomReport, ...] = ()
    matters: tuple[Matter, ...] = ()
    baselines: tuple[Baseline, ...] = ()
    weeks: int = 8


@value_class
class Missed:
    """A session that was sent and not heard of by the end of the day after it (M3)."""

    week: Week
    ordinal: int
    planned_on: date


@value_class
class Monitoring:
    """What was watched: `loads` by week, oldest first, `missed` sessions, the `concern` that a coach should look at,
    `trends` with their intervals, the best `estimates` of a maximum and the best `holds` of the last 56 days.

    Monotony, strain and changes are rounded half-up to four places.
    """

    loads: tuple[WeekLoad, ...]
    missed: tuple[Missed, ...]
    concern: Concern | None
    trends: tuple[WatchedTrend, ...]
    estimates: tuple[SetEstimate, ...]
    holds: tuple[BestHold, ...]


def monitor(asked: MonitorQuestion) -> Monitoring:
    """Everything that is watched of one rider. Raises `ValueError` for fewer than 1 or more than 104 weeks."""
    if not 1 <= asked.weeks <= 104:
        raise ValueError(f"weeks: 1 to 104 can be told, not {asked.weeks}")
    if not 0 <= asked.youngest_age <= asked.oldest_age:
        raise ValueError("the youngest age must not lie above the oldest")
    running = week_of(asked.today)
    weeks = [shift_week(running, -ago) for ago in range(asked.weeks - 1, -1, -1)]
    state = _state(asked)
    return Monitoring(
        loads=tuple(_rounded(one) for one in week_loads(asked.sessions, weeks, today=asked.today)),
        missed=missed(asked.sessions, asked.today),
        concern=silence(asked.sessions, asked.today),
        trends=trends_of(
            asked.exposures,
            asked.sessions,
            asked.library,
            estimates=_estimates(asked, state),
            weeks=weeks[:-1],
            today=asked.today,
        ),
        estimates=best_estimates(
            asked.exposures, asked.library, limits=_limits(asked), state=state, on=asked.today
        ),
        holds=best_holds(asked.exposures, asked.library, state=state, on=asked.today),
    )


def missed(records: Sequence[SessionRecord], today: date) -> tuple[Missed, ...]:
    """The sent sessions that count as missed on a day, oldest first (M3)."""
    unheard = (one for one in records if one.state in (SessionState.SILENT, SessionState.PLANNED))
    late = (one for one in unheard if is_missed(one.planned_on, reported=False, today=today))
    return tuple(
        Missed(one.week, one.ordinal, one.planned_on)
        for one in sorted(late, key=lambda one: (one.planned_on, one.ordinal))
    )


def trends_of(
    exposures: Sequence[Exposure],
    sessions: Sequence[SessionRecord],
    library: Library,
    *,
    estimates: Sequence[SetEstimate],
    weeks: Sequence[Week],
    today: date,
) -> tuple[WatchedTrend, ...]:
    """Every trend that there is: of estimated maxima, holds, sets by pattern and session load (M4). `weeks` are whole
    ones, in order; holds and estimates count up to `today`."""
    past = [one for one in exposures if one.on <= today]
    found = [
        *(
            trend_of(Watched.MAXIMUM, slug, readings, holding)
            for (slug, holding), readings in maximum_readings(estimates).items()
        ),
        *(trend_of(Watched.HOLD, slug, readings) for slug, readings in hold_readings(past, library).items()),
        *(
            trend_of(Watched.SETS, pattern.value, readings)
            for pattern, readings in set_readings(past, library, weeks).items()
        ),
        trend_of(Watched.LOAD, "", load_readings(sessions, weeks)),
    ]
    return tuple(one for one in found if one is not None)


def _limits(asked: MonitorQuestion) -> AgeLimits:
    return age_limits(Rider(asked.youngest_age, asked.oldest_age))


def _state(asked: MonitorQuestion) -> BodyState:
    done = (one for one in asked.sessions if one.state in (SessionState.DONE, SessionState.PART))
    return assess(
        asked.reports,
        asked.symptoms,
        asked.matters,
        asked.baselines,
        on=asked.today,
        under_18=asked.youngest_age < 18,
        sessions_done=tuple(one.done_on or one.planned_on for one in done),
    )


def _estimates(asked: MonitorQuestion, state: BodyState) -> tuple[SetEstimate, ...]:
    return set_estimates(asked.exposures, asked.library, limits=_limits(asked), state=state, on=asked.today)


def _rounded(one: WeekLoad) -> WeekLoad:
    return replace(
        one,
        monotony=_shown(one.monotony),
        strain=_shown(one.strain),
        change_percent=_shown(one.change_percent),
    )


def _shown(value: Decimal | None) -> Decimal | None:
    if value is None:
        return None
    return plain(value.quantize(_PLACES, rounding=ROUND_HALF_UP, context=_CONTEXT))
