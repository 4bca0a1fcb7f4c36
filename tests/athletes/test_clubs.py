"""Clubs: founded, their squads, races and holidays, and a calendar applied once."""

from datetime import date, time, timedelta

import pytest

from athletes import access, clubs
from athletes.models import Absence, AuditEntry, Club, Coach, Race, Squad, User
from tests.people import NOW, wexenfold

pytestmark = pytest.mark.django_db


@pytest.fixture
def people():
    found = wexenfold()
    with access.within(found.club):
        yield found


def chosen(kind="other", uid="a", name="Spring Round", on=date(2027, 4, 11), days=1, start=None):
    return clubs.Chosen(uid, name, on, on + timedelta(days=days - 1), start, kind)


def apply(people, *entries, squad=None):
    return clubs.apply_calendar(club=people.club, chosen=entries, squad=squad, by=people.coach, now=NOW)


def test_a_founded_club_has_its_owner_and_nothing_else():
    user = User.objects.create_user("new@larkmoor.example", "a-long-quiet-hill-road", name="New")
    club, owner = clubs.found(name="Larkmoor Wheelers", owner=user, now=NOW)
    assert access.memberships_of(user) == [owner]
    with access.within(club):
        assert (owner.role, Coach.objects.count(), Squad.objects.count()) == (Coach.Role.OWNER, 1, 0)
        assert AuditEntry.objects.get().action == "club.found"
    with access.within(wexenfold().club):
        assert not Club.objects.filter(pk=club.pk).exists()


def test_a_member_has_one_membership_whose_role_may_change(people):
    user = User.objects.create_user("more@wexenfold.example", "a-long-quiet-hill-road", name="More")
    first = clubs.add_member(club=people.club, user=user, role="assistant", by=people.owner, now=NOW)
    second = clubs.add_member(club=people.club, user=user, role="coach", by=people.owner, now=NOW)
    assert first.pk == second.pk
    assert second.plans


def test_settings_change_only_what_is_given_and_say_what_changed(people):
    changed = clubs.change(
        club=people.club, settings={"sends_on": 5, "zone": "Europe/London", "pk": 1}, by=people.owner, now=NOW
    )
    assert changed == ["sends_on"]
    assert clubs.change(club=people.club, settings={"sends_on": 5}, by=people.owner, now=NOW) == []


def test_it_is_on_record_who_confirmed_the_pain_limits(people):
    clubs.confirm_limits(
        club=people.club, confirmed_by="Dr Ashgrove", on=NOW.date(), by=people.owner, now=NOW
    )
    people.club.refresh_from_db()
    assert (people.club.limits_confirmed_by, people.club.limits_confirmed_on) == ("Dr Ashgrove", NOW.date())


def test_squad_names_differ_whatever_their_case(people):
    with pytest.raises(clubs.SquadExists):
        clubs.add_squad(
            club=people.club, name=people.squad.name.upper(), coach=people.coach, by=people.coach, now=NOW
        )
    clubs.change_squad(
        squad=people.squad, name=people.squad.name.upper(), coach=people.owner, by=people.coach, now=NOW
    )
    people.squad.refresh_from_db()
    assert people.squad.coach == people.owner


def test_a_squad_with_riders_or_a_program_stays_and_an_empty_one_goes_with_its_races(people):
    with pytest.raises(clubs.SquadInUse) as refused:
        clubs.remove_squad(squad=people.squad, by=people.coach, now=NOW)
    assert refused.value.riders == people.squad.riders.count()
    empty = clubs.add_squad(club=people.club, name="Empty", coach=people.coach, by=people.coach, now=NOW)
    apply(people, chosen(), squad=empty)
    clubs.remove_squad(squad=empty, by=people.coach, now=NOW)
    assert not Race.objects.exists()


def test_the_same_race_entered_twice_is_there_once(people):
    values = {
        "name": "Hill Climb",
        "on": date(2027, 5, 16),
        "start": time(9),
        "priority": "priority",
        "squad": None,
    }
    first = clubs.add_race(club=people.club, **values, by=people.coach, now=NOW)
    assert clubs.add_race(club=people.club, **values, by=people.coach, now=NOW) == first
    clubs.change_race(race=first, values={"priority": "minor"}, by=people.coach, now=NOW)
    clubs.remove_race(race=first, by=people.coach, now=NOW)
    assert not Race.objects.exists()


def test_a_rider_s_own_absence_is_no_holiday_of_the_club(people):
    own = Absence.objects.create(
        club=people.club, rider=people.rider, from_on=NOW.date(), until_on=NOW.date(), kind="holiday"
    )
    with pytest.raises(ValueError, match="own absence"):
        clubs.remove_holiday(holiday=own, by=people.coach, now=NOW)


@pytest.mark.parametrize("uid", ["a", ""], ids=["with a key", "without a key"])
def test_a_calendar_applied_twice_adds_nothing_the_second_time(people, uid):
    entries = [
        chosen(uid=uid, start=time(8, 30)),
        chosen("holiday", uid=uid, name="Closed", on=date(2026, 12, 23), days=9),
    ]
    assert apply(people, *entries) == {"races": 1, "holidays": 1, "known": 0}
    assert apply(people, *entries) == {"races": 0, "holidays": 0, "known": 2}
    race = Race.objects.get()
    assert (race.start, race.priority) == (time(8, 30), "other")
    assert Absence.objects.get(rider__isnull=True).until_on == date(2026, 12, 31)


def test_a_race_over_several_days_is_a_race_on_each_and_one_of_weeks_is_refused(people):
    assert apply(people, chosen("priority", days=3))["races"] == 3
    with pytest.raises(clubs.RaceTooLong):
        apply(people, chosen("priority", uid="b", days=30))
    assert Race.objects.count() == 3


def test_what_came_from_a_file_is_known_by_key_and_day(people):
    apply(people, chosen(), chosen("holiday", uid="h", on=date(2026, 12, 23)))
    assert clubs.known_entries() == {("a", date(2027, 4, 11)), ("h", date(2026, 12, 23))}
