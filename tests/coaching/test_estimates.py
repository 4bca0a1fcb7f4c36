"""The rider's page: estimates, holds and trends in words, for adults and for who may see health (P11, M4)."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from athletes import access
from athletes.concerns import BodyState, Gate, SiteGate
from athletes.models import Rider
from athletes.vocabulary import Implement, Reason, Region, Side
from coaching.desk.estimates import Figures, read_figures
from programs import wording
from programs.engine.facts import Done, Exposure, Holding, Load, Measure, SessionRecord, SessionState, Target
from programs.engine.quantities import shift_week, week_of
from programs.models import CheckInVersion, ItemReport
from tests import people
from tests.coaching.desks import friday, past_week, report_pain, signed_in
from tests.engine.shipped import shipped

__all__ = ["friday"]

TODAY = date(2026, 11, 27)
DAYS = [TODAY - timedelta(days=ago) for ago in (37, 30, 23, 16, 9, 2)]
WEEKS = [shift_week(week_of(TODAY), -ago) for ago in range(7, 0, -1)]
BELL, PAIR = Holding(Implement.KETTLEBELL), Holding(Implement.DUMBBELL, 2)
WELL = BodyState()
KNEE = BodyState(gates=(SiteGate(Region.KNEE, Side.LEFT, Gate.HOLD, ()),))


def lifted(
    on: date, reps: int, kg: str = "20", *, slug: str = "goblet-squat", holding: Holding = BELL
) -> Exposure:
    load = Load(holding, kg=Decimal(kg))
    return Exposure(on, slug, Target(Measure.REPS, 3, reps, load), Done((reps,) * 3, load=load, reps_left=2))


def held(on: date, seconds: int) -> Exposure:
    return Exposure(on, "forearm-plank", Target(Measure.HOLD, 2, seconds), Done((seconds, seconds - 5)))


def plain(words: str) -> str:
    """The words with breaking spaces."""
    return words.replace("\N{NO-BREAK SPACE}", " ")


def figures(
    *exposures: Exposure, state: BodyState | None = WELL, born: int = 1990, unit: str = "kg"
) -> Figures:
    sessions = [
        SessionRecord(week_of(on), 1, on, SessionState.DONE, on, 40, 5 + at) for at, on in enumerate(DAYS)
    ]
    return read_figures(
        Rider(birth_year=born, unit=unit),
        exposures=exposures,
        sessions=sessions,
        library=shipped(),
        state=state,
        weeks=WEEKS,
        names={"goblet-squat": "Goblet squat", "forearm-plank": "Forearm plank"},
        today=TODAY,
    )


def test_p11_a_maximum_stands_with_its_spread_its_set_and_its_day() -> None:
    """20 kg for 6 with 2 left counts as 8 reps: 24 to 25.53 by the formulas, in the middle 25.01."""
    row = figures(lifted(DAYS[-1], 6)).maxima[0]
    assert (row.exercise, row.implement) == ("Goblet squat", "kettlebell")
    assert (row.maximum, plain(row.spread)) == ("25 kg", "24 to 26 kg")
    assert plain(row.made_from) == "6 x 20 kg, 2 good reps left, 25 November"
    assert row.trend == "No trend yet: fewer than 5 such sessions."


def test_m4_a_trend_is_one_sentence_with_its_interval() -> None:
    rising = figures(
        *(lifted(on, 6, kg) for on, kg in zip(DAYS, ("12", "14", "16", "18", "20", "22"), strict=True))
    )
    assert (
        plain(rising.maxima[0].trend)
        == "Rising by 2.5 kg a week over 6 sessions (95 % interval 2.5 to 2.5 kg)."
    )
    falling = figures(
        *(lifted(on, 6, kg) for on, kg in zip(DAYS, ("24", "22", "20", "18", "16", "14"), strict=True))
    )
    assert (
        plain(falling.maxima[0].trend)
        == "Falling by 2.5 kg a week over 6 sessions (95 % interval 2.5 to 2.5 kg)."
    )
    slower = figures(*(held(on, seconds) for on, seconds in zip(DAYS, (60, 58, 50, 47, 40, 33), strict=True)))
    assert plain(slower.holds[0].trend) == "Falling by 5.5 s a week over 6 sessions (95 % interval 3 to 7 s)."
    same = figures(*(held(on, seconds) for on, seconds in zip(DAYS, (30, 40, 28, 42, 33, 36), strict=True)))
    assert same.holds[0].longest == "42 s" and plain(same.holds[0].day) == "11 November"
    assert same.holds[0].trend.startswith("No clear change over 6 sessions: −")
    assert plain(same.holds[0].trend).endswith(" s a week (95 % interval).")


def test_q1_masses_are_in_the_riders_unit() -> None:
    row = figures(*(lifted(on, 6, str(12 + 2 * at)) for at, on in enumerate(DAYS)), unit="lb").maxima[0]
    assert row.maximum == "61 lb"
    assert plain(row.spread).endswith(" lb") and "44" not in row.maximum
    assert plain(row.trend).startswith("Rising by 5.5 lb a week")


def test_a_pair_is_told_as_a_pair() -> None:
    row = figures(lifted(DAYS[-1], 6, "12", slug="floor-press", holding=PAIR)).maxima[0]
    assert (row.exercise, row.implement) == ("floor-press", "2 dumbbells")
    assert row.maximum == "2 x 15 kg"
    assert plain(row.made_from).startswith("6 x 2 x 12 kg, ")


def test_s3_under_18_and_who_may_not_see_health_get_trends_alone() -> None:
    done = [lifted(on, 6) for on in DAYS]
    for changes in ({"born": 2009}, {"state": None}):
        found = figures(*done, **changes)  # type: ignore[arg-type]
        assert (found.maxima, found.holds, found.are_estimated) == ((), (), False)
        assert [name for name, _words in found.trends] == ["Squat", "Session load"]
    assert figures(*done).are_estimated


def test_s3_a_rider_who_may_still_be_17_gets_none() -> None:
    assert not figures(lifted(DAYS[-1], 6), born=2008).are_estimated
    assert figures(lifted(DAYS[-1], 6), born=2007).are_estimated


def test_t1_what_loads_a_sore_site_is_left_out() -> None:
    found = figures(lifted(DAYS[-1], 6), held(DAYS[-1], 40), state=KNEE)
    assert found.maxima == ()
    assert [row.exercise for row in found.holds] == ["Forearm plank"]


def test_m4_session_load_and_sets_have_their_trends_by_whole_weeks() -> None:
    words = dict(figures(*(lifted(on, 6) for on in DAYS)).trends)
    assert words["Squat"] == "No change over 5 weeks."
    assert words["Session load"].startswith("Rising by 40 a week over ")


def test_that_something_is_sore_is_said_to_nobody_who_may_not_know_it() -> None:
    assert wording.is_health(Reason("P11", "estimate-where-sore"))
    assert not wording.is_health(Reason("P11", "estimate-too-many-reps", {"amount": 12, "most": 10}))


# --- the page ---------------------------------------------------------------------------------------------------------


def address(rider: Rider) -> str:
    return reverse("rider", args=[rider.pk])


def lift_heavily(rider: Rider) -> None:
    """One check-in becomes a goblet squat of 6 at 20 kg with 2 good reps left. Call inside `access.within`."""
    version = CheckInVersion.objects.filter(check_in__key__rider=rider).latest("number", "pk")
    report = ItemReport.objects.filter(version=version).select_related("item").earliest("pk")
    document: Any = {
        "amounts": [6, 6, 6],
        "load": {"holding": {"implement": "kettlebell"}, "kg": "20"},
        "reps_left": 2,
    }
    ItemReport.objects.filter(pk=report.pk).update(done=document)
    type(report.item).objects.filter(pk=report.item_id).update(exercise_id="goblet-squat")


@pytest.mark.django_db
@pytest.mark.usefixtures("friday")
def test_the_page_shows_estimates_to_a_coach_and_not_to_an_assistant() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        lift_heavily(someone.rider)
    html = signed_in(someone.coach).get(address(someone.rider)).content.decode()
    main = plain(html[html.index("<main") : html.index("</main>")])
    assert "no target is made from them" in main
    assert "24 to 26 kg" in main and "6 x 20 kg, 2 good reps left" in main
    for banned in ("readiness", "fitness", "form score"):
        assert banned not in main.lower()
    seen = plain(signed_in(someone.assistant).get(address(someone.rider)).content.decode())
    assert "24 to 26 kg" not in seen and "Maximum for one rep" not in seen


@pytest.mark.django_db
@pytest.mark.usefixtures("friday")
def test_t1_a_sore_knee_takes_the_estimate_off_the_page() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        lift_heavily(someone.rider)
        report_pain(someone.rider, 4)
    html = plain(signed_in(someone.coach).get(address(someone.rider)).content.decode())
    assert "24 to 26 kg" not in html
    assert "What loads a sore site is left out" in html


@pytest.mark.django_db
@pytest.mark.usefixtures("friday")
def test_s3_the_page_of_a_young_rider_has_no_estimates() -> None:
    someone = people.wexenfold()
    html = signed_in(someone.coach).get(address(someone.young_rider)).content.decode()
    assert "no target is made from them" not in html
    assert "Maximum" not in html
