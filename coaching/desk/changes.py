"""What a revision of a week changed beside the one before it, in sentences: days, exercises and targets."""

from collections.abc import Iterator, Mapping

from django.utils.translation import gettext as _

from coaching.desk.words import unit_of
from programs import facts as translator
from programs import wording
from programs.engine import facts as engine
from programs.engine.families import exercise_of, has_exercise
from programs.models import PlannedItem, PlannedSession, WeekPlan


def read_changes(plan: WeekPlan, library: engine.Library, names: Mapping[str, str]) -> tuple[str, ...]:
    """The differences from the revision before; nothing for a first revision. `plan` has its sessions prefetched."""
    if plan.revision < 2:
        return ()
    before = (
        WeekPlan.objects.filter(rider_id=plan.rider_id, revision=plan.revision - 1)
        .of_week(plan.iso_year, plan.iso_week)
        .prefetch_related("sessions__items")
        .first()
    )
    return tuple(_Compared(before, plan, library, names).sentences()) if before else ()


class _Compared:
    """Two revisions of one week, session by session and slot by slot."""

    def __init__(
        self, before: WeekPlan, after: WeekPlan, library: engine.Library, names: Mapping[str, str]
    ) -> None:
        self.old = {session.ordinal: session for session in before.sessions.all()}
        self.new = {session.ordinal: session for session in after.sessions.all()}
        self.library, self.names, self.unit = library, names, unit_of(after.rider)

    def sentences(self) -> Iterator[str]:
        for ordinal, session in self.old.items():
            if ordinal not in self.new:
                yield _("{name} of {day} is left out.").format(name=session.name, day=_when(session))
        for ordinal, session in self.new.items():
            was = self.old.get(ordinal)
            if was is None:
                yield _("{name} on {day} is added.").format(name=session.name, day=_when(session))
                continue
            if _when(was) != _when(session):
                said = _("{name}: {now} instead of {before}.")
                yield said.format(name=session.name, now=_when(session), before=_when(was))
            yield from self._items(was, session)

    def _items(self, was: PlannedSession, session: PlannedSession) -> Iterator[str]:
        old = {item.slot: item for item in was.items.all()}
        new = {item.slot: item for item in session.items.all()}
        for slot, item in old.items():
            if slot not in new:
                yield _("{exercise} is left out.").format(exercise=self._name(item))
        for slot, item in new.items():
            before = old.get(slot)
            if before is None:
                said = _("{exercise} is added: {now}.")
                yield said.format(exercise=self._name(item), now=self._line(item))
            elif before.exercise_id != item.exercise_id:
                said = _("{exercise} instead of {before}: {now}.")
                yield said.format(exercise=self._name(item), before=self._name(before), now=self._line(item))
            elif before.target != item.target:
                said = _("{exercise}: {now} instead of {before}.")
                yield said.format(exercise=self._name(item), now=self._line(item), before=self._line(before))

    def _name(self, item: PlannedItem) -> str:
        return self.names.get(item.exercise_id, item.exercise_id)

    def _line(self, item: PlannedItem) -> str:
        target = translator.read_target(item.target)
        if not has_exercise(self.library, item.exercise_id):
            return wording.amount_words(target.measure, target.sets, target.amount)
        exercise = exercise_of(self.library, item.exercise_id)
        return wording.keep_together(wording.target_line(target, self.unit, exercise))


def _when(session: PlannedSession) -> str:
    return _("{day}, {time}, {venue}").format(
        day=wording.day_words(session.on), time=wording.time_words(session.start), venue=session.venue
    )
