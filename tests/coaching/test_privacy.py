"""What a rider may ask for, held against every model there is: export, erasure, retention.

Sources: Regulation (EU) 2016/679 (GDPR), articles 5(1)(e) (storage limitation), 15 (access), 17 (erasure) and 20
(portability, "a structured, commonly used and machine-readable format"); RFC 4180 (CSV); OWASP ASVS 5.0, V1.2.10
(formulas in exports), V14.2 (retention).
"""

import csv
import io
import json
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection, models
from django.test.utils import isolate_apps

from athletes import access
from athletes.models import AuditEntry, Delivery, FollowUp, Link, Rider, RosterImport, Suppression, Venue
from athletes.retention import NOT_PERSONAL, Erasure, PrivacyRule
from coaching import privacy
from programs.models import CheckIn, WeekPlan
from tests.world import WORLD_NOW, World, built_world, project_models, tenant_models, world

__all__ = ["built_world", "world"]

#: Written into every text about the rider.
CANARY = "Thistlewick"


# --- every model has a rule, and the rule fits the model --------------------------------------------------------------


def keys_of(model: type[models.Model]) -> Iterator[models.ForeignKey[Any, Any]]:
    for field in model._meta.local_fields:
        if isinstance(field, models.ForeignKey):
            yield field


def paths_to_rider(model: type[models.Model], seen: frozenset[type[models.Model]] = frozenset()) -> list[str]:
    """Every chain of keys from the model to a rider, as lookups."""
    if model is Rider:
        return ["pk"]
    found = []
    for field in keys_of(model):
        parent = field.related_model
        if isinstance(parent, type) and parent not in seen:
            for path in paths_to_rider(parent, seen | {model}):
                found.append(field.name if path == "pk" else f"{field.name}__{path}")
    return found


def faults_of(model: type[models.Model]) -> list[str]:
    """What is wrong with a model's privacy rule."""
    rule = model.__dict__.get("privacy")
    if not isinstance(rule, PrivacyRule):
        return ["has no rule of its own"]
    faults = []
    paths = paths_to_rider(model)
    if paths and not rule.rider:
        faults.append(f"leads to a rider by {paths} and its rule says so nowhere")
    if rule.rider and rule.rider not in paths:
        faults.append(f"its rule names {rule.rider!r}, which leads to no rider")
    if (
        (rule.erasure is Erasure.KEEP or not rule.exports)
        and rule is not NOT_PERSONAL
        and not _is_explained(rule)
    ):
        faults.append("keeps or leaves out something and does not say why")
    if rule.rider and rule.erasure is not Erasure.DELETE and _goes_with_its_rider(model):
        faults.append("would be kept, and the database deletes it with its rider")
    if (rule.erasure is Erasure.STRIP) != bool(rule.strips):
        faults.append("strips nothing, or names what it does not strip")
    names = {field.name: field for field in model._meta.local_fields}
    if (rule.keeps_days is None) != (not rule.dated) or not isinstance(
        names.get(rule.dated), models.DateTimeField | None
    ):
        faults.append("has days to keep without the moment from which they count")
    if not {*rule.strips, *filter(None, [rule.mentions, rule.dated])} <= names.keys():
        faults.append("names fields that are not there")
    if rule.health and not rule.rider:
        faults.append("is health data of nobody")
    return faults


def _is_explained(rule: PrivacyRule) -> bool:
    """A link is left out because nothing of it is kept but a hash; everything else says why."""
    return bool(rule.why) or rule == Link.privacy


def _goes_with_its_rider(model: type[models.Model]) -> bool:
    return any(
        field.remote_field.on_delete is models.CASCADE and paths_to_rider(field.related_model)
        for field in keys_of(model)
    )


@pytest.mark.parametrize("model", project_models(), ids=lambda model: model.__name__)
def test_every_model_says_what_becomes_of_its_rows(model: type[models.Model]) -> None:
    assert faults_of(model) == []


