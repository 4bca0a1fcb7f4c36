"""Why one target or one week is as it is, in words: what the panel behind a target shows, and the command line.

    page = read_why(item, club=club, may_see_health=True)

Everything is worked out from the facts that were stored with the decision (`programs/engine/explain.py`), also for
weeks long past. Text that may speak of health goes through `reason_rows`, which hide it from whoever may not read it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from athletes.vocabulary import Reason
from coaching.desk.exposures import asked_words, done_words
from coaching.desk.sources import RuleRow, rule_rows
from coaching.desk.words import CHANGES, PHASES, capital, exercise_names, pattern_words, reason_rows, unit_of
from programs import facts as translator
from programs import wording
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.alternatives import Alternative
from programs.engine.explain import Choice, Inputs, ItemExplanation, WeekExplanation, explain
from programs.engine.families import exercise_of, has_exercise
from programs.engine.history import Result
from programs.engine.prices import ConstraintPrice, points_of
from programs.facts import LibraryMissing
from programs.models import Decision, PlannedItem, WeekPlan

#: What an exposure says about its target, in words.
RESULTS: dict[Result, Any] = {
    Result.MISSED: gettext_lazy("missed"),
    Result.UNKNOWN: gettext_lazy("not known"),
    Result.MET: gettext_lazy("done, but hard or of unknown effort"),
    Result.EASY: gettext_lazy("done and easy, good reps left not known"),
    Result.SUCCESS: gettext_lazy("done with good reps left"),
}
#: What bars or costs a placement, in words.
CONSTRAINTS: dict[str, Any] = {
    "away": gettext_lazy("days away"),
    "past": gettext_lazy("days that have passed"),
    "no-kit": gettext_lazy("venues without kit on record"),
    "short-time": gettext_lazy("times that are too short"),
    "ride": gettext_lazy("rides that take the time"),
    "race": gettext_lazy("days kept clear before a race"),
    "spacing": gettext_lazy("one clear day between sessions"),
    "pin": gettext_lazy("days pinned by a coach"),
    "race-cap": gettext_lazy("one session in the last days before a priority race"),
    "near-key-ride": gettext_lazy("hours from key rides"),
    "tired-legs": gettext_lazy("fresh legs for the key ride"),
    "less-liked-time": gettext_lazy("times that the rider likes"),
    "other-day": gettext_lazy("the same days as last week"),
    "long-gap": gettext_lazy("days since the last session"),
    "moved": gettext_lazy("days that were sent already"),
}
#: The rules by which sessions are placed, whatever the week.
_PLACING = (Reason("W1", "placed-best"), Reason("W2", "placed-best"))


@dataclass(frozen=True, slots=True)
class Line:
    """One input by name."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class DoneLine:
    """One time that the exercise was asked for: what was asked, what was done, and what that says."""

    day: str
    asked: str
    done: str
    effort: str
    result: str


@dataclass(frozen=True, slots=True)
class ChoiceLine:
    """An exercise that was tried for the slot, and why it was not taken."""

    exercise: str
    is_taken: bool
    why: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class OtherLine:
    """What the target could have been: the kind of change, what would be asked, and why it was or was not taken."""

    mark: str
    change: str
    exercise: str
    line: str
    is_taken: bool
    why: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class WhyPage:
    """Why one target is what it is. `notes` say what limits the explanation, such as another version of the rules."""

    plan_id: int
    item_id: int
    rider_id: int
    rider_name: str
    exercise: str
    day: str
    line: str
    mark: str
    change: str
    edited: str
    reasons: tuple[dict[str, Any], ...]
    inputs: tuple[Line, ...]
    done: tuple[DoneLine, ...]
    limits: tuple[dict[str, Any], ...]
    choices: tuple[ChoiceLine, ...]
    others: tuple[OtherLine, ...]
    rules: tuple[RuleRow, ...]
    notes: tuple[str, ...]

    @property
    def shows_health(self) -> bool:
        """Whether anything about health is said, for the audit log and the clinician's notice."""
        rows = (
            *self.reasons,
            *self.limits,
            *(row for choice in self.choices for row in choice.why),
            *(row for other in self.others for row in other.why),
        )
        return any(row.get("is_health") for row in rows)


@dataclass(frozen=True, slots=True)
class ConstraintLine:
    """A constraint on the week's days and what it costs."""

    name: str
    price: str


