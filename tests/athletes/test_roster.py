"""The roster taken in: columns guessed and chosen, each row compared with what is there, all applied or nothing."""

from datetime import timedelta

import pytest

from athletes import access, roster
from athletes.kit import write_kit
from athletes.models import AuditEntry, KitItem, Link, Opening, RegularRide, Rider, RosterImport, Squad, Venue
from athletes.profiles.diary import kit_of
from athletes.roster_plan import CREATE, FAULT, SKIP, UPDATE
from tests.people import NOW, wexenfold

pytestmark = pytest.mark.django_db

HEADINGS = "E-Mail;Surname;First name;Date of birth;Parent;Parent mail;Kit;Times;Key rides\n"


@pytest.fixture
def people():
    found = wexenfold()
    with access.within(found.club):
        yield found


def uploaded(people, text, **options):
    return roster.upload(
        club=people.club, name="riders.csv", data=text.encode(), by=people.coach, now=NOW, **options
    )


def rows_of(people, text):
    return roster.preview(uploaded(people, text), now=NOW)


def test_columns_in_the_coach_s_own_order_and_words_are_recognised(people):
    made = uploaded(people, HEADINGS + "samira@wexenfold.example;Holtveld;Samira;1988-04-02;;;;;\n")
    assert list(made.mapping["columns"].values()) == [
        "email",
        "family_name",
        "given_name",
        "birth_year",
        "guardian_name",
        "guardian_email",
        "kit",
        "days",
        "rides",
    ]


def test_a_new_rider_is_made_with_kit_times_and_key_rides(people):
    made = uploaded(
        people,
        HEADINGS + "samira@wexenfold.example;Holtveld;Samira;02.04.1988;;;kettlebell 8, 12, chair;"
        '"Tue 18:30 60 min; Thu evening";Sat 09:00 3 h\n',
    )
    planned = roster.preview(made, now=NOW)
    assert [row.action for row in planned.rows] == [FAULT]
    assert planned.faults[0].column == "Kit"
    made = uploaded(
        people,
        HEADINGS + 'samira@wexenfold.example;Holtveld;Samira;02.04.1988;;;"kettlebell 8, 2 x 12; chair";'
        '"Tue 18:30 60 min; Thu evening";Sat 09:00 3 h\n',
    )
    planned = roster.preview(made, now=NOW)
    assert [row.action for row in planned.rows] == [CREATE]
    result = roster.apply(roster=made, seen=planned.digest, by=people.coach, now=NOW)
    assert result == {"create": 1, "update": 0, "skip": 0, "fault": 0, "squads": 0}
    rider = Rider.objects.get(email="samira@wexenfold.example")
    assert (rider.name, rider.birth_year, rider.squad) == ("Samira Holtveld", 1988, people.squad)
    home = Venue.objects.get(rider=rider)
    assert write_kit(kit_of(home)) == "kettlebell 8, 2 x 12; chair"
    assert [
        (one.weekday, f"{one.start:%H:%M}", one.minutes) for one in Opening.objects.filter(rider=rider)
    ] == [
        (1, "18:30", 60),
        (3, "18:30", 45),
    ]
    assert [(one.weekday, one.minutes, one.is_key) for one in RegularRide.objects.filter(rider=rider)] == [
        (5, 180, True)
    ]


def test_the_file_s_rows_are_gone_once_it_is_applied(people):
    made = uploaded(people, HEADINGS + "samira@wexenfold.example;Holtveld;Samira;1988;;;;;\n")
    roster.apply(roster=made, seen=roster.preview(made, now=NOW).digest, by=people.coach, now=NOW)
    made.refresh_from_db()
    assert (made.state, made.rows, made.headings, made.mapping) == ("applied", [], [], {})
    assert AuditEntry.objects.filter(action="roster.apply").count() == 1
    with pytest.raises(roster.AlreadyApplied):
        roster.apply(roster=made, seen="", by=people.coach, now=NOW)


def test_only_the_year_of_a_birth_date_is_kept(people):
    made = uploaded(people, "mail,name,dob\nsamira@wexenfold.example,Samira Holtveld,23/07/1988\n")
    roster.apply(roster=made, seen=roster.preview(made, now=NOW).digest, by=people.coach, now=NOW)
    assert Rider.objects.get(email="samira@wexenfold.example").birth_year == 1988


def test_a_rider_is_found_again_by_mail_whatever_its_case_and_only_differences_change(people):
    planned = rows_of(people, "mail,minutes,alone\nTOBIAS@Wexenfold.example,60,yes\n")
    (row,) = planned.rows
    assert row.action == UPDATE
    assert [(one.field, one.old, one.new) for one in row.changes] == [("minutes_cap", "45", "60")]


