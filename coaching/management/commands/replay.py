"""`manage.py replay PLAN`: works a stored decision out again from its stored facts, and says whether it is the same.

With `--why` it then prints why each target is what it is: what the panel behind a target shows, as text.
"""

import uuid
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from athletes import access
from coaching.desk import WeekWhyPage, WhyPage, read_week_why, read_why
from coaching.desk.sources import RuleRow
from programs import facts as translator
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.resolve import resolve_week
from programs.models import Decision, PlannedItem, WeekPlan


class Command(BaseCommand):
    help = "Works a stored week out again from its stored facts and prints whether the answer is the same."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "plan", type=int, help="the number of the week plan, as in the address of its page"
        )
        parser.add_argument(
            "--why", action="store_true", help="also print why each target is what it is, and the week"
        )
        parser.add_argument("--club", type=uuid.UUID, help="the club's id, when there is more than one club")

    def handle(self, *args: Any, **options: Any) -> None:
        clubs = [options["club"]] if options["club"] else [club.pk for club in access.clubs_of_all()]
        for club in clubs:
            with access.within(club):
                decision = Decision.objects.filter(plan_id=options["plan"]).select_related("plan").first()
                if decision is not None:
                    try:
                        self._replay(decision)
                    finally:
                        if options["why"]:
                            self._tell(decision.plan)
                    return
        raise CommandError(f"There is no decision behind plan {options['plan']}.")

    def _replay(self, decision: Decision) -> None:
        if decision.plan.is_downward:
            raise CommandError(
                "This revision eased one that had gone out: it stands on that, not on facts alone."
            )
        if codec.digest(decision.facts) != decision.digest:
            raise CommandError("The stored facts are not those that were decided on: their digest differs.")
        facts = codec.from_document(engine.WeekFacts, decision.facts)
        answer = codec.to_document(resolve_week(facts, translator.library_of(decision.library)))
        if answer == decision.answer:
            self.stdout.write(
                f"The same decision (engine {decision.engine}, library {decision.library[:12]})."
            )
            return
        for path, stored, now in _differences("", decision.answer, answer):
            self.stdout.write(f"{path}: stored {stored!r}, now {now!r}")
        raise CommandError("Another decision: this engine answers the same facts differently.")

    def _tell(self, plan: WeekPlan) -> None:
        """The week and each of its targets, as the panels tell them. Whoever runs commands may read everything."""
        for line in week_lines(read_week_why(plan, may_see_health=True)):
            self.stdout.write(line)
        items = PlannedItem.objects.filter(session__plan=plan).select_related("session__plan__rider")
        for item in items.order_by("session__on", "session__ordinal", "position"):
            for line in target_lines(read_why(item, may_see_health=True)):
                self.stdout.write(line)


def week_lines(page: WeekWhyPage) -> Iterator[str]:
    """The explanation of a week as lines of text."""
    yield ""
    yield f"{page.rider_name}, {page.dates}: {page.phase}"
    yield from (f"  {note}" for note in page.notes)
    yield from _sentences(page.reasons, "  ")
    if page.chosen:
        yield f"  {page.chosen}: {page.points}"
    if page.runner_up:
        yield f"  next best {page.runner_up}: {page.runner_up_points}"
    yield from (f"  {one.name}: {one.price}" for one in page.costly)
    yield from _rules(page.rules)


def target_lines(page: WhyPage) -> Iterator[str]:
    """The explanation of a target as lines of text."""
    yield ""
    yield f"{page.day}: {page.exercise}, {page.line} ({page.change})"
    yield from (f"  {note}" for note in page.notes)
    yield from ([f"  {page.edited}"] if page.edited else [])
    yield from _sentences(page.reasons, "  ")
    for other in page.others:
        sign = "taken" if other.is_taken else "not"
        yield "  " + " ".join(
            part for part in (f"[{sign}]", other.change, other.exercise, other.line) if part
        )
        if not other.is_taken:
            yield from _sentences(other.why, "      ")
    for done in page.done:
        what = f"{done.asked}: did {done.done}" if done.done else done.asked
        said = f"{done.effort}; {done.result}" if done.effort else done.result
        yield f"  {done.day}  {what} ({said})"
    yield from (f"  {one.name}: {one.value}" for one in page.inputs)
    yield from _sentences(page.limits, "  ")
    for choice in page.choices if len(page.choices) > 1 else ():
        yield f"  tried: {choice.exercise}{', taken' if choice.is_taken else ''}"
        yield from _sentences(choice.why, "      ")
    yield from _rules(page.rules)


def _sentences(rows: Iterable[Mapping[str, Any]], indent: str) -> Iterator[str]:
    for row in rows:
        yield f"{indent}{row['sentence']} {row['rule']}".rstrip()


def _rules(rows: Iterable[RuleRow]) -> Iterator[str]:
    for row in rows:
        yield f"  {row.rule} {row.title}: {row.kind}{f', {row.source}' if row.source else ''}"


def _differences(path: str, stored: Any, now: Any) -> list[tuple[str, Any, Any]]:
    """(path, stored, now) of every place in which two documents differ."""
    if isinstance(stored, dict) and isinstance(now, dict):
        names = sorted({*stored, *now})
        return [
            one for name in names for one in _differences(f"{path}.{name}", stored.get(name), now.get(name))
        ]
    if isinstance(stored, list) and isinstance(now, list) and len(stored) == len(now):
        return [
            one
            for place, (before, after) in enumerate(zip(stored, now, strict=True))
            for one in _differences(f"{path}[{place}]", before, after)
        ]
    return [] if stored == now else [(path, stored, now)]