@dataclass(frozen=True, slots=True)
class LeftOutLine:
    """A slot that became nothing: why, and the exercises that were tried for it."""

    pattern: str
    why: tuple[dict[str, Any], ...]
    choices: tuple[ChoiceLine, ...]


@dataclass(frozen=True, slots=True)
class WeekWhyPage:
    """Why a week is as it is: its phase, where its sessions stand, and what each constraint costs."""

    plan_id: int
    rider_id: int
    rider_name: str
    dates: str
    phase: str
    reasons: tuple[dict[str, Any], ...]
    chosen: str
    points: str
    runner_up: str
    runner_up_points: str
    costly: tuple[ConstraintLine, ...]
    free: str
    left_out: tuple[LeftOutLine, ...]
    rules: tuple[RuleRow, ...]
    notes: tuple[str, ...]

    @property
    def shows_health(self) -> bool:
        rows = (
            *self.reasons,
            *(row for slot in self.left_out for row in slot.why),
            *(row for slot in self.left_out for choice in slot.choices for row in choice.why),
        )
        return any(row.get("is_health") for row in rows)


def read_why(item: PlannedItem, *, may_see_health: bool) -> WhyPage:
    """Why the target is what it is. `item` comes with its session and plan; call inside `access.within(club)`."""
    plan = item.session.plan
    told = _Told.of(plan, may_see_health)
    found = told.item(item)
    return told.page(item, found)


def read_week_why(plan: WeekPlan, *, may_see_health: bool) -> WeekWhyPage:
    """Why the week is as it is. Call inside `access.within(club)`."""
    return _Told.of(plan, may_see_health).week()


def points_words(points: int) -> str:
    """So many points of a placement."""
    return ngettext("{count} point", "{count} points", points).format(count=points)


