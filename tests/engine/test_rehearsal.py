"""Synthetic riders live a given program: the same seed the same season, and what befalls them is answered."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from athletes.concerns import Topic
from athletes.vocabulary import Pattern, RacePriority, Region, Side
from programs.engine import rehearsal
from programs.engine.cast import Ages, Cast, KitName, draw_player
from programs.engine.codec import digest, from_document, to_document
from programs.engine.facts import Item, Library, Phase, Race, WeekDecision, WeekFacts
from programs.engine.played import PlayedSeason, PlayedWeek
from programs.engine.quantities import shift_week, week_days
from programs.engine.rehearsal import Life, rehearse
from programs.engine.simulate import Episode, Persona, Spell
from tests.engine.scripts import FIRST, script
from tests.engine.shipped import shipped

PROJECT = Path(__file__).resolve().parents[2]
#: A rider whom nothing befalls and who misses nothing.
STEADY = Persona(attends=1.0, reports=1.0, ceiling=1.6, spare=(6, 10), heeds_bridges=True)
ADULT = Cast(riders=1, weeks=14, seed=7, kit=KitName.BELLS, ages=Ages.ADULT, minutes=60)


def live(
    persona: Persona, cast: Cast = ADULT, seed: str = "one", weeks: int | None = None
) -> list[PlayedWeek]:
    """The weeks of a rider with that persona; what surrounds them is the cast's."""
    from_seed = rehearsal.Random(seed)
    player = replace(draw_player(cast, shipped(), number=0, draw=from_seed), persona=persona)
    life = Life(script(), player, shipped(), from_seed)
    return [life.live(place) for place in range(weeks or cast.weeks)]


def topics(weeks: list[PlayedWeek]) -> list[Topic]:
    return [topic for week in weeks for topic in week.follow_ups]


# --- seeds ------------------------------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_season_and_another_another() -> None:
    cast = Cast(riders=3, weeks=8, seed=7)
    first = [rehearse(script(), cast, shipped(), number=number) for number in range(3)]
    assert first == [rehearse(script(), cast, shipped(), number=number) for number in range(3)]
    other = replace(cast, seed=8)
    assert first != [rehearse(script(), other, shipped(), number=number) for number in range(3)]


def test_a_rider_s_season_does_not_depend_on_how_many_others_live_one() -> None:
    alone, among = Cast(riders=3, weeks=6, seed=7), Cast(riders=60, weeks=6, seed=7)
    assert rehearse(script(), alone, shipped(), number=2) == rehearse(script(), among, shipped(), number=2)