@pytest.mark.parametrize("typed", ["fr", "French", "FRANÇAIS", "francais"])
def test_a_language_is_read_by_code_or_name_under_a_heading_in_several_tongues(people, typed):
    planned = rows_of(people, f"mail,Langue\ntobias@wexenfold.example,{typed}\n")
    (row,) = planned.rows
    assert row.values == {"email": "tobias@wexenfold.example", "language": "fr"}
    assert [(one.field, one.old, one.new) for one in row.changes] == [("language", "English", "Français")]


def test_an_empty_cell_changes_nothing(people):
    planned = rows_of(people, "mail,minutes,kit,days\ntobias@wexenfold.example,,,\n")
    assert [row.action for row in planned.rows] == [SKIP]
    assert not planned.may_apply


def test_the_same_kit_and_times_in_other_words_are_no_change(people):
    planned = rows_of(
        people,
        "mail,kit,days,rides\ntobias@wexenfold.example,"
        '"12 kg kettlebell; kettlebells 16 and 8; chair; step; table; towel",'
        '"Tuesday 18.30; thu 6:30 pm; saturdays evening","sun 9:00 3 h"\n',
    )
    assert [row.action for row in planned.rows] == [SKIP]


def test_changed_kit_times_and_rides_replace_the_old_ones_and_no_others(people):
    RegularRide.objects.create(club=people.club, rider=people.rider, weekday=2, start="18:00", minutes=60)
    made = uploaded(
        people,
        'mail,kit,days,rides\ntobias@wexenfold.example,"kettlebell 20","Mon morning","Sat 08:00 4 h"\n',
    )
    planned = roster.preview(made, now=NOW)
    roster.apply(roster=made, seen=planned.digest, by=people.coach, now=NOW)
    assert [item.kg for item in KitItem.objects.filter(venue__rider=people.rider)] == [20]
    assert [one.weekday for one in Opening.objects.filter(rider=people.rider)] == [0]
    rides = RegularRide.objects.filter(rider=people.rider)
    assert [(one.weekday, one.is_key) for one in rides] == [(2, False), (5, True)]


@pytest.mark.parametrize(
    ("text", "column", "expected", "found"),
    [
        ("mail,name,born\nnope,Samira Holtveld,1988", "mail", "a mail address", "nope"),
        ("mail,name,born\n,Samira Holtveld,1988", "mail", "a mail address", "nothing"),
        ("mail,name,born\ns@w.example,Samira,1988", "name", "a given name and a family name", "Samira"),
        ("mail,name,born\ns@w.example,Samira Holtveld,", "born", "a birth year", "nothing"),
        ("mail,name,born\ns@w.example,Samira Holtveld,12/03/88", "born", "four figures", "12/03/88"),
        ("mail,name,born\ns@w.example,Samira Holtveld,1888", "born", "from 1920 to 2019", "1888"),
        ("mail,name,born\ns@w.example,Samira Holtveld,2024", "born", "from 1920 to 2019", "2024"),
        ("mail,name,born\ns@w.example,Samira Holtveld,2012", "guardian's mail", "guardian", "nothing"),
        ("mail,name,born,squad\ns@w.example,A B,1988,Track", "squad", "one of: ", "Track"),
        ("mail,name,born,unit\ns@w.example,A B,1988,stone", "unit", "kg or lb", "stone"),
        ("mail,name,born,language\ns@w.example,A B,1988,Elvish", "language", "English, French", "Elvish"),
        ("mail,name,born,minutes\ns@w.example,A B,1988,5 h", "minutes", "from 15 to 120", "5 h"),
        ("mail,name,born,alone\ns@w.example,A B,1988,maybe", "alone", "yes or no", "maybe"),
        ("mail,name,born,kit\ns@w.example,A B,1988,sledge", "kit", "kettlebell", "sledge"),
        ("mail,name,born,days\ns@w.example,A B,1988,whenever", "days", "18:30", "whenever"),
        ("mail,name,born,days\ns@w.example,A B,1988,Tue 18:30 at Gym", "days", "Home", "Gym"),
        ("mail,name,born\ns@w.example,=HYPERLINK(1) A,1988", "name", "formula", "=HYPERLINK(1) A"),
        ("mail,name,born\ns@w.example,\t+A B,1988", "name", "formula", "+A B"),
        ("mail,name,born\n@s@w.example,A B,1988", "mail", "formula", "@s@w.example"),
        ("mail,name,born\ns@w.example,A,B,1988", "the whole row", "3 cells", "4"),
    ],
)
def test_a_fault_says_row_column_what_was_expected_and_what_was_found(people, text, column, expected, found):
    planned = rows_of(people, text + "\n")
    (fault,) = planned.faults
    assert fault.row == 2
    assert column in fault.column
    assert expected in fault.expected
    assert fault.found == found
    assert not planned.may_apply


def test_a_column_that_nobody_chose_is_never_looked_at(people):
    planned = rows_of(people, "mail,name,born,Phone\ns@w.example,Samira Holtveld,1988,+44 20 0000 0000\n")
    assert planned.may_apply


