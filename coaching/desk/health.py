"""What is on record about one rider's health: pain by site, symptoms, consent, screening and limits.

Only for who may see health detail; whoever shows it leaves an audit entry. What everybody may know is whether the rider
may be planned for at all.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from athletes import readiness, standings, words
from athletes.concerns import BodyState, Gate, ReportKind, Sign
from athletes.models import BodyReport, ClinicianLimit, Club, Consent, Rider, Screening, SymptomReport
from athletes.vocabulary import Region, Side
from coaching.desk.followups import symptom_words
from coaching.desk.words import capital, pattern_words, plain_kg, reason_rows, site_words
from programs import wording

PAIN_HISTORY = timedelta(days=120)

_GATE_MARKS = {
    Gate.FREE: "same",
    Gate.HOLD: "hold",
    Gate.HALF_SETS: "down",
    Gate.EASE: "down",
    Gate.STOP: "stop",
}


@dataclass(frozen=True, slots=True)
class PainRow:
    """One report of one site."""

    day: str
    during: str
    morning: str
    kind: str


@dataclass(frozen=True, slots=True)
class PainSite:
    """The reports of one site, newest first, and what they do to the plan today."""

    name: str
    mark: str
    word: str
    reasons: tuple[dict[str, Any], ...]
    rows: tuple[PainRow, ...]


@dataclass(frozen=True, slots=True)
class SymptomRow:
    """One warning symptom or event, and who cleared it."""

    day: str
    what: str
    cleared: str
    is_open: bool


@dataclass(frozen=True, slots=True)
class Readiness:
    """Whether the rider may be planned for. The rest is empty for who may not read health detail."""

    may_train: bool
    why: str
    consent: str = ""
    screening: str = ""
    limits: tuple[str, ...] = ()


def long_day_words(on: date) -> str:
    """A day that may be of another year: ``3 November 2026``."""
    return date_format(on, pgettext("date format", "j F Y"))


def read_pains(
    rider: Rider, *, state: BodyState, today: date, names: Mapping[str, str]
) -> tuple[PainSite, ...]:
    """Each site that was reported in the last months, the newest first, with what the state of the body makes of it."""
    rows: dict[tuple[str, str], list[PainRow]] = defaultdict(list)
    reports = BodyReport.objects.filter(rider=rider, on__gte=today - PAIN_HISTORY).order_by("-on", "-pk")
    for report in reports:
        rows[report.region, report.side].append(
            PainRow(
                day=long_day_words(report.on),
                during=_score(report.during),
                morning=_score(report.next_morning),
                kind=_kind_words(report),
            )
        )
    return tuple(_site(region, side, found, state, names) for (region, side), found in rows.items())


def _site(
    region: str, side: str, rows: Sequence[PainRow], state: BodyState, names: Mapping[str, str]
) -> PainSite:
    either = {Side.BOTH, Side(side)}
    gates = [
        gate
        for gate in state.gates
        if gate.region == Region(region) and (gate.side in either or Side(side) is Side.BOTH)
    ]
    worst = max((gate.gate for gate in gates), default=Gate.FREE)
    reasons = [reason for gate in gates for reason in gate.reasons]
    return PainSite(
        name=capital(site_words(region, side)),
        mark=_GATE_MARKS[worst],
        word=capital(words.label(worst)),
        reasons=tuple(reason_rows(reasons, may_see_health=True, names=names)),
        rows=tuple(rows),
    )


def _kind_words(report: BodyReport) -> str:
    kind = ReportKind(report.kind)
    parts = [_("long-standing") if kind is ReportKind.LONG_STANDING else str(words.label(kind))]
    return ", ".join([*parts, *(str(words.label(Sign(sign))) for sign in report.signs)])


def _score(score: int | None) -> str:
    return _("not answered") if score is None else str(score)


def read_symptoms(rider: Rider) -> tuple[SymptomRow, ...]:
    """Every warning symptom and event, newest first."""
    return tuple(
        SymptomRow(
            day=long_day_words(row.on),
            what=capital(symptom_words(row)),
            cleared=_("cleared by {who} on {day}").format(
                who=row.cleared_by, day=long_day_words(row.cleared_on)
            )
            if row.cleared_on
            else "",
            is_open=row.cleared_on is None,
        )
        for row in SymptomReport.objects.filter(rider=rider).order_by("-on", "-pk")
    )


def read_readiness(rider: Rider, *, club: Club, today: date, may_see_health: bool) -> Readiness:
    """What stands on record, and what is missing before anything may be planned (T0, S1)."""
    consents = list(Consent.objects.filter(rider=rider).standing())
    screening = Screening.objects.filter(rider=rider).first()
    limits = list(ClinicianLimit.objects.filter(rider=rider))
    standing = standings.standing_of(
        rider,
        club=club,
        consents=consents,
        screening=screening,
        limits=limits,
        symptoms=standings.ending_events([rider.pk], on=today),
        on=today,
    )
    reason = readiness.why_not(standing, today)
    why = wording.guarded_sentence(reason, may_see_health=may_see_health) if reason else ""
    if not may_see_health:
        return Readiness(reason is None, why)
    return Readiness(
        may_train=reason is None,
        why=why,
        consent=_consent_words(consents),
        screening=_screening_words(screening),
        limits=tuple(_limit_words(limit) for limit in limits if standings.in_force(limit, today)),
    )


def _consent_words(consents: Sequence[Consent]) -> str:
    if not consents:
        return _("none recorded")
    one = consents[0]
    who = _("{name} (guardian)").format(name=one.given_by) if one.by_guardian else one.given_by
    return _("given by {who} on {day}").format(who=who, day=long_day_words(one.given_at.date()))


def _screening_words(screening: Screening | None) -> str:
    if screening is None:
        return _("not answered")
    said = _("asks for: {needs}; holds until {day}").format(
        needs=screening.get_needs_display(), day=long_day_words(screening.valid_until)
    )
    if screening.cleared_on is None:
        return said
    cleared = _("cleared by {who} on {day}").format(
        who=screening.cleared_by, day=long_day_words(screening.cleared_on)
    )
    return f"{said}; {cleared}"


def _limit_words(limit: ClinicianLimit) -> str:
    parts = [
        limit.exercise.replace("-", " "),
        pattern_words(limit.pattern) if limit.pattern else "",
        site_words(limit.region, "") if limit.region else "",
    ]
    what = ", ".join(part for part in parts if part) or _("everything")
    most = []
    if limit.max_kg is not None:
        most.append(_("at most {kg} kg").format(kg=plain_kg(limit.max_kg)))
    if limit.max_reps is not None:
        most.append(_("at most {reps} reps").format(reps=limit.max_reps))
    return _("{what}: {most}, set by {who}").format(
        what=what, most=", ".join(most) or _("left out"), who=limit.set_by
    )