# --- reading ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Told:
    """What the engine tells of one plan, and how it is put into words; nothing where the facts cannot be read."""

    plan: WeekPlan
    explained: WeekExplanation | None
    library: engine.Library
    names: Mapping[str, str]
    may_see_health: bool
    notes: tuple[str, ...]

    @classmethod
    def of(cls, plan: WeekPlan, may_see_health: bool) -> "_Told":
        decision = Decision.objects.filter(plan=plan).first()
        explained, library, notes = _explained(plan, decision)
        return cls(
            plan,
            explained,
            library or translator.current_library(),
            exercise_names(),
            may_see_health,
            notes,
        )

    def item(self, row: PlannedItem) -> ItemExplanation | None:
        if self.explained is None:
            return None
        return self.explained.item(row.session.ordinal, row.slot)

    # --- a target ---

    def page(self, row: PlannedItem, found: ItemExplanation | None) -> WhyPage:
        item = translator.item_of(row)
        mark, word = CHANGES[row.change]
        notes = list(self.notes)
        if found is not None and not _is_same(item, found, edited=row.edited_by_id is not None):
            notes.append(
                _(
                    "This version of the rules answers the same facts differently, so what follows is how it weighs "
                    "them now, not how they were weighed then."
                )
            )
        inputs = found.inputs if found else None
        rows = found.alternatives if found else ()
        reasons = translator.read_reasons(row.reasons)
        return WhyPage(
            plan_id=self.plan.pk,
            item_id=row.pk,
            rider_id=self.plan.rider_id,
            rider_name=self.plan.rider.name,
            exercise=self._name(row.exercise_id),
            day=wording.day_words(row.session.on),
            line=self._line(row.exercise_id, item.target),
            mark=mark,
            change=wording.change_line(item.change, item.target, item.previous, self.unit).rstrip(".")
            or capital(word),
            edited=_edited(row),
            reasons=self._rows(reasons),
            inputs=tuple(self._inputs(inputs)) if inputs else (),
            done=tuple(self._done(inputs)) if inputs else (),
            limits=self._rows((*inputs.gate_reasons, *inputs.limits)) if inputs else (),
            choices=tuple(self._choice(one) for one in found.choices) if found else (),
            others=tuple(self._other(one, row.exercise_id) for one in rows),
            rules=rule_rows(self._spoken(reasons, inputs, rows)),
            notes=tuple(notes),
        )

    def _spoken(
        self, reasons: Sequence[Reason], inputs: Inputs | None, rows: Sequence[Alternative]
    ) -> Iterable[Reason]:
        """Every reason that the reader may see, the decision's first."""
        refused = (refusal.reason for one in rows for refusal in one.refusals)
        limits = (*inputs.gate_reasons, *inputs.limits) if inputs else ()
        for reason in (*reasons, *limits, *refused):
            if self.may_see_health or not wording.is_health(reason):
                yield reason

    def _inputs(self, inputs: Inputs) -> Iterable[Line]:
        yield Line(_("Phase of the week"), str(PHASES[inputs.phase]))
        yield Line(_("Known times trained"), str(inputs.taught))
        if inputs.cut_percent:
            yield Line(_("Sets cut before a race"), f"{inputs.cut_percent} %")
        if inputs.light:
            yield Line(_("Light week"), _("yes"))
        if inputs.away_days:
            yield Line(_("Days since this was last trained"), str(inputs.away_days))
        yield Line(_("Range here"), self._range(inputs))
        if inputs.previous_load is not None:
            yield Line(_("Next lighter load here"), wording.load_words(inputs.previous_load, self.unit))
        if inputs.next_load is not None:
            words = wording.load_words(inputs.next_load, self.unit)
            percent = inputs.step_percent
            yield Line(
                _("Next heavier load here"),
                words
                if percent is None
                else _("{load}, {percent} % more").format(load=words, percent=round(percent)),
            )
        for one in inputs.harder:
            asks = _("{sets} sets of {amount}").format(sets=one.criterion.sets, amount=one.criterion.value)
            yield Line(_("{exercise} asks for").format(exercise=self._name(one.exercise)), asks)

    def _range(self, inputs: Inputs) -> str:
        if inputs.ceiling < inputs.top:
            figures = {"floor": inputs.floor, "ceiling": inputs.ceiling, "top": inputs.top}
            return _("{floor} to {ceiling}, at the very most {top}").format(**figures)
        return _("{floor} to {top}").format(floor=inputs.floor, top=inputs.top)

    def _done(self, inputs: Inputs) -> Iterable[DoneLine]:
        for exposure, result in zip(inputs.exposures, inputs.results, strict=True):
            yield DoneLine(
                day=wording.short_day_words(exposure.on),
                asked=asked_words(exposure.target, self.unit),
                done=done_words(exposure, self.unit) if exposure.done else "",
                effort=_effort(exposure),
                result=_("{result}, lighter than usual").format(result=RESULTS[result])
                if exposure.light
                else str(RESULTS[result]),
            )

    def _choice(self, one: Choice) -> ChoiceLine:
        return ChoiceLine(self._name(one.exercise), one.is_taken, self._rows(one.reasons))

    def _other(self, one: Alternative, slug: str) -> OtherLine:
        mark, word = CHANGES[one.change]
        reasons = one.reasons if one.is_taken else tuple(refusal.reason for refusal in one.refusals)
        return OtherLine(
            mark=mark,
            change=capital(word),
            exercise="" if one.exercise == slug else self._name(one.exercise),
            line=self._line(one.exercise, one.target) if one.target else "",
            is_taken=one.is_taken,
            why=self._rows(reasons),
        )

    # --- a week ---

    def week(self) -> WeekWhyPage:
        plan, explained = self.plan, self.explained
        week = engine.Week(plan.iso_year, plan.iso_week)
        reasons = tuple(
            reason for reason in translator.read_reasons(plan.reasons) if not reason.key.startswith("placed-")
        )
        placement = explained.decision.placement if explained else None
        prices = explained.constraints if explained else ()
        second = placement.runner_up if placement else None
        costly = [one for one in prices if one.points or one.sessions]
        free = [CONSTRAINTS[one.constraint] for one in prices if one not in costly]
        return WeekWhyPage(
            plan_id=plan.pk,
            rider_id=plan.rider_id,
            rider_name=plan.rider.name,
            dates=wording.week_words(week),
            phase=str(PHASES[plan.phase]),
            reasons=self._rows(reasons),
            chosen=_stand(placement.chosen) if placement else "",
            points=points_words(points_of(placement)) if placement else "",
            runner_up=_stand(second) if second else "",
            runner_up_points=points_words(sum(cost.points for cost in placement.runner_up_costs))
            if placement and second
            else "",
            costly=tuple(_constraint(one, placement) for one in costly),
            free=wording.list_words([str(words) for words in free]),
            left_out=tuple(self._left_out(explained)) if explained else (),
            rules=rule_rows((*self._spoken(reasons, None, ()), *(_PLACING if placement else ()))),
            notes=self.notes,
        )

    def _left_out(self, explained: WeekExplanation) -> Iterable[LeftOutLine]:
        for one in explained.items:
            if one.left_out is not None:
                yield LeftOutLine(
                    pattern_words(one.left_out.pattern.value),
                    self._rows(one.left_out.reasons),
                    tuple(self._choice(choice) for choice in one.choices),
                )

    # --- words ---

    @property
    def unit(self) -> wording.Unit:
        return unit_of(self.plan.rider)

    def _name(self, slug: str) -> str:
        return self.names.get(slug, slug)

    def _line(self, slug: str, target: engine.Target) -> str:
        if not has_exercise(self.library, slug):
            return wording.amount_words(target.measure, target.sets, target.amount)
        exercise = exercise_of(self.library, slug)
        line = wording.target_line(target, self.unit, exercise)
        if target.lower_s is not None:
            line = _("{line}, lowered in {seconds} s").format(line=line, seconds=target.lower_s)
        return wording.keep_together(line)

    def _rows(self, reasons: Iterable[Reason]) -> tuple[dict[str, Any], ...]:
        unique = dict.fromkeys(reasons)
        return tuple(
            reason_rows(unique, may_see_health=self.may_see_health, names=self.names, unit=self.unit)
        )


