"""`manage.py replay PLAN`: works a stored decision out again from its stored facts, and says whether it is the same."""

import uuid
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from athletes import access
from programs import facts as translator
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.resolve import resolve_week
from programs.models import Decision


class Command(BaseCommand):
    help = "Works a stored week out again from its stored facts and prints whether the answer is the same."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "plan", type=int, help="the number of the week plan, as in the address of its page"
        )
        parser.add_argument("--club", type=uuid.UUID, help="the club's id, when there is more than one club")

    def handle(self, *args: Any, **options: Any) -> None:
        clubs = [options["club"]] if options["club"] else [club.pk for club in access.clubs_of_all()]
        for club in clubs:
            with access.within(club):
                decision = Decision.objects.filter(plan_id=options["plan"]).select_related("plan").first()
                if decision is not None:
                    self._replay(decision)
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