@isolate_apps("athletes")
def test_a_model_with_a_rider_in_it_and_no_rule_would_be_noticed() -> None:
    class Diary(models.Model):  # noqa: DJ008
        rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="+")

        class Meta:
            app_label = "athletes"

    class Sleep(models.Model):  # noqa: DJ008
        plan = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="+")
        privacy = NOT_PERSONAL

        class Meta:
            app_label = "athletes"

    class Kept(models.Model):  # noqa: DJ008
        rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="+")
        privacy = PrivacyRule(rider="rider", erasure=Erasure.KEEP, keeps_days=30)

        class Meta:
            app_label = "athletes"

    assert faults_of(Diary) == ["has no rule of its own"]
    assert faults_of(Sleep) == ["leads to a rider by ['plan__rider'] and its rule says so nowhere"]
    assert faults_of(Kept) == [
        "keeps or leaves out something and does not say why",
        "would be kept, and the database deletes it with its rider",
        "has days to keep without the moment from which they count",
    ]


def test_the_models_that_hold_health_are_those_of_the_body_and_of_plans_made_from_it() -> None:
    healthy = {model.__name__ for model in tenant_models() if model.privacy.health}
    assert {
        "Screening",
        "ClinicianLimit",
        "MovementCheck",
        "BodyReport",
        "SymptomReport",
        "PainBaseline",
        "FollowUp",
        "FollowUpEntry",
        "CheckInVersion",
        "Decision",
    } <= healthy


# --- what is written about a rider ------------------------------------------------------------------------------------


def write_canaries(rider: Rider) -> list[tuple[str, str]]:
    """Writes the canary into every text field of every row about the rider. Returns (model, field) written."""
    written = []
    for model, rule in privacy.rules_about_riders():
        rows = privacy.rows_about(model, rule, rider)
        for field in model._meta.local_concrete_fields:
            if isinstance(field, models.CharField | models.TextField) and not field.choices:
                size = field.max_length or 100
                for row in rows:
                    # Cut to what fits, so that short fields carry a mark of their own.
                    value = f"{row.pk}-{CANARY}"[-size:] if size >= 12 else None
                    if isinstance(field, models.EmailField):
                        value = f"{row.pk}-{CANARY}@wexenfold.example"
                    if value:
                        rows.filter(pk=row.pk).update(**{field.attname: value})
                        written.append((model.__name__, field.name))
            if isinstance(field, models.JSONField) and field.name != "furniture":
                rows.update(**{field.attname: {"said": CANARY}})
                written.append((model.__name__, field.name))
    return written


def tables_with(text: str) -> set[str]:
    """The tables in which the text stands anywhere, of those that the club in force sees."""
    found = set()
    with connection.cursor() as cursor:
        for model in tenant_models():
            cursor.execute(
                f'SELECT count(*) FROM "{model._meta.db_table}" AS each WHERE each::text ILIKE %s',
                [f"%{text}%"],
            )
            if cursor.fetchone()[0]:
                found.add(model.__name__)
    return found


def exported(world: World) -> dict[str, Any]:
    return privacy.export(rider=world.ours.people.rider, by=world.ours.people.owner, now=WORLD_NOW)


def test_an_export_holds_every_text_that_was_written_about_the_rider(world: World) -> None:
    with access.within(world.ours.club):
        written = write_canaries(world.ours.people.rider)
        assert len({model for model, _field in written}) > 20
        tables = exported(world)["tables"]
        for model, field in written:
            if model != "Link":
                assert any(CANARY in json.dumps(row[field]) for row in tables[model]["rows"]), (model, field)


def test_an_export_has_rows_of_every_model_that_exports(world: World) -> None:
    """So that no lookup path leads nowhere without anybody noticing."""
    with access.within(world.ours.club):
        tables = exported(world)["tables"]
    assert tables.keys() == {model.__name__ for model, rule in privacy.rules_about_riders() if rule.exports}
    assert [name for name, table in tables.items() if not table["rows"]] == []
    assert "Link" not in tables


def test_an_export_is_json_and_names_people_instead_of_numbers(world: World) -> None:
    with access.within(world.ours.club):
        document = exported(world)
    assert json.loads(json.dumps(document)) == document
    (rider,) = document["tables"]["Rider"]["rows"]
    assert (rider["given_name"], rider["squad"]) == ("Tobias", "Wexenfold hill squad")
    assert document["tables"]["FollowUp"]["rows"][0]["owner"].startswith("Coach of wexenfold")
    assert document["tables"]["BodyReport"]["health"]
    assert not document["tables"]["RegularRide"]["health"]
    datetime.fromisoformat(document["made_at"])


def test_an_export_speaks_of_nobody_else(world: World) -> None:
    with access.within(world.ours.club):
        text = json.dumps(exported(world))
    for other in ("Wren", "Tollifant", "Larkmoor", "Brandlow"):
        assert other not in text


