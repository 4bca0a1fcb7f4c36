"""What a program comes to before anybody trains by it: minutes, sets a week, and what is odd or will be changed.

    outline.template_minutes(template, library)
    outline.remarks(blocks, library, roster=roster, last_race=race)

Everything here is about the program as written. A remark never changes a plan: it says beforehand what the rules of a
rider's week will do with it, or what a coach may have forgotten. Typical work is 10 reps, or holds of 30 s, of the
easiest exercise of the pattern that needs no kit (ours).

P12 At most 18 sets a session (ours). A leg exercise, a pull and a push belong in a week (S: Iversen 2021). A hinge
    belongs there too (practice).
Y1  A third session is earned, learning comes first whatever the first block is called.
Y3  A block that runs on after the last race (ours).
P8  Maintaining needs 8 weeks at two sessions before it, and has one session.
S3  Under 18 at most 3 sets. S4 From 50 rests of at least 120 s, from 65 balance work, both of themselves.
D3  Riders with fewer minutes get fewer sets.
"""

from collections.abc import Iterator, Sequence
from typing import Final

from athletes.values import value_class
from athletes.vocabulary import Figure, Pattern, Reason
from programs.engine.composition import template_of
from programs.engine.facts import Block, Exercise, Library, Measure, Phase, Race, Slot, Target, Template
from programs.engine.families import bottom, exercise_of, family, has_exercise
from programs.engine.quantities import week_days, week_of, weeks_between
from programs.engine.season import LEARNING_SESSIONS, MAINTAIN_AFTER_WEEKS, USUAL_SESSIONS
from programs.engine.session import Work, session_minutes, warm_up_minutes

TYPICAL_REPS: Final = 10
TYPICAL_HOLD_S: Final = 30
MOST_SETS_A_SESSION: Final = 18
#: What holds for riders under 18, and for those from 50 (S3, S4); `strength.age_limits` sets them for one rider.
YOUNG_MAX_SETS: Final = 3
OLDER_MIN_REST_S: Final = 120

REASONS: dict[str, str] = {
    "outline-no-sessions": "No session is written yet, so nothing is planned in these weeks.",
    "outline-no-slots": "{name} asks for nothing yet.",
    "outline-never-used": "{name} is never used: the block has {sessions} a week.",
    "outline-repeats": "{written} written for {sessions} a week: the first comes again.",
    "outline-many-sets": "{name} has {sets} sets, more than the {most} that a session should have.",
    "outline-no-legs": "No squat and no single-leg work in a week.",
    "outline-no-hinge": "No hinge in a week: the back of the hips and thighs gets little.",
    "outline-no-pull": "No pull in a week: the upper back gets little.",
    "outline-no-push": "No push in a week: chest and arms get little.",
    "outline-third": "A third session is planned only for riders who have earned it; the others get {sessions}.",
    "outline-learns-first": "Whoever has done fewer than {needed} sessions learns first, whatever this block is for.",
    "outline-maintain-early": "{weeks} weeks at two sessions come before this block. Whoever has not done {needed} "
    "builds on instead of maintaining.",
    "outline-maintain-one": "A week of maintaining has one session, also where the block has {sessions}.",
    "outline-past-season": "{weeks} of {all} weeks lie past the last race, {race}.",
    "outline-balance": "Riders from 65 ({riders}): balance work is added to each session that has none, by itself.",
    "outline-young-sets": "Riders under 18 ({riders}): they get at most {most} sets of an exercise.",
    "outline-older-rest": "Riders from 50 ({riders}): their rests are at least {rest_s} s.",
    "outline-minutes": "{name} takes about {minutes} minutes. That is too long for {riders} of {all} riders: sets "
    "are dropped for them.",
    "outline-not-for-beginners": "{exercise} is not for beginners: riders new to it get an easier exercise.",
    "outline-retired": "{exercise} is no longer in the library: choose another exercise.",
}


@value_class
class Roster:
    """Who follows the program: for each rider the youngest and the oldest age that is possible, and the minutes."""

    ages: tuple[tuple[int, int], ...] = ()
    minutes: tuple[int, ...] = ()