def test_a_mail_address_twice_is_a_fault_in_both_rows(people):
    planned = rows_of(
        people, "mail,name,born\ns@w.example,A B,1988\nx@w.example,C D,1990\nS@W.example,E F,1980\n"
    )
    assert [(fault.row, fault.found) for fault in planned.faults] == [
        (2, "s@w.example, also in row 4"),
        (4, "s@w.example, also in row 2"),
    ]


def test_one_fault_keeps_the_whole_file_from_being_applied(people):
    made = uploaded(people, "mail,name,born\ns@w.example,A B,1988\nx@w.example,C D,99\n")
    planned = roster.preview(made, now=NOW)
    with pytest.raises(roster.FaultsRemain):
        roster.apply(roster=made, seen=planned.digest, by=people.coach, now=NOW)
    assert not Rider.objects.filter(email="s@w.example").exists()


def test_what_changed_since_the_coach_looked_is_not_overwritten(people):
    made = uploaded(people, "mail,minutes\ntobias@wexenfold.example,60\n")
    planned = roster.preview(made, now=NOW)
    Rider.objects.filter(pk=people.rider.pk).update(minutes_cap=30)
    with pytest.raises(roster.ChangedSincePreview):
        roster.apply(roster=made, seen=planned.digest, by=people.coach, now=NOW)
    people.rider.refresh_from_db()
    assert people.rider.minutes_cap == 30


def test_squads_are_made_only_when_the_coach_says_so(people):
    made = uploaded(people, "mail,name,born,squad\ns@w.example,A B,1988,Track\nt@w.example,C D,1988,TRACK\n")
    columns = {0: "email", 1: "full_name", 2: "birth_year", 3: "squad"}
    roster.choose_columns(roster=made, columns=columns, squad=None, make_squads=True)
    made.refresh_from_db()
    planned = roster.preview(made, now=NOW)
    assert planned.new_squads == ["Track"]
    roster.apply(roster=made, seen=planned.digest, by=people.coach, now=NOW)
    squad = Squad.objects.get(name="Track")
    assert (squad.coach, squad.riders.count()) == (people.coach, 2)


def test_columns_that_cannot_be_used_are_refused_with_why(people):
    made = uploaded(people, "a,b\n1,2\n")
    with pytest.raises(roster.ColumnsUnusable):
        roster.preview(made, now=NOW)
    with pytest.raises(roster.ColumnsUnusable) as refused:
        roster.choose_columns(roster=made, columns={0: "email", 1: "email"}, squad=None, make_squads=False)
    assert "More than one column" in refused.value.faults[0]


def test_a_rider_who_left_comes_back_and_the_preview_says_so(people):
    Rider.objects.filter(pk=people.rider.pk).update(state="left")
    made = uploaded(people, "mail\ntobias@wexenfold.example\n")
    planned = roster.preview(made, now=NOW)
    assert [(one.field, one.old, one.new) for one in planned.rows[0].changes] == [("state", "left", "active")]
    roster.apply(roster=made, seen=planned.digest, by=people.coach, now=NOW)
    people.rider.refresh_from_db()
    assert people.rider.state == "active"


def test_a_new_guardian_s_address_makes_old_links_open_nothing(people):
    access.make_link(rider=people.young_rider, purpose="page", now=NOW, lasts=timedelta(days=3))
    made = uploaded(people, "mail,parent mail\nwren@wexenfold.example,other@wexenfold.example\n")
    roster.apply(roster=made, seen=roster.preview(made, now=NOW).digest, by=people.coach, now=NOW)
    assert not Link.objects.usable(NOW).exists()


def test_the_preview_of_a_long_file_takes_no_more_queries_than_a_short_one(
    people, django_assert_num_queries, django_assert_max_num_queries
):
    line = '{n}@w.example,Rider Number{n},1988,"kettlebell 8, 12; chair","Tue evening",Sat 09:00 3 h\n'
    text = "mail,name,born,kit,days,rides\n"
    short, long = (
        uploaded(people, text + line.format(n=1)),
        uploaded(people, text + "".join(line.format(n=n) for n in range(300))),
    )
    with django_assert_max_num_queries(8) as few:
        roster.preview(short, now=NOW)
    with django_assert_num_queries(len(few.captured_queries)):
        planned = roster.preview(long, now=NOW)
    with django_assert_max_num_queries(45):
        roster.apply(roster=long, seen=planned.digest, by=people.coach, now=NOW)
    assert Rider.objects.filter(family_name__startswith="Number").count() == 300


def test_a_file_that_cannot_be_read_leaves_nothing_behind(people):
    with pytest.raises(ValueError, match="first row"):
        uploaded(people, "s@w.example,Samira\nx@w.example,Jo\n")
    assert not RosterImport.objects.exists()
