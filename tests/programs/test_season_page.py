"""The season before it happens, as a browser without scripts and as htmx ask for it."""

import re
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from athletes import access
from athletes.models import ClinicianLimit, Coach, Opening, Race
from programs import facts, outlines, rehearsals
from programs.engine import cast, simulate
from programs.engine.cast import Ages, Cast, KitName, WeeklyTime
from programs.engine.quantities import week_days, week_of
from programs.models import Program, Slot
from programs.views import rehearsal as view
from tests import people

HTMX = {"headers": {"HX-Request": "true"}}
CHOSEN = {
    "who": "invented",
    "riders": "3",
    "weeks": "6",
    "seed": "7",
    "kit": "bells",
    "ages": "adult",
    "minutes": "",
    "attends": "",
    "pain": "",
}


@pytest.fixture
def someone(db: None) -> people.People:
    """The club of the tests, as of now, with a program that began this week: pages read the clock."""
    who = people.wexenfold(timezone.now())
    with access.within(who.club):
        who.program.starts_on = week_days(week_of(timezone.localdate()))[0]
        who.program.save()
    return who


def signed_in(membership: Coach) -> Client:
    client = Client()
    client.force_login(membership.user)
    return client


@pytest.fixture
def coach(someone: people.People) -> Client:
    return signed_in(someone.coach)


def address(who: people.People) -> str:
    return reverse("program-season", args=[who.program.pk])