def test_the_season_is_the_same_whatever_the_order_of_sets_in_memory() -> None:
    code = (
        "from programs.engine.cast import Cast; from programs.engine.codec import digest, to_document;"
        "from programs.engine.rehearsal import rehearse; from tests.engine.scripts import script;"
        "from tests.engine.shipped import shipped; cast = Cast(3, 10, 7);"
        "print(digest([to_document(rehearse(script(), cast, shipped(), number=n)) for n in range(3)]))"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            cwd=PROJECT,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1
    cast = Cast(3, 10, 7)
    here = digest([to_document(rehearse(script(), cast, shipped(), number=number)) for number in range(3)])
    assert found == {here + "\n"}


# --- safety -----------------------------------------------------------------------------------------------------------


def test_no_plan_of_a_mixed_squad_breaks_a_safety_property() -> None:
    cast = Cast(riders=16, weeks=22, seed=11)
    seasons = [rehearse(script(22), cast, shipped(), number=number) for number in range(cast.riders)]
    assert [broken for season in seasons for week in season.weeks for broken in week.broken] == []
    assert sum(week.asked for season in seasons for week in season.weeks) > 400


def test_a_plan_that_breaks_a_property_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """With an engine that gives no reasons, every change breaks I8."""
    honest = rehearsal.resolve_week

    def silent(facts: WeekFacts, library: Library) -> WeekDecision:
        decision = honest(facts, library)
        return replace(
            decision,
            sessions=tuple(
                replace(session, items=tuple(_without_reason(item) for item in session.items))
                for session in decision.sessions
            ),
        )

    monkeypatch.setattr(rehearsal, "resolve_week", silent)
    (week,) = live(STEADY, weeks=1)
    assert {broken.id for broken in week.broken} == {"I8"}


def _without_reason(item: Item) -> Item:
    return replace(item, reasons=())


def test_an_eased_plan_is_held_against_the_properties_too(monkeypatch: pytest.MonkeyPatch) -> None:
    honest, held = rehearsal.find_breaches, []

    def watch(decision: WeekDecision, facts: WeekFacts, library: Library) -> tuple[object, ...]:
        held.append(facts.today.weekday())
        return honest(decision, facts, library)

    monkeypatch.setattr(rehearsal, "find_breaches", watch)
    live(replace(STEADY, episodes=(Episode(1, Region.KNEE, Side.LEFT, 7),)), weeks=3)
    assert held.count(6) == 3
    assert [day for day in held if day != 6]


# --- coming and telling -----------------------------------------------------------------------------------------------


def test_who_never_comes_does_nothing_and_still_gets_plans() -> None:
    weeks = live(replace(STEADY, attends=0.0), weeks=8)
    assert sum(week.asked for week in weeks) >= 8
    assert sum(week.done for week in weeks) == 0
    assert all(week.not_done == week.asked for week in weeks)
    assert not any(week.sets_done for week in weeks)
    assert not any(lift.is_done for week in weeks for lift in week.lifts)


def test_who_always_comes_does_all_that_is_asked() -> None:
    weeks = live(STEADY)
    assert all(week.done == week.asked and week.silent == week.not_done == 0 for week in weeks)
    assert all(week.sets == week.sets_done for week in weeks)
    assert sum(week.asked for week in weeks) >= 24
    assert topics(weeks) == []


def test_what_is_asked_of_a_steady_rider_never_falls_in_the_first_weeks() -> None:
    weeks = live(STEADY, weeks=6)
    squats = [lift.amount for week in weeks for lift in week.lifts if lift.pattern is Pattern.SQUAT]
    assert len(squats) >= 6
    assert squats[-1] > squats[0]


def test_who_goes_quiet_calls_a_coach_once_and_not_every_week() -> None:
    weeks = live(replace(STEADY, quiet_from=4), weeks=12)
    assert all(week.done == 0 and week.silent == week.asked for week in weeks[4:])
    assert set(topics(weeks)) <= {Topic.MISSED, Topic.SILENT}
    assert topics(weeks).count(Topic.SILENT) == 1
    assert topics(weeks[:4]) == []


# --- body -------------------------------------------------------------------------------------------------------------


def test_a_pain_of_six_calls_a_coach_and_spares_the_site() -> None:
    well = live(STEADY, weeks=10)
    sore = live(replace(STEADY, episodes=(Episode(5, Region.KNEE, Side.LEFT, 6),)), weeks=10)
    assert [week.sets for week in well[:5]] == [week.sets for week in sore[:5]]
    assert Topic.PAIN in sore[5].follow_ups
    assert Topic.PAIN not in topics(well)

    def squats(week: PlayedWeek) -> int:
        return dict(week.sets).get(Pattern.SQUAT, 0)

    assert squats(sore[6]) < squats(well[6])


def test_a_pain_that_stops_everything_calls_off_the_rest_of_the_week() -> None:
    weeks = live(replace(STEADY, episodes=(Episode(5, Region.KNEE, Side.LEFT, 9),)), weeks=8)
    assert weeks[5].called_off == 1 and weeks[5].done == 1
    assert weeks[6].asked == 0


def test_who_was_stopped_comes_back_once_the_coach_has_closed_it() -> None:
    weeks = live(replace(STEADY, episodes=(Episode(3, Region.KNEE, Side.LEFT, 6),)), weeks=14)
    last = dict(weeks[-1].sets)
    assert last.get(Pattern.SQUAT, 0) > 0
    assert topics(weeks).count(Topic.PAIN) == 1


def test_nothing_is_done_in_an_illness_and_a_coach_is_told() -> None:
    weeks = live(replace(STEADY, illnesses=(Spell(5 * 7, 7),)), weeks=8)
    assert weeks[5].done == 0 and weeks[5].asked > 0
    assert topics(weeks) == [Topic.ILLNESS]
    assert weeks[7].done > 0


def test_a_fever_leaves_the_week_after_it_easier() -> None:
    well = live(STEADY, weeks=9)
    weeks = live(replace(STEADY, illnesses=(Spell(5 * 7, 4, is_feverish=True),)), weeks=9)
    assert weeks[5].called_off > 0
    assert sum(sets for _pattern, sets in weeks[6].sets) < sum(sets for _pattern, sets in well[6].sets)


def test_a_holiday_is_a_rest_week_and_is_come_back_from_gently() -> None:
    well = live(STEADY, weeks=11)
    weeks = live(replace(STEADY, holidays=(Spell(7 * 7, 14),)), weeks=11)
    assert [week.phase for week in weeks[7:9]] == [Phase.REST, Phase.REST]
    assert weeks[7].asked == weeks[8].asked == 0
    assert weeks[9].phase is Phase.RETURN
    usual = max(sum(sets for _pattern, sets in week.sets) for week in well[3:7])
    # Half of an odd number of sets is told in whole sets, the last of them with fewer reps.
    odd = len(weeks[9].sets)
    assert 0 < 2 * sum(sets for _pattern, sets in weeks[9].sets) <= usual + odd


def test_a_race_of_the_season_is_tapered_for() -> None:
    sunday = week_days(shift_week(FIRST, 9))[6]
    raced = replace(script(), races=(Race(sunday, 600, "Wexenfold Spring Round", RacePriority.PRIORITY),))
    from_seed = rehearsal.Random("one")
    player = replace(draw_player(ADULT, shipped(), number=0, draw=from_seed), persona=STEADY)
    life = Life(raced, player, shipped(), from_seed)
    phases = [life.live(place).phase for place in range(10)]
    assert phases[8:] == [Phase.TAPER, Phase.RACE_WEEK]


# --- what is told -----------------------------------------------------------------------------------------------------


def test_minutes_stay_within_the_room_that_a_rider_has() -> None:
    for minutes in (30, 60):
        for week in live(STEADY, replace(ADULT, minutes=minutes)):
            assert week.room == minutes * week.asked
            assert 0 < week.minutes <= week.room


def test_a_loaded_lift_tells_its_mass_and_one_at_body_weight_none() -> None:
    lifts = [lift for week in live(STEADY) for lift in week.lifts]
    assert {lift.kg for lift in lifts if lift.kg is not None} <= {8, 12, 16, 20, 24}
    assert any(lift.kg is not None for lift in lifts) and any(lift.kg is None for lift in lifts)
    bare = [lift for week in live(STEADY, replace(ADULT, kit=KitName.NONE)) for lift in week.lifts]
    assert bare and all(lift.kg is None and lift.band is None for lift in bare)


def test_a_season_survives_as_a_document() -> None:
    season = rehearse(script(), Cast(1, 10, 7), shipped(), number=0)
    assert len(season.weeks) == 10
    assert from_document(PlayedSeason, to_document(season)) == season
