"""What a rider may ask for, and what time takes away: export, erasure and retention over every model there is.

    privacy.export(rider=rider, by=owner, now=now)
    privacy.erase(rider=rider, by=owner, now=now)
    privacy.apply_retention(club=club, now=now)

What happens to a row stands on its model, as `privacy` (`athletes/retention.py`); this module walks all models and
obeys. All verbs run inside `access.within(club)`. Not legal advice: the club's own law comes first.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models, transaction
from django.db.models.functions import Cast

from athletes.access import name_of, record
from athletes.models import Club, Coach, Rider
from athletes.retention import Erasure, PrivacyRule
from athletes.tenancy import is_tenant
from athletes.typed import looks_like_formula

#: The layout of an export. Raised when a reader would have to change.
SCHEMA = 1
#: Left out of an export: which club is said once, at the top.
_SAID_ONCE = {"club"}


# --- walking ----------------------------------------------------------------------------------------------------------


def rules() -> Iterator[tuple[type[models.Model], PrivacyRule]]:
    """Every model of a club, with its rule."""
    for model in apps.get_models():
        if is_tenant(model):
            yield model, rule_of(model)


def rule_of(model: Any) -> PrivacyRule:
    """The rule that stands on the model."""
    rule: PrivacyRule = model.privacy
    return rule


def rules_about_riders() -> list[tuple[type[models.Model], PrivacyRule]]:
    """The models whose rows are about a rider, those that hang from others first, the rider's own row last."""
    about = [(model, rule) for model, rule in rules() if rule.rider]
    return sorted(about, key=lambda one: (one[0] is Rider, -one[1].rider.count("__")))


def rows_about(model: type[models.Model], rule: PrivacyRule, rider: Rider) -> models.QuerySet[Any]:
    """The rows of a model that are about the rider."""
    return model._base_manager.filter(**{rule.rider: rider.pk})


# --- export -----------------------------------------------------------------------------------------------------------


@transaction.atomic
def export(*, rider: Rider, by: Coach, now: datetime) -> dict[str, Any]:
    """Everything that is held about the rider, as values that JSON has, and the audit log says that it was handed out.

    ``{"schema", "made_at", "club", "rider", "tables": {"BodyReport": {"health": bool, "rows": [{field: value}]}}}``.
    Moments and days are ISO 8601, masses are text with all their digits. Left out, as their models say: links (only
    hashes of them are kept) and the audit log (who read what, by number). Raises `Rider.DoesNotExist` for a rider of
    another club.
    """
    rider = Rider.objects.select_related("club").get(pk=rider.pk)
    tables: dict[str, dict[str, Any]] = {
        model.__name__: {
            "health": rule.health,
            "rows": [_row(row) for row in _with_names(rows_about(model, rule, rider)).order_by("pk")],
        }
        for model, rule in reversed(rules_about_riders())
        if rule.exports
    }
    record(
        "rider.export",
        club_id=rider.club_id,
        by=name_of(by),
        now=now,
        rider=rider,
        rows={name: len(table["rows"]) for name, table in tables.items() if table["rows"]},
    )
    return {
        "schema": SCHEMA,
        "made_at": now.isoformat(),
        "club": rider.club.name,
        "rider": rider.name,
        "tables": tables,
    }


def _with_names(rows: models.QuerySet[Any]) -> models.QuerySet[Any]:
    """The rows with whatever their keys to people and things are shown as, in one query."""
    paths = []
    for field in _keys_by_name(rows.model):
        paths.append(f"{field.name}__user" if field.related_model is Coach else field.name)
    return rows.select_related(*paths) if paths else rows


def _keys_by_name(model: type[models.Model]) -> list[models.ForeignKey[Any, Any]]:
    """The keys to what is not about a rider: coaches, squads, exercises. Their numbers would say nothing."""
    return [
        field
        for field in model._meta.local_fields
        if isinstance(field, models.ForeignKey)
        and field.name not in _SAID_ONCE
        and not rule_of(field.related_model).rider
    ]


def _row(row: models.Model) -> dict[str, Any]:
    by_name = {field.name for field in _keys_by_name(type(row))}
    found: dict[str, Any] = {}
    for field in row._meta.local_concrete_fields:
        if field.name in _SAID_ONCE or isinstance(field, models.BinaryField):
            continue
        if field.name in by_name:
            related = getattr(row, field.name)
            found[field.name] = None if related is None else str(related)
        else:
            found[field.name] = _plain(getattr(row, field.attname))
    return found