@value_class
class Remark:
    """Something to say about a program: of the whole, or of a block (its place from 0) and a session in it (likewise).

    `is_warning` marks what a coach should look at; the rest is good to know.
    """

    reason: Reason
    block: int | None = None
    template: int | None = None
    is_warning: bool = True


# --- minutes and sets -------------------------------------------------------------------------------------------------


def typical_exercise(slot: Slot, library: Library) -> Exercise | None:
    """What an adult beginner without kit gets from the slot; its fixed exercise where it names one."""
    if slot.exercise is not None:
        return exercise_of(library, slot.exercise) if has_exercise(library, slot.exercise) else None
    return bottom(library, slot.pattern) or next(iter(family(library, slot.pattern)), None)


def typical_target(slot: Slot, exercise: Exercise) -> Target:
    """The slot's sets and rest with a typical amount, kept in the range of exercise and slot."""
    usual = TYPICAL_HOLD_S if exercise.measure is Measure.HOLD else TYPICAL_REPS
    low, high = slot.low or exercise.low, slot.high or exercise.high
    return Target(exercise.measure, slot.sets, max(low, min(usual, high)), rest_s=slot.rest_s)


def template_minutes(template: Template, library: Library) -> int:
    """About how long the session takes, warm-up and cool-down included (D1, D2)."""
    work: list[Work] = []
    for slot in template.slots:
        exercise = typical_exercise(slot, library)
        if exercise is not None:
            work.append((exercise, typical_target(slot, exercise)))
    warm_up = warm_up_minutes(template.warm_up_minutes)
    return session_minutes(work, template.format, warm_up=warm_up, cool_down=template.cool_down_minutes)


def template_sets(template: Template) -> int:
    """All sets of the session; a set of both sides counts once."""
    return sum(slot.sets for slot in template.slots)


def weekly_sets(block: Block) -> tuple[tuple[Pattern, int], ...]:
    """Sets of each pattern in a week of the block, in the order of patterns; those with none are left out."""
    counts = dict.fromkeys(Pattern, 0)
    for template in _week_of(block):
        for slot in template.slots:
            counts[slot.pattern] += slot.sets
    return tuple((pattern, sets) for pattern, sets in counts.items() if sets)


def _week_of(block: Block) -> tuple[Template, ...]:
    """The sessions of one week as the engine takes them: those written, in turn."""
    if not block.templates or block.intent is Phase.REST:
        return ()
    return tuple(template_of(block.templates, ordinal) for ordinal in range(1, block.sessions + 1))


# --- remarks ----------------------------------------------------------------------------------------------------------


def remarks(
    blocks: Sequence[Block], library: Library, *, roster: Roster | None = None, last_race: Race | None = None
) -> tuple[Remark, ...]:
    """What there is to say about the program, the whole first, then block by block."""
    who = roster or Roster()
    found = [Remark(reason, is_warning=False) for reason in _of_roster(blocks, who)]
    learned = False
    for place, block in enumerate(blocks):
        if block.intent is Phase.REST or block.sessions < 1:
            continue
        found += _of_block(block, place, last_race)
        found += _of_place(block, place, blocks[:place], learned)
        for at, template in enumerate(block.templates):
            found += _of_template(template, place, at, block, library, who)
        learned = True
    return tuple(found)


def _of_roster(blocks: Sequence[Block], roster: Roster) -> Iterator[Reason]:
    slots = [slot for block in blocks for template in _week_of(block) for slot in template.slots]
    without_balance = any(
        all(slot.pattern is not Pattern.BALANCE for slot in template.slots)
        for block in blocks
        for template in _week_of(block)
    )
    from_65 = sum(oldest >= 65 for _youngest, oldest in roster.ages)
    from_50 = sum(oldest >= 50 for _youngest, oldest in roster.ages)
    young = sum(youngest < 18 for youngest, _oldest in roster.ages)
    if from_65 and without_balance:
        yield Reason("S4", "outline-balance", {"riders": from_65})
    if from_50 and any(slot.rest_s < OLDER_MIN_REST_S for slot in slots):
        yield Reason("S4", "outline-older-rest", {"riders": from_50, "rest_s": OLDER_MIN_REST_S})
    if young and any(slot.sets > YOUNG_MAX_SETS for slot in slots):
        yield Reason("S3", "outline-young-sets", {"riders": young, "most": YOUNG_MAX_SETS})