def _explained(
    plan: WeekPlan, decision: Decision | None
) -> tuple[WeekExplanation | None, engine.Library | None, tuple[str, ...]]:
    """The explanation of a stored decision, the library it was made with, and what limits the explanation."""
    if decision is None:
        return None, None, (_("The facts of this week are no longer stored, so only its reasons are shown."),)
    try:
        library = translator.library_of(decision.library)
        facts = codec.from_document(engine.WeekFacts, decision.facts)
        explained = explain(facts, library)
    except (codec.FactsError, LibraryMissing, LookupError, ValueError):
        return (
            None,
            None,
            (_("The facts of this week are of another version, so only its reasons are shown."),),
        )
    if plan.is_downward:
        note = _(
            "This revision eased a week that had gone out: it stands on that week, downwards only, and not on facts "
            "alone. Its reasons are shown, without what else it could have been."
        )
        return None, library, (note,)
    if decision.engine != engine.ENGINE:
        note = _("Worked out by version {old} of the rules; explained by version {new}.")
        return explained, library, (note.format(old=decision.engine, new=engine.ENGINE),)
    return explained, library, ()


def _is_same(item: engine.Item, found: ItemExplanation, *, edited: bool) -> bool:
    """Whether the engine still gives what was stored; an edit by a coach is no answer of the engine's."""
    if found.item is None or found.item.exercise != item.exercise:
        return False
    return edited or (found.item.target, found.item.reasons) == (item.target, item.reasons)


def _effort(exposure: engine.Exposure) -> str:
    """How hard it was, as far as that was said."""
    left = exposure.done.reps_left if exposure.done else None
    said = []
    if left is not None:
        count = _("4 or more") if left >= 4 else str(left)
        said.append(ngettext("{count} good rep left", "{count} good reps left", left).format(count=count))
    if exposure.session_rpe is not None:
        said.append(_("session RPE {rpe}").format(rpe=exposure.session_rpe))
    return ", ".join(said)


def _edited(row: PlannedItem) -> str:
    if row.edited_by is None:
        return ""
    return _("Changed by {name}: {reason} The rules had it as marked below.").format(
        name=row.edited_by.user, reason=row.edit_reason
    )


def _constraint(one: ConstraintPrice, placement: engine.Placement | None) -> ConstraintLine:
    name = capital(CONSTRAINTS[one.constraint])
    if one.sessions:
        price = ngettext(
            "without it {count} more session would fit",
            "without it {count} more sessions would fit",
            one.sessions,
        ).format(count=one.sessions)
    else:
        price = _("{points} fewer without it").format(points=points_words(one.points or 0))
        if placement is not None and one.chosen == placement.chosen:
            price = _("{price}, on the same days").format(price=price)
        elif one.chosen:
            price = _("{price}: {days}").format(price=price, days=_stand(one.chosen))
    return ConstraintLine(name, price)


def _stand(pairs: Sequence[tuple[int, engine.Opening]]) -> str:
    return wording.list_words(
        [
            _("{day}, {time}").format(
                day=wording.short_day_words(opening.on),
                time=wording.time_words(translator.time_of(opening.start)),
            )
            for _ordinal, opening in pairs
        ]
    )