def test_an_export_is_in_the_audit_log(world: World) -> None:
    with access.within(world.ours.club):
        exported(world)
        entry = AuditEntry.objects.filter(action="rider.export").first()
    assert entry.rider_key == world.ours.people.rider.pk
    assert entry.actor == f"coach:{world.ours.people.owner.pk}"
    assert entry.details["rows"]["Rider"] == 1


def test_an_export_asks_the_database_once_a_model(world: World) -> None:
    with access.within(world.ours.club):
        before = len(connection.queries_log)
        connection.force_debug_cursor = True
        try:
            document = exported(world)
        finally:
            connection.force_debug_cursor = False
        asked = len(connection.queries_log) - before
    assert asked <= len(document["tables"]) + 6


def test_a_csv_reads_back_as_what_was_exported(world: World) -> None:
    with access.within(world.ours.club):
        document = exported(world)
    texts = privacy.to_csv(document)
    assert texts.keys() == document["tables"].keys()
    for name, text in texts.items():
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        wanted = document["tables"][name]["rows"]
        assert [row.get("id") for row in rows] == [str(row["id"]) for row in wanted]


def test_a_csv_holds_nothing_that_a_spreadsheet_would_compute(world: World) -> None:
    with access.within(world.ours.club):
        Rider.objects.filter(pk=world.ours.people.rider.pk).update(note='=HYPERLINK("http://x.example")')
        text = privacy.to_csv(exported(world))["Rider"]
    (row,) = csv.DictReader(io.StringIO(text, newline=""))
    assert row["note"] == '\'=HYPERLINK("http://x.example")'


# --- erasure ----------------------------------------------------------------------------------------------------------


def erase(world: World) -> privacy.Erased:
    return privacy.erase(rider=world.ours.people.rider, by=world.ours.people.owner, now=WORLD_NOW)


def test_after_erasure_nothing_that_was_written_about_the_rider_is_left(world: World) -> None:
    with access.within(world.ours.club):
        write_canaries(world.ours.people.rider)
        assert "Rider" in tables_with(CANARY)
        assert len(tables_with(CANARY)) > 20
        erase(world)
        assert tables_with(CANARY) == set()


def test_after_erasure_name_and_address_stand_nowhere(world: World) -> None:
    rider = world.ours.people.rider
    with access.within(world.ours.club):
        RosterImport.objects.filter(pk=world.ours.roster.pk).update(rows=[["Tobias", rider.email.upper()]])
        assert tables_with(rider.email) >= {"Rider", "Delivery", "RosterImport"}
        erase(world)
        for text in (rider.email, rider.family_name):
            assert tables_with(text) == set()


def test_a_roster_file_that_names_nobody_erased_stays(world: World) -> None:
    with access.within(world.ours.club):
        erase(world)
        assert RosterImport.objects.filter(pk=world.ours.roster.pk).exists()


def test_a_roster_file_with_the_guardians_address_goes_too(world: World) -> None:
    child = world.ours.people.young_rider
    with access.within(world.ours.club):
        RosterImport.objects.filter(pk=world.ours.roster.pk).update(rows=[["Wren", child.guardian_email]])
        done = privacy.erase(rider=child, by=world.ours.people.owner, now=WORLD_NOW)
        assert done.deleted["RosterImport"] == 1
        assert not RosterImport.objects.exists()


def test_erasure_says_what_it_deleted_and_the_audit_log_keeps_the_number_alone(world: World) -> None:
    key = world.ours.people.rider.pk
    with access.within(world.ours.club):
        before = AuditEntry.objects.count()
        done = erase(world)
        assert done.stripped == {}
        assert done.deleted["Rider"] == 1
        assert done.deleted.keys() == {
            model.__name__ for model, rule in privacy.rules_about_riders() if rule.erasure is Erasure.DELETE
        }
        entry = AuditEntry.objects.first()
        assert (entry.action, entry.rider_key) == ("rider.erase", key)
        assert "Tobias" not in json.dumps(entry.details)
        assert AuditEntry.objects.count() == before + 1


def test_erasure_leaves_everybody_else_and_the_club_as_they_were(world: World) -> None:
    with access.within(world.ours.club):
        kept = {
            model: model._base_manager.exclude(**{rule.rider: world.ours.people.rider.pk}).count()
            for model, rule in privacy.rules_about_riders()
        }
        erase(world)
        assert {model: model._base_manager.count() for model in kept} == kept
        assert Rider.objects.get() == world.ours.people.young_rider
        assert world.ours.people.squad.programs.exists()
    with access.within(world.theirs.club):
        assert CheckIn.objects.exists()
        assert Rider.objects.count() == 2