def _of_block(block: Block, place: int, last_race: Race | None) -> Iterator[Remark]:
    if not block.templates:
        yield Remark(Reason("Y1", "outline-no-sessions"), place)
    elif any(template.slots for template in block.templates):
        for key in _missing(block):
            yield Remark(Reason("P12", key), place)
    if 0 < len(block.templates) < block.sessions:
        figures: dict[str, Figure] = {"written": len(block.templates), "sessions": block.sessions}
        yield Remark(Reason("Y1", "outline-repeats", figures), place, is_warning=False)
    if last_race is not None:
        past = weeks_between(week_of(last_race.on), block.last)
        began = week_days(block.first)[0] <= last_race.on
        if past > 0 and began:
            all_weeks = weeks_between(block.first, block.last) + 1
            over: dict[str, Figure] = {"weeks": past, "all": all_weeks, "race": last_race.name}
            yield Remark(Reason("Y3", "outline-past-season", over), place)


def _missing(block: Block) -> Iterator[str]:
    patterns = {pattern for pattern, _sets in weekly_sets(block)}
    if not patterns & {Pattern.SQUAT, Pattern.SINGLE_LEG}:
        yield "outline-no-legs"
    for pattern in (Pattern.HINGE, Pattern.PULL, Pattern.PUSH):
        if pattern not in patterns:
            yield f"outline-no-{pattern.value}"


def _of_place(block: Block, place: int, before: Sequence[Block], learned: bool) -> Iterator[Remark]:
    """What depends on where the block stands in the season."""
    if not learned and block.intent is not Phase.LEARN:
        why = Reason("Y1", "outline-learns-first", {"needed": LEARNING_SESSIONS})
        yield Remark(why, place, is_warning=False)
    if block.intent is Phase.MAINTAIN:
        weeks = sum(
            weeks_between(one.first, one.last) + 1
            for one in before
            if one.intent in (Phase.LEARN, Phase.BUILD) and one.sessions >= USUAL_SESSIONS
        )
        if weeks < MAINTAIN_AFTER_WEEKS:
            why = Reason("P8", "outline-maintain-early", {"weeks": weeks, "needed": MAINTAIN_AFTER_WEEKS})
            yield Remark(why, place)
        if block.sessions > 1:
            why = Reason("P8", "outline-maintain-one", {"sessions": block.sessions})
            yield Remark(why, place, is_warning=False)
    elif block.sessions > USUAL_SESSIONS:
        yield Remark(Reason("Y1", "outline-third", {"sessions": USUAL_SESSIONS}), place, is_warning=False)


def _of_template(
    template: Template, place: int, at: int, block: Block, library: Library, roster: Roster
) -> Iterator[Remark]:
    name = template.name
    if at >= block.sessions:
        figures: dict[str, Figure] = {"name": name, "sessions": block.sessions}
        yield Remark(Reason("Y1", "outline-never-used", figures), place, at)
    if not template.slots:
        yield Remark(Reason("Y1", "outline-no-slots", {"name": name}), place, at)
        return
    sets = template_sets(template)
    if sets > MOST_SETS_A_SESSION:
        most: dict[str, Figure] = {"name": name, "sets": sets, "most": MOST_SETS_A_SESSION}
        yield Remark(Reason("P12", "outline-many-sets", most), place, at)
    minutes = template_minutes(template, library)
    short = sum(minutes > cap for cap in roster.minutes)
    if short:
        time: dict[str, Figure] = {
            "name": name,
            "minutes": minutes,
            "riders": short,
            "all": len(roster.minutes),
        }
        yield Remark(
            Reason("D3", "outline-minutes", time), place, at, is_warning=2 * short > len(roster.minutes)
        )
    yield from _of_fixed(template, place, at, library)


def _of_fixed(template: Template, place: int, at: int, library: Library) -> Iterator[Remark]:
    for slot in template.slots:
        if slot.exercise is None:
            continue
        why: dict[str, Figure] = {"exercise": slot.exercise}
        if not has_exercise(library, slot.exercise):
            yield Remark(Reason("L2", "outline-retired", why), place, at)
        elif not exercise_of(library, slot.exercise).for_beginners:
            yield Remark(Reason("L2", "outline-not-for-beginners", why), place, at, is_warning=False)