def _plain(value: Any) -> Any:
    """The value as JSON has it."""
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal | UUID) else value


def to_csv(document: dict[str, Any]) -> dict[str, str]:
    """The export as one CSV text (RFC 4180) for each table that has rows, by the table's name.

    What a spreadsheet would take for a formula is led by an apostrophe, as ASVS 5.0, V1.2.10 asks.
    """
    texts = {}
    for name, table in document["tables"].items():
        if table["rows"]:
            text = io.StringIO()
            writer = csv.DictWriter(text, fieldnames=list(table["rows"][0]))
            writer.writeheader()
            writer.writerows({key: _cell(value) for key, value in row.items()} for row in table["rows"])
            texts[name] = text.getvalue()
    return texts


def _cell(value: Any) -> Any:
    is_risky = isinstance(value, str) and looks_like_formula(value)
    return f"'{value}" if is_risky else value


# --- erasure ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Erased:
    """What erasure did: rows deleted and rows stripped, by model."""

    deleted: dict[str, int]
    stripped: dict[str, int]


@transaction.atomic
def erase(*, rider: Rider, by: Coach, now: datetime) -> Erased:
    """The rider and everything about them are gone, as each model's rule says; the audit log says that it was done.

    Roster files that name the rider's or the guardian's address go too. What stays: the audit log, whose number then
    points at nobody, and an address that mail is no longer sent to, so that it stays untouched. Backups keep the rider
    until they run out. Raises `Rider.DoesNotExist` for a rider of another club.
    """
    Rider.objects.select_for_update().get(pk=rider.pk)
    key, club_id = rider.pk, rider.club_id
    about = rules_about_riders()
    # Counted before anything goes, since rows take along what hangs from them.
    deleted = {
        model.__name__: rows_about(model, rule, rider).count()
        for model, rule in about
        if rule.erasure is Erasure.DELETE
    }
    stripped = {}
    for model, rule in rules():
        if rule.mentions:
            deleted[model.__name__] = _delete_mentions(model, rule, rider)
    for model, rule in about:
        rows = rows_about(model, rule, rider)
        if rule.erasure is Erasure.STRIP:
            stripped[model.__name__] = rows.update(**_emptied(model, rule))
        elif rule.erasure is Erasure.DELETE:
            rows.delete()
    deleted = {name: count for name, count in deleted.items() if count}
    record(
        "rider.erase",
        club_id=club_id,
        by=name_of(by),
        now=now,
        rider=Rider(pk=key),  # the number alone is left
        rows=deleted | stripped,
    )
    return Erased(deleted, stripped)


def _delete(rows: models.QuerySet[Any]) -> int:
    """Deletes the rows, with what hangs from them, and says how many of their own model there were."""
    return rows.delete()[1].get(rows.model._meta.label, 0)


def _emptied(model: type[models.Model], rule: PrivacyRule) -> dict[str, Any]:
    """The fields that identify, each with the value that says nothing."""
    fields = [field for field in model._meta.local_fields if field.name in rule.strips]
    return {field.name: None if field.null else field.get_default() for field in fields}


def _delete_mentions(model: type[models.Model], rule: PrivacyRule, rider: Rider) -> int:
    addresses = [address for address in (rider.email, rider.guardian_email) if address]
    rows = model._base_manager.annotate(mentioned=Cast(rule.mentions, models.TextField()))
    named = models.Q()
    for address in addresses:
        named |= models.Q(mentioned__icontains=address)
    return _delete(model._base_manager.filter(pk__in=rows.filter(named).values("pk")))


# --- retention --------------------------------------------------------------------------------------------------------


@transaction.atomic
def apply_retention(*, club: Club, now: datetime) -> dict[str, int]:
    """Rows of the club that have outlived their model's `keeps_days` are gone. Returns how many, by model.

    A row whose moment is not known yet stays.
    """
    gone = {}
    for model, rule in rules():
        if rule.keeps_days is not None:
            old = {f"{rule.dated}__lt": now - timedelta(days=rule.keeps_days)}
            if count := _delete(model._base_manager.filter(club=club, **old)):
                gone[model.__name__] = count
    if gone:
        record("retention", club_id=club.pk, by="clock", now=now, rows=gone)
    return gone
