"""The program builder's pages, as a browser without scripts and as htmx ask for them."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format

from athletes import access
from athletes.models import Coach, Race, Rider, Squad
from programs import builder, facts, outlines
from programs.engine.quantities import shift_week, week_days, week_name, week_of
from programs.models import Block, Decision, LevelMove, Program, SessionTemplate, Slot, WeekPlan
from tests import people

HTMX = {"headers": {"HX-Request": "true"}}
SLOT = {"what": "pattern:pull", "part": "main", "sets": "4", "rest_s": "60", "low": "", "high": ""}


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


def first_rows(someone: people.People) -> tuple[Program, Block, SessionTemplate, Slot]:
    with access.within(someone.club):
        slot = Slot.objects.select_related("template__block__program").order_by("pk")[0]
    return slot.template.block.program, slot.template.block, slot.template, slot


def patterns(someone: people.People, template: SessionTemplate) -> list[str]:
    with access.within(someone.club):
        return [slot.pattern for slot in Slot.objects.filter(template=template)]


def prefixed(prefix: str, **values: str) -> dict[str, str]:
    return {f"{prefix}-{name}": value for name, value in values.items()}


# --- empty states and first steps -------------------------------------------------------------------------------------


def test_without_a_squad_the_page_leads_to_the_squads(someone: people.People, coach: Client) -> None:
    with access.within(someone.club):
        Rider.objects.all().delete()
        Squad.objects.all().delete()
    page = coach.get(reverse("programs")).content.decode()
    assert "No squad yet" in page
    assert f'href="{reverse("squads")}"' in page
    assert coach.get(reverse("program-new")).headers["Location"] == reverse("programs")


def test_a_squad_without_a_program_gets_the_first_draft_with_one_click(
    someone: people.People, coach: Client
) -> None:
    with access.within(someone.club):
        Program.objects.all().delete()
    page = coach.get(reverse("programs")).content.decode()
    form = page[page.index('<div class="empty">') :]
    sent = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
    sent.pop("csrfmiddlewaretoken", None)
    made = coach.post(reverse("program-new"), sent)
    with access.within(someone.club):
        program = Program.objects.get()
        assert [block.intent for block in program.blocks.all()] == ["learn", "build", "maintain"]
    assert made.headers["Location"] == reverse("program", args=[program.pk])


def test_a_program_may_begin_as_a_copy(someone: people.People, coach: Client) -> None:
    page = coach.get(reverse("program-new") + f"?copied_from={someone.program.pk}").content.decode()
    assert f'<option value="{someone.program.pk}" selected>' in page
    values = {
        "squad": someone.squad.pk,
        "name": "Copy",
        "starts_on": "2027-01-04",
        "copied_from": someone.program.pk,
    }
    coach.post(reverse("program-new"), values)
    with access.within(someone.club):
        copied = Program.objects.get(name="Copy")
        assert Slot.objects.filter(template__block__program=copied).count() == 8


def test_what_is_wrong_is_said_and_nothing_typed_is_lost(someone: people.People, coach: Client) -> None:
    values = {"squad": someone.squad.pk, "name": "winter", "starts_on": "2027-01-05", "copied_from": ""}
    answer = coach.post(reverse("program-new"), values)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "This is a Tuesday. Choose a Monday, such as 4 January 2027 or 11 January 2027." in page
    assert 'value="winter"' in page
    taken = coach.post(reverse("program-new"), {**values, "starts_on": "2027-01-04"})
    assert "This squad has a program of that name" in taken.content.decode()


# --- the program's page -----------------------------------------------------------------------------------------------


def test_the_page_shows_the_season_its_blocks_and_each_slot_on_one_line(
    someone: people.People, coach: Client
) -> None:
    with access.within(someone.club):
        on = someone.program.starts_on + timedelta(days=20)
        Race.objects.create(club=someone.club, name="Skarnock Bank Hill Climb", on=on)
    page = coach.get(reverse("program", args=[someone.program.pk])).content.decode()
    assert "Skarnock Bank Hill Climb" in page
    assert re.search(r"<strong>Squat</strong>, 3 sets, rest 90\xa0s", page)
    last = date_format(someone.program.starts_on + timedelta(weeks=20, days=-1), "j M Y")
    assert f"{date_format(someone.program.starts_on, 'j M')} to {last}" in page
    assert "Weeks already worked out or sent keep theirs." in page
    assert re.search(r"about <b>\d+ min</b>, <b>11</b> sets", page)
    assert re.search(r"<dd>hinge <b>6</b></dd>", page)


def test_minutes_and_sets_follow_each_change(someone: people.People, coach: Client) -> None:
    program, _block, template, slot = first_rows(someone)
    before = minutes_of(coach, program, template)
    answer = coach.post(
        reverse("slot-edit", args=[slot.pk]),
        prefixed(f"slot-{slot.pk}", **{**SLOT, "what": "pattern:squat", "sets": "5"}),
        **HTMX,
    )
    page = answer.content.decode()
    assert (answer.headers["HX-Retarget"], answer.headers["HX-Reswap"]) == ("#season", "outerHTML")
    assert "<html" not in page
    assert re.search(r"<strong>Squat</strong>, 5 sets, rest 60\xa0s", page)
    assert "<dd>squat <b>5</b></dd>" in page
    assert minutes_of(coach, program, template) != before


def minutes_of(coach: Client, program: Program, template: SessionTemplate) -> int:
    page = coach.get(reverse("program", args=[program.pk])).content.decode()
    card = page[page.index(f'id="template-{template.pk}"') :]
    found = re.search(r"about <b>(\d+) min</b>", card)
    assert found
    return int(found[1])


def test_warnings_stand_in_plain_words_where_they_belong(someone: people.People, coach: Client) -> None:
    with access.within(someone.club):
        Slot.objects.filter(pattern="pull").delete()
        Rider.objects.filter(pk=someone.rider.pk).update(birth_year=timezone.now().year - 70)
    page = coach.get(reverse("program", args=[someone.program.pk])).content.decode()
    assert "No pull in a week: the upper back gets little." in page
    assert "Riders from 65 (1): balance work is added to each session that has none, by itself." in page


def test_the_queries_of_the_page_do_not_grow_with_the_program(someone: people.People, coach: Client) -> None:
    address = reverse("program", args=[someone.program.pk])
    coach.get(address)
    with CaptureQueriesContext(
        connection,
    ) as few:
        coach.get(address)
    with access.within(someone.club):
        block = someone.program.blocks.get()
        for _number in range(3):
            builder.add_block(
                program=someone.program,
                values={"weeks": 4},
                sessions_from=block,
                by=someone.coach,
                now=timezone.now(),
            )
        for template in SessionTemplate.objects.all():
            for slug in ("goblet-squat", "squat"):
                values = {"pattern": "squat", "exercise_id": slug}
                builder.add_slot(template=template, values=values, by=someone.coach, now=timezone.now())
        assert Slot.objects.count() == 8 * 4 + 2 * 8
    with CaptureQueriesContext(connection) as many:
        coach.get(address)
    assert len(many) == len(few)


def test_reading_the_page_writes_nothing_into_the_season(someone: people.People) -> None:
    with access.within(someone.club), CaptureQueriesContext(connection) as seen:
        outlines.read(someone.program.pk, today=timezone.localdate())
    assert [query for query in seen.captured_queries if not query["sql"].startswith("SELECT")] == []
    assert 5 <= len(seen) <= 9


# --- editing, with and without scripts --------------------------------------------------------------------------------


def test_a_slot_is_edited_on_a_plain_page_that_leads_back_to_it(
    someone: people.People, coach: Client
) -> None:
    program, _block, _template, slot = first_rows(someone)
    address = reverse("slot-edit", args=[slot.pk])
    page = coach.get(address).content.decode()
    assert "<html" in page
    assert '<option value="pattern:squat" selected>' in page
    back = coach.post(address, prefixed(f"slot-{slot.pk}", **SLOT))
    assert back.headers["Location"] == reverse("program", args=[program.pk]) + f"#slot-{slot.pk}"
    with access.within(someone.club):
        slot.refresh_from_db()
    assert (slot.pattern, slot.sets, slot.rest_s) == ("pull", 4, 60)


def test_htmx_gets_the_form_alone_and_its_errors_in_its_place(someone: people.People, coach: Client) -> None:
    _program, _block, _template, slot = first_rows(someone)
    address = reverse("slot-edit", args=[slot.pk])
    form = coach.get(address, **HTMX)
    assert form.content.decode().lstrip().startswith("<form")
    assert form.headers["HX-Retarget"] == f"#slot-{slot.pk}-form"
    wrong = coach.post(address, prefixed(f"slot-{slot.pk}", **{**SLOT, "low": "12", "high": "8"}), **HTMX)
    assert (wrong.status_code, wrong.headers["HX-Retarget"]) == (422, f"#slot-{slot.pk}-form")
    assert "Not less than 12, the least." in wrong.content.decode()


def test_one_exercise_for_all_brings_its_pattern_along(someone: people.People, coach: Client) -> None:
    _program, _block, template, _slot = first_rows(someone)
    values = prefixed(f"slot-of-{template.pk}", **{**SLOT, "what": "exercise:goblet-squat"})
    coach.post(reverse("slot-new", args=[template.pk]), values)
    with access.within(someone.club):
        added = Slot.objects.filter(template=template).last()
    assert added is not None
    assert (added.pattern, added.exercise_id) == ("squat", "goblet-squat")
    page = coach.get(reverse("program", args=[someone.program.pk])).content.decode()
    assert reverse("exercise", args=["goblet-squat"]) in page


def test_forms_open_elsewhere_are_kept_and_the_saved_one_is_shut(
    someone: people.People, coach: Client
) -> None:
    _program, _block, _template, slot = first_rows(someone)
    page = coach.post(
        reverse("slot-edit", args=[slot.pk]), prefixed(f"slot-{slot.pk}", **SLOT), **HTMX
    ).content.decode()
    places = dict(re.findall(r'id="([\w-]+)-form"( hx-preserve)?', page))
    assert places.pop(f"slot-{slot.pk}") == ""
    assert set(places.values()) == {" hx-preserve"}
    assert len(places) > 10


def test_up_and_down_move_and_keep_the_reader_at_the_button(someone: people.People, coach: Client) -> None:
    _program, _block, template, slot = first_rows(someone)
    before = patterns(someone, template)
    page = coach.post(reverse("slot-move", args=[slot.pk]), {"to": "down"}, **HTMX).content.decode()
    assert patterns(someone, template) == [before[1], before[0], *before[2:]]
    assert focused(page) == f"slot-{slot.pk}-down"
    page = coach.post(reverse("slot-move", args=[slot.pk]), {"to": "up"}, **HTMX).content.decode()
    assert focused(page) == f"slot-{slot.pk}-down"  # first again: there is no way up
    assert patterns(someone, template) == before


def focused(page: str) -> str:
    (found,) = re.findall(r'<(?:a|button|div)[^>]*id="([\w-]+)"[^>]* autofocus', page)
    return str(found)


def test_a_removal_offers_the_way_back_where_the_thing_stood(someone: people.People, coach: Client) -> None:
    _program, _block, template, slot = first_rows(someone)
    before = patterns(someone, template)
    page = coach.post(reverse("slot-remove", args=[slot.pk]), **HTMX).content.decode()
    assert patterns(someone, template) == before[1:]
    card = page[page.index(f'id="template-{template.pk}"') :]
    assert card.index("Squat removed.") < card.index("</article>")
    found = re.search(r'name="removed" value="([^"]+)"', page)
    assert found
    assert focused(page) == "undone"
    coach.post(reverse("program-undo"), {"removed": found[1]})
    assert patterns(someone, template) == before


def test_without_scripts_the_way_back_stands_on_the_next_page_once(
    someone: people.People, coach: Client
) -> None:
    program, block, _template, _slot = first_rows(someone)
    back = coach.post(reverse("block-remove", args=[block.pk]))
    address = reverse("program", args=[program.pk])
    assert back.headers["Location"].startswith(address)
    assert "Build removed." in coach.get(address).content.decode()
    assert "Build removed." not in coach.get(address).content.decode()


def test_a_way_back_that_was_tampered_with_brings_nothing_back(someone: people.People, coach: Client) -> None:
    _program, _block, _template, slot = first_rows(someone)
    page = coach.post(reverse("slot-remove", args=[slot.pk]), **HTMX).content.decode()
    found = re.search(r'name="removed" value="([^"]+)"', page)
    assert found
    with access.within(someone.club):
        count = Slot.objects.count()
    coach.post(reverse("program-undo"), {"removed": "x" + found[1]})
    with access.within(someone.club):
        assert Slot.objects.count() == count


def test_blocks_and_sessions_are_added_and_changed(someone: people.People, coach: Client) -> None:
    program, block, template, _slot = first_rows(someone)
    values = {"intent": "maintain", "name": "", "weeks": "6", "sessions": "1", "sessions_from": str(block.pk)}
    coach.post(reverse("block-new", args=[program.pk]), prefixed("block", **values))
    session = {"name": "Third", "format": "circuit", "warm_up_minutes": "8", "cool_down_minutes": "5"}
    coach.post(reverse("template-new", args=[block.pk]), prefixed(f"session-of-{block.pk}", **session))
    coach.post(reverse("template-edit", args=[template.pk]), prefixed(f"template-{template.pk}", **session))
    with access.within(someone.club):
        added = Block.objects.get(program=program, order=2)
        assert (added.intent, added.weeks, added.templates.count()) == ("maintain", 6, 2)
        assert SessionTemplate.objects.filter(block=block, name="Third", format="circuit").count() == 2
    too_short = prefixed(f"template-{template.pk}", **{**session, "warm_up_minutes": "2"})
    assert coach.post(reverse("template-edit", args=[template.pk]), too_short).status_code == 422


def test_a_program_that_would_leave_weeks_without_any_is_not_put_in_use(
    someone: people.People, coach: Client
) -> None:
    with access.within(someone.club):
        other = builder.start(
            squad=someone.squad, name="Next", starts_on=people.MONDAY, by=someone.coach, now=timezone.now()
        )
    address = reverse("program-use", args=[other.pk])
    far = week_of(timezone.localdate() + timedelta(weeks=5))
    late = coach.post(address, {"starts_on": f"{week_days(far)[0]}"})
    assert late.status_code == 422
    assert "Winter is in use" in late.content.decode()
    near = week_days(shift_week(week_of(timezone.localdate()), 1))[0]
    assert coach.post(address, {"starts_on": f"{near}"}).status_code == 302
    with access.within(someone.club):
        assert Program.objects.get(is_active=True).pk == other.pk
    assert coach.post(reverse("program-remove", args=[other.pk])).status_code == 302
    with access.within(someone.club):
        assert Program.objects.filter(pk=other.pk).exists()


# --- who may ----------------------------------------------------------------------------------------------------------

CHANGES = [
    ("program-edit", "program"), ("program-use", "program"), ("program-remove", "program"), ("block-new", "program"),
    ("block-edit", "block"), ("block-move", "block"), ("block-remove", "block"), ("template-new", "block"),
    ("template-edit", "template"), ("template-move", "template"), ("template-remove", "template"),
    ("slot-new", "template"), ("slot-edit", "slot"), ("slot-move", "slot"), ("slot-remove", "slot"),
]  # fmt: skip


@pytest.mark.parametrize("role", ["assistant", "welfare"])
def test_who_does_not_plan_reads_and_cannot_change(someone: people.People, role: str) -> None:
    client = signed_in(getattr(someone, role))
    page = client.get(reverse("program", args=[someone.program.pk])).content.decode()
    assert "Squat" in page
    for words in ("Remove", "Add a block", "Earlier", "hx-post"):
        assert words not in page
    rows = dict(zip(("program", "block", "template", "slot"), first_rows(someone), strict=True))
    for name, kind in CHANGES:
        assert client.post(reverse(name, args=[rows[kind].pk])).status_code == 403, name
    assert client.post(reverse("program-new")).status_code == 403
    assert client.post(reverse("program-undo")).status_code == 403


def test_another_club_finds_nothing(someone: people.People) -> None:
    client = signed_in(people.strangers(timezone.now()).owner)
    rows = dict(zip(("program", "block", "template", "slot"), first_rows(someone), strict=True))
    for name, kind in [("program", "program"), ("program-preview", "program"), *CHANGES]:
        address = reverse(name, args=[rows[kind].pk])
        assert {client.get(address).status_code, client.post(address).status_code} <= {404, 405}, name
    assert "Wexenfold" not in client.get(reverse("programs")).content.decode()


# --- the preview ------------------------------------------------------------------------------------------------------


def written(someone: people.People) -> list[int]:
    with access.within(someone.club):
        return [model.objects.count() for model in (WeekPlan, Decision, LevelMove)]


def test_the_preview_shows_a_riders_week_with_reasons_and_writes_nothing(
    someone: people.People, coach: Client
) -> None:
    before = written(someone)
    week = shift_week(week_of(timezone.localdate()), 1)
    query = {"rider": someone.rider.pk, "week": week_name(week)}
    address = reverse("program-preview", args=[someone.program.pk])
    page = coach.get(address, query).content.decode()
    assert "Tobias Okeldene" in page
    assert page.count('class="target-line"') == 8
    assert "Rule " in page
    assert written(someone) == before
    part = coach.get(address, query, **HTMX).content.decode()
    assert part.lstrip().startswith('<div id="week"')


def test_the_preview_of_a_far_week_says_what_it_takes_for_granted(
    someone: people.People, coach: Client
) -> None:
    week = shift_week(week_of(timezone.localdate()), 9)
    address = reverse("program-preview", args=[someone.program.pk])
    page = coach.get(address, {"rider": someone.rider.pk, "week": week_name(week)}).content.decode()
    assert "a preview, not a forecast" in page
    assert "away" not in page[page.index("not a forecast") :]
    assert page.count('class="target-line"') > 0


def test_a_program_not_in_use_is_previewed_as_if_it_were(someone: people.People, coach: Client) -> None:
    monday = week_days(shift_week(week_of(timezone.localdate()), 1))[0]
    with access.within(someone.club):
        other = builder.start(
            squad=someone.squad, name="Next", starts_on=monday, by=someone.coach, now=timezone.now()
        )
        Slot.objects.filter(template__block__program=other).exclude(pattern="pull").delete()
        in_use = facts.read_blocks([someone.squad.pk])
    page = coach.get(
        reverse("program-preview", args=[other.pk]), {"rider": someone.rider.pk}
    ).content.decode()
    assert page.count('class="target-line"') == 1
    with access.within(someone.club):
        assert facts.read_blocks([someone.squad.pk]) == in_use


def test_who_sees_no_health_reads_no_health_in_the_preview(someone: people.People) -> None:
    """The young rider's growth was not entered, which counts as a growth spurt: health, by the wording's own list."""
    address = reverse("program-preview", args=[someone.program.pk])
    query = {"rider": someone.young_rider.pk}
    with access.within(someone.club):
        Rider.objects.filter(pk=someone.young_rider.pk).update(birth_year=timezone.now().year - 14)
    seen = signed_in(someone.coach).get(address, query).content.decode()
    hidden = signed_in(someone.assistant).get(address, query).content.decode()
    assert "growth spurt" in seen
    assert "growth" not in hidden
    assert "Health reason." in hidden


def test_a_rider_of_another_squad_or_a_week_that_is_over_is_not_previewed(
    someone: people.People, coach: Client
) -> None:
    address = reverse("program-preview", args=[someone.program.pk])
    over = week_name(shift_week(week_of(timezone.localdate()), -1))
    for query in ({"week": over}, {"rider": 999999}, {"week": "never"}):
        page = coach.get(address, query)
        assert page.status_code == 200
        assert 'class="target-line"' not in page.content.decode()


def test_without_riders_the_preview_says_what_it_would_show(someone: people.People, coach: Client) -> None:
    with access.within(someone.club):
        Rider.objects.all().delete()
    page: Any = coach.get(reverse("program-preview", args=[someone.program.pk]))
    assert "No rider in this squad yet" in page.content.decode()