def words(page: str) -> str:
    """What the page says, without its tags."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", page)))


def parcel_of(page: str) -> str:
    found = re.search(r'name="parcel" value="([^"]*)"', page)
    assert found, "no parcel in the page"
    return unescape(found[1])


def results(page: str) -> str:
    """The part of the page that tells what came of the season."""
    return page[page.index('aria-labelledby="in-all"') : page.index("</main>") if "</main>" in page else None]


# --- choosing ---------------------------------------------------------------------------------------------------------


def test_the_program_s_page_leads_there(someone: people.People, coach: Client) -> None:
    page = coach.get(reverse("program", args=[someone.program.pk])).text
    assert f'href="{address(someone)}"' in page


def test_the_page_says_first_what_is_assumed_and_lets_nobody_live_unasked(
    someone: people.People, coach: Client
) -> None:
    page = words(coach.get(address(someone)).text)
    assert "Synthetic riders, our assumptions; nothing here predicts a real rider." in page
    assert "Let them live it" in page
    assert "Sessions asked and done" not in page and "Seasons lived" not in page


def test_the_numbers_that_are_assumed_are_those_of_the_model(
    someone: people.People, coach: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def told() -> str:
        return words(coach.get(address(someone)).text)

    assert "by 1.2 %" in told() and "1.6 times" in told() and "After 14 days" in told()
    monkeypatch.setattr(simulate, "GAIN_A_SESSION", 0.02)
    monkeypatch.setattr(cast, "CEILING", 1.8)
    monkeypatch.setattr(simulate, "KEPT_DAYS", 21)
    assert "by 2 %" in told() and "1.8 times" in told() and "After 21 days" in told()


def test_a_choice_that_cannot_be_is_said_and_kept(someone: people.People, coach: Client) -> None:
    page = coach.get(address(someone), {**CHOSEN, "riders": "99", "weeks": "6"}).text
    assert 'value="99"' in page
    assert "24" in words(page)
    assert "Sessions asked and done" not in words(page)


def test_a_program_without_a_block_says_what_the_page_would_show(
    someone: people.People, coach: Client
) -> None:
    with access.within(someone.club):
        empty = Program.objects.create(
            club=someone.club, squad=someone.squad, name="Summer", starts_on=someone.program.starts_on
        )
    page = words(coach.get(reverse("program-season", args=[empty.pk]), CHOSEN).text)
    assert "No block in this program yet" in page


def test_a_program_that_asks_for_nothing_says_so(someone: people.People, coach: Client) -> None:
    with access.within(someone.club):
        Slot.objects.all().delete()
    page = words(coach.get(address(someone), CHOSEN).text)
    assert "Nothing was asked of anybody" in page
    assert "Sessions asked and done" not in page


# --- living -----------------------------------------------------------------------------------------------------------


def test_a_season_is_shown_with_plots_tables_and_what_was_broken(
    someone: people.People, coach: Client
) -> None:
    page = coach.get(address(someone), CHOSEN).text
    said = words(page)
    assert "18 weeks were planned" in said and "no plan broke a safety property" in said
    for name in ("Sessions asked and done", "Minutes a week", "Sets asked of each pattern", "Squat"):
        assert name in said
    assert page.count('role="img"') == page.count('class="plot"') == page.count("The same in figures") >= 6
    assert "style=" not in page


def test_riders_live_a_few_in_each_request_and_nothing_is_lost(
    someone: people.People, coach: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_once = coach.get(address(someone), CHOSEN).text
    monkeypatch.setattr(view, "SLICE", 0.0)
    first = coach.get(address(someone), CHOSEN)
    assert "1 of 3 riders" in words(first.text)
    asked = f"{address(someone)}?{first.wsgi_request.META['QUERY_STRING']}"
    second = coach.post(asked, {"parcel": parcel_of(first.text)})
    assert "2 of 3 riders" in words(second.text)
    third = coach.post(asked, {"parcel": parcel_of(second.text)})
    assert results(third.text) == results(at_once)


def test_htmx_gets_the_season_alone_while_riders_live(
    someone: people.People, coach: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(view, "SLICE", 0.0)
    first = coach.get(address(someone), CHOSEN, **HTMX).text
    assert first.lstrip().startswith('<div id="rehearsal"')
    assert 'hx-trigger="load' in first
    asked = f"{address(someone)}?" + "&".join(f"{name}={value}" for name, value in CHOSEN.items())
    second = coach.post(asked, {"parcel": parcel_of(first)}, **HTMX).text
    assert second.lstrip().startswith('<div id="season"')
    assert "2 of 3 riders" in words(second)
    assert 'hx-swap-oob="innerHTML:#season-said"' in second and 'id="season-said"' in first


@pytest.mark.parametrize("parcel", ["", "nonsense", "a:b:c"])
def test_a_parcel_that_is_not_ours_starts_again(
    someone: people.People, coach: Client, monkeypatch: pytest.MonkeyPatch, parcel: str
) -> None:
    monkeypatch.setattr(view, "SLICE", 0.0)
    asked = f"{address(someone)}?" + "&".join(f"{name}={value}" for name, value in CHOSEN.items())
    assert "1 of 3 riders" in words(coach.post(asked, {"parcel": parcel}).text)


def test_a_parcel_of_another_choice_is_not_taken_for_this_one(
    someone: people.People, coach: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(view, "SLICE", 0.0)
    parcel = parcel_of(coach.get(address(someone), CHOSEN).text)
    other = f"{address(someone)}?" + "&".join(
        f"{name}={value}" for name, value in {**CHOSEN, "seed": "8"}.items()
    )
    assert "1 of 3 riders" in words(coach.post(other, {"parcel": parcel}).text)


def test_what_is_posted_without_a_choice_leads_back_to_it(someone: people.People, coach: Client) -> None:
    answer = coach.post(address(someone))
    assert (answer.status_code, answer["Location"]) == (302, address(someone))


def test_nothing_is_written(someone: people.People, coach: Client) -> None:
    coach.get(address(someone))
    with CaptureQueriesContext(
        connection,
    ) as queries:
        coach.get(address(someone), CHOSEN)
    written = [one["sql"] for one in queries if re.match(r"(INSERT|UPDATE|DELETE)\b", one["sql"])]
    assert written == []


def test_more_riders_take_no_more_queries(someone: people.People, coach: Client) -> None:
    coach.get(address(someone), CHOSEN)
    counts = []
    for riders in ("1", "3"):
        with CaptureQueriesContext(connection) as queries:
            coach.get(address(someone), {**CHOSEN, "riders": riders, "weeks": "2"})
        counts.append(len(queries))
    assert counts[0] == counts[1] > 0


def test_a_wished_pain_befalls_everybody(someone: people.People, coach: Client) -> None:
    well = words(coach.get(address(someone), {**CHOSEN, "attends": "100"}).text)
    sore = words(
        coach.get(
            address(someone),
            {**CHOSEN, "attends": "100", "pain": "knee", "pain_week": "2", "pain_score": "7"},
        ).text
    )
    assert re.search(r"Pain (\d+) ", sore), sore[:2000]
    assert int(re.search(r"Pain (\d+) ", sore)[1]) >= 3  # type: ignore[index]
    assert not re.search(r"Pain [3-9] ", well)


# --- people like the squad's ------------------------------------------------------------------------------------------


def test_people_like_the_squad_s_have_its_ages_times_and_levels(someone: people.People) -> None:
    with access.within(someone.club):
        likes = rehearsals.likes_of(someone.squad, club=someone.club, today=timezone.localdate())
        openings = Opening.objects.filter(rider=someone.rider)
        times = {(row.weekday, facts.minutes_of(row.start), row.minutes) for row in openings}
    ages = sorted(one.rider.youngest_age for one in likes)
    this_year = timezone.localdate().year
    assert ages == sorted([this_year - 2012 - 1, this_year - 1995 - 1])
    grown = next(one for one in likes if one.rider.youngest_age > 18)
    assert {(one.weekday, one.start, one.minutes) for one in grown.times} == times
    assert all(isinstance(one, WeeklyTime) for one in grown.times)


def test_nothing_about_health_goes_into_people_like_the_squad_s(someone: people.People) -> None:
    with access.within(someone.club):
        before = rehearsals.likes_of(someone.squad, club=someone.club, today=timezone.localdate())
        ClinicianLimit.objects.create(
            club=someone.club,
            rider=someone.rider,
            region="knee",
            set_by="Dr Ilse Varnhollow",
            set_on=timezone.localdate(),
        )
        someone.young_rider.growth = "yes"
        someone.young_rider.save()
        assert rehearsals.likes_of(someone.squad, club=someone.club, today=timezone.localdate()) == before
    assert not any(one.rider.limits for one in before)


def test_the_squad_s_races_stand_in_the_season(someone: people.People, coach: Client) -> None:
    with access.within(someone.club):
        Race.objects.create(
            club=someone.club,
            name="Skarnock Bank Hill Climb",
            on=week_days(week_of(timezone.localdate()))[6],
            start="10:00",
            priority="other",
        )
        read = outlines.read_rows(someone.program.pk)
        script = rehearsals.script_of(read)
    assert [race.name for race in script.races] == ["Skarnock Bank Hill Climb"]
    assert "Skarnock Bank Hill Climb" in coach.get(address(someone), CHOSEN).text


def test_the_form_and_the_command_s_cast_mean_the_same(someone: people.People) -> None:
    form = view.RehearsalForm(CHOSEN, likes=())
    assert form.is_valid(), form.errors
    assert form.cast() == Cast(riders=3, weeks=6, seed=7, kit=KitName.BELLS, ages=Ages.ADULT)