def test_the_clubs_own_venue_is_no_riders_to_take_along(world: World) -> None:
    with access.within(world.ours.club):
        hall = Venue.objects.create(club=world.ours.club, name="Hall")
        erase(world)
        assert Venue.objects.filter(pk=hall.pk).exists()


def test_an_address_that_asked_for_no_more_mail_is_still_left_alone_after_erasure(world: World) -> None:
    """It is the one thing that must outlast the rider; a hash of so guessable a text would protect nobody."""
    rider = world.ours.people.rider
    with access.within(world.ours.club):
        Suppression.objects.create(club=world.ours.club, address=rider.email, why="stopped", at=WORLD_NOW)
        erase(world)
        assert tables_with(rider.email) == {"Suppression"}


def test_nothing_waits_to_be_sent_to_somebody_erased(world: World) -> None:
    rider = world.ours.people.rider
    with access.within(world.ours.club):
        assert Delivery.objects.filter(rider=rider).waiting().exists()
        erase(world)
        assert not Delivery.objects.filter(recipient=rider.email).exists()


@pytest.mark.parametrize("verb", [privacy.export, privacy.erase])
def test_a_rider_of_another_club_is_out_of_reach(world: World, verb: Callable[..., object]) -> None:
    theirs = world.theirs.people.rider
    with access.within(world.ours.club), pytest.raises(Rider.DoesNotExist):
        verb(rider=theirs, by=world.ours.people.owner, now=WORLD_NOW)
    with access.within(world.theirs.club):
        assert Rider.objects.filter(pk=theirs.pk).exists()
        assert FollowUp.objects.filter(rider=theirs).exists()


@isolate_apps("athletes")
def test_stripping_empties_each_field_with_its_own_nothing() -> None:
    class Note(models.Model):  # noqa: DJ008
        text = models.TextField()
        day = models.DateField(null=True)
        facts = models.JSONField(default=dict)

        class Meta:
            app_label = "athletes"

    rule = PrivacyRule(rider="rider", erasure=Erasure.STRIP, strips=("text", "day", "facts"))
    assert privacy._emptied(Note, rule) == {"text": "", "day": None, "facts": {}}


# --- retention --------------------------------------------------------------------------------------------------------

DATED = [(model, model.privacy) for model in tenant_models() if model.privacy.keeps_days is not None]


def test_something_runs_out() -> None:
    assert {model.__name__ for model, _rule in DATED} >= {"RosterImport", "Delivery", "Link"}


@pytest.mark.parametrize(("model", "rule"), DATED, ids=lambda value: getattr(value, "__name__", ""))
def test_a_row_goes_the_day_after_its_last(
    world: World, model: type[models.Model], rule: PrivacyRule
) -> None:
    club = world.ours.club
    last = WORLD_NOW - timedelta(days=rule.keeps_days or 0)
    with access.within(club):
        row = model._base_manager.order_by("pk").first()
        rows = model._base_manager.filter(pk=row.pk)
        rows.update(**{rule.dated: last})
        privacy.apply_retention(club=club, now=WORLD_NOW)
        assert rows.exists()
        rows.update(**{rule.dated: last - timedelta(seconds=1)})
        assert privacy.apply_retention(club=club, now=WORLD_NOW) == {model.__name__: 1}
        assert not rows.exists()
        assert AuditEntry.objects.first().details == {"rows": {model.__name__: 1}}


def test_retention_with_nothing_to_do_does_nothing_and_says_nothing(world: World) -> None:
    with access.within(world.ours.club):
        before = AuditEntry.objects.count()
        assert privacy.apply_retention(club=world.ours.club, now=WORLD_NOW) == {}
        assert AuditEntry.objects.count() == before


def test_retention_of_one_club_touches_no_other(world: World) -> None:
    later = WORLD_NOW + timedelta(days=10_000)
    with access.within(world.theirs.club):
        before = {model: model._base_manager.count() for model, _rule in DATED}
    with access.within(world.ours.club):
        gone = privacy.apply_retention(club=world.ours.club, now=later)
        assert gone.keys() == {model.__name__ for model, _rule in DATED}
    with access.within(world.theirs.club):
        assert {model: model._base_manager.count() for model, _rule in DATED} == before
