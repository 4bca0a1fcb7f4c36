"""A program as its coach sees it: the season at a glance, blocks with dates, sessions with their minutes, remarks.

    outline = outlines.read(program_id, today=today)

Read in a fixed number of queries, however many slots there are. Call inside `access.within(club)`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Count, Prefetch, Q, QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from athletes.models import Club, Race, Rider, Squad
from athletes.vocabulary import Pattern, RacePriority
from athletes.words import label
from programs import facts as translator
from programs import wording
from programs.engine import facts as engine
from programs.engine import outline
from programs.engine.foresight import foresee, with_blocks
from programs.engine.quantities import shift_week, week_days, week_of, weeks_between
from programs.models import Block, Exercise, Program, SessionTemplate, Slot
from programs.ruler import Ruler, RulerWeek, draw_ruler


@dataclass(frozen=True, slots=True)
class RemarkLine:
    """A remark in words, with its rule."""

    sentence: str
    rule: str
    is_warning: bool


@dataclass(frozen=True, slots=True)
class SlotLine:
    """One slot on one line: ``Squat, 3 sets, rest 120 s``. `key` names its place on the page, as in all of these;
    `new_key` the place for one more in it."""

    key: str
    slot: Slot
    name: str
    words: str
    is_first: bool
    is_last: bool


@dataclass(frozen=True, slots=True)
class SessionCard:
    """One session of a block with what it comes to."""

    key: str
    new_key: str
    template: SessionTemplate
    slots: tuple[SlotLine, ...]
    minutes: int
    sets: int
    remarks: tuple[RemarkLine, ...]
    is_first: bool
    is_last: bool


@dataclass(frozen=True, slots=True)
class BlockBand:
    """One block with its dates (both Mondays' weeks included), its sessions and the sets of each pattern in a week."""

    key: str
    new_key: str
    block: Block
    name: str
    number: int
    first_on: date
    last_on: date
    sessions: tuple[SessionCard, ...]
    sets: tuple[tuple[str, int], ...]
    races: tuple[Race, ...]
    remarks: tuple[RemarkLine, ...]
    is_now: bool
    is_first: bool
    is_last: bool


@dataclass(frozen=True, slots=True)
class Outline:
    """The whole program. `week` is its running week, counted from 1, or None before and after it."""

    program: Program
    blocks: tuple[BlockBand, ...]
    ruler: Ruler
    remarks: tuple[RemarkLine, ...]
    weeks: int
    last_on: date
    week: int | None
    riders: int


def read(program_id: int, *, today: date) -> Outline:
    """The program and everything about it. Raises `Program.DoesNotExist`."""
    program = _with_rows().get(pk=program_id)
    values = blocks_of(program)
    races = _races(program.squad, program.starts_on)
    riders = list(Rider.objects.filter(squad_id=program.squad_id).current())
    library = translator.current_library()
    last_race = _last_race(races)
    said = outline.remarks(values, library, roster=_roster(riders, today), last_race=last_race)
    names = _exercise_names(program)
    bands = tuple(
        _band(row, value, place, len(values), library, races, said, names, today)
        for place, (row, value) in enumerate(zip(program.blocks.all(), values, strict=True))
    )
    weeks = sum(row.weeks for row in program.blocks.all())
    running = (today - program.starts_on).days // 7 + 1
    return Outline(
        program=program,
        blocks=bands,
        ruler=draw_ruler(_ruler_weeks(values, races, week_of(today))),
        remarks=_lines(said, names, None, None),
        weeks=weeks,
        last_on=program.starts_on + timedelta(weeks=weeks) - timedelta(days=1),
        week=running if 1 <= running <= weeks else None,
        riders=len(riders),
    )


def blocks_of(program: Program) -> tuple[engine.Block, ...]:
    """The program's blocks as the engine sees them, whether it is in use or not."""
    first, values = week_of(program.starts_on), []
    for row in program.blocks.all():
        values.append(translator.block_of(row, first))
        first = shift_week(values[-1].last, 1)
    return tuple(values)


def read_rows(program_id: int) -> Program:
    """The program with everything that `blocks_of` reads. Raises `Program.DoesNotExist`."""
    return _with_rows().get(pk=program_id)


def _with_rows() -> QuerySet[Program]:
    slots = Slot.objects.select_related("exercise")
    return Program.objects.select_related("squad__club").prefetch_related(
        "blocks", "blocks__templates", Prefetch("blocks__templates__slots", queryset=slots)
    )


# --- a list of all ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SquadPrograms:
    """A squad with its programs, the one in use first, and what it has of riders."""

    squad: Squad
    programs: tuple[Program, ...]
    riders: int

    @property
    def in_use(self) -> Program | None:
        """The one that riders follow."""
        return next((program for program in self.programs if program.is_active), None)


def read_squads() -> tuple[SquadPrograms, ...]:
    """Every squad of the club by name."""
    squads = Squad.objects.annotate(
        rider_count=Count("riders", filter=~Q(riders__state=Rider.State.LEFT), distinct=True)
    ).prefetch_related(Prefetch("programs", queryset=Program.objects.prefetch_related("blocks")))
    return tuple(SquadPrograms(squad, tuple(squad.programs.all()), squad.rider_count) for squad in squads)


def weeks_of(program: Program) -> int:
    """How many weeks the program has."""
    return sum(block.weeks for block in program.blocks.all())


# --- words ------------------------------------------------------------------------------------------------------------


def slot_words(slot: Slot) -> str:
    """``3 sets, rest 120 s`` or ``3 sets of 6 to 12, rest 90 s``."""
    sets = ngettext("{count} set", "{count} sets", slot.sets).format(count=slot.sets)
    if slot.low and slot.high:
        sets = _("{sets} of {low} to {high}").format(sets=sets, low=slot.low, high=slot.high)
    elif slot.low:
        sets = _("{sets} of {low} or more").format(sets=sets, low=slot.low)
    elif slot.high:
        sets = _("{sets} of up to {high}").format(sets=sets, high=slot.high)
    return wording.keep_together(_("{sets}, rest {seconds} s").format(sets=sets, seconds=slot.rest_s))


def slot_name(slot: Slot) -> str:
    """The exercise where one is fixed, else the pattern."""
    return slot.exercise.name if slot.exercise else capital(str(label(Pattern(slot.pattern))))


def capital(words: str) -> str:
    """The words with a capital first letter."""
    return words[:1].upper() + words[1:]


# --- putting it together ----------------------------------------------------------------------------------------------


def _roster(riders: Sequence[Rider], today: date) -> outline.Roster:
    return outline.Roster(
        ages=tuple((rider.youngest_age(today), rider.oldest_age(today)) for rider in riders),
        minutes=tuple(rider.minutes_cap for rider in riders),
    )


def _races(squad: Squad, starts_on: date) -> list[Race]:
    """The squad's races from the program's start on, a little beyond the longest season."""
    last = starts_on + timedelta(weeks=110)
    return list(Race.objects.filter(Q(squad=squad) | Q(squad__isnull=True), on__gte=starts_on, on__lt=last))


def _last_race(races: Sequence[Race]) -> engine.Race | None:
    counted = [race for race in races if race.priority != RacePriority.MINOR.value]
    if not counted:
        return None
    last = max(counted, key=lambda race: race.on)
    return engine.Race(last.on, translator.minutes_of(last.start), last.name)


def _exercise_names(program: Program) -> dict[str, str]:
    return {
        slot.exercise.slug: slot.exercise.name
        for block in program.blocks.all()
        for template in block.templates.all()
        for slot in template.slots.all()
        if slot.exercise
    }


def _band(
    row: Block,
    value: engine.Block,
    place: int,
    blocks: int,
    library: engine.Library,
    races: Sequence[Race],
    said: Sequence[outline.Remark],
    names: dict[str, str],
    today: date,
) -> BlockBand:
    first_on, last_on = week_days(value.first)[0], week_days(value.last)[6]
    templates = list(row.templates.all())
    return BlockBand(
        key=f"block-{row.pk}",
        new_key=f"session-of-{row.pk}",
        block=row,
        name=row.name or capital(row.get_intent_display()),
        number=place + 1,
        first_on=first_on,
        last_on=last_on,
        sessions=tuple(
            _card(template, value.templates[at], at, len(templates), library, _lines(said, names, place, at))
            for at, template in enumerate(templates)
        ),
        sets=tuple((str(label(pattern)), sets) for pattern, sets in outline.weekly_sets(value)),
        races=tuple(race for race in races if first_on <= race.on <= last_on),
        remarks=_lines(said, names, place, None),
        is_now=first_on <= today <= last_on,
        is_first=place == 0,
        is_last=place == blocks - 1,
    )


def _card(
    row: SessionTemplate,
    value: engine.Template,
    at: int,
    templates: int,
    library: engine.Library,
    remarks: tuple[RemarkLine, ...],
) -> SessionCard:
    slots = list(row.slots.all())
    return SessionCard(
        key=f"template-{row.pk}",
        new_key=f"slot-of-{row.pk}",
        template=row,
        slots=tuple(
            SlotLine(
                f"slot-{slot.pk}",
                slot,
                slot_name(slot),
                slot_words(slot),
                number == 0,
                number == len(slots) - 1,
            )
            for number, slot in enumerate(slots)
        ),
        minutes=outline.template_minutes(value, library),
        sets=outline.template_sets(value),
        remarks=remarks,
        is_first=at == 0,
        is_last=at == templates - 1,
    )


def _lines(
    said: Iterable[outline.Remark], names: dict[str, str], block: int | None, template: int | None
) -> tuple[RemarkLine, ...]:
    """What is said of the whole (None, None), of a block, or of a session in it; warnings first."""
    lines = [
        RemarkLine(
            wording.sentence(remark.reason, names=names),
            remark.reason.rule,
            remark.is_warning,
        )
        for remark in said
        if (remark.block, remark.template) == (block, template)
    ]
    return tuple(sorted(lines, key=lambda line: not line.is_warning))


def _ruler_weeks(blocks: Sequence[engine.Block], races: Sequence[Race], now: engine.Week) -> list[RulerWeek]:
    """The season as written: sessions of each week's block, and its races."""
    weeks = [(block, shift_week(block.first, by)) for block in blocks for by in range(_length(block))]
    mondays = [week_days(week)[0] for _block, week in weeks]
    return [
        RulerWeek(
            name=_("Week {number}, from {day}").format(
                number=week.number, day=date_format(mondays[at], pgettext("date format", "j F Y"))
            ),
            label=date_format(mondays[at], "M") if begins_month(mondays, at) else "",
            sessions=0 if block.intent is engine.Phase.REST else block.sessions,
            race=wording.list_words([race.name for race in _in_week(races, mondays[at])]),
            is_priority=any(
                race.priority == RacePriority.PRIORITY.value for race in _in_week(races, mondays[at])
            ),
            is_now=week == now,
        )
        for at, (block, week) in enumerate(weeks)
    ]


def _length(block: engine.Block) -> int:
    return weeks_between(block.first, block.last) + 1


def _in_week(races: Sequence[Race], monday: date) -> list[Race]:
    return [race for race in races if monday <= race.on < monday + timedelta(days=7)]


def begins_month(mondays: Sequence[date], at: int) -> bool:
    """Whether the month is named under this week: its first Monday, or the season's first where there is room."""
    if at:
        return mondays[at].month != mondays[at - 1].month
    return all(monday.month == mondays[0].month for monday in mondays[:2])


# --- the preview ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What one rider would get in one week of the program. `is_ahead` says that weeks before it were taken as done."""

    week: engine.Week
    decision: engine.WeekDecision
    names: dict[str, str]
    library: engine.Library
    is_ahead: bool


def foresee_week(*, program: Program, rider: Rider, week: engine.Week, club: Club, today: date) -> Foreseen:
    """The rider's week under this program. Nothing is written. Raises `ValueError` for a week that is over."""
    running = week_of(today)
    start = week if week <= shift_week(running, 1) else running
    (gathered,) = translator.gather(club=club, riders=[rider], week=start, today=today)
    planned = blocks_of(_with_rows().get(pk=program.pk))
    blocks = planned if program.is_active else with_blocks(gathered.facts.blocks, planned)
    library = translator.current_library()
    if week < running:
        raise ValueError("the week is over")
    decision = foresee(replace(gathered.facts, blocks=blocks), library, week=week)
    return Foreseen(
        week, decision, dict(Exercise.objects.values_list("slug", "name")), library, start != week
    )


def clock_words(minutes: int) -> str:
    """Minutes from midnight as a time of day: ``18:30``."""
    return wording.time_words(translator.time_of(minutes))


def pattern_words(pattern: Pattern) -> str:
    """The pattern with a capital letter."""
    return capital(str(label(pattern)))


def phase_words(phase: engine.Phase) -> str:
    """What a week is for, in a word or two."""
    return {
        engine.Phase.LEARN: _("learn"),
        engine.Phase.BUILD: _("build"),
        engine.Phase.MAINTAIN: _("maintain"),
        engine.Phase.TAPER: _("taper"),
        engine.Phase.RACE_WEEK: _("race week"),
        engine.Phase.REST: _("rest"),
        engine.Phase.RETURN: _("return"),
    }[phase]
