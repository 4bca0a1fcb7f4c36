"""What is tried on each lived week: every promise, and pairs of decisions that differ in one thing (I9, I15).

`try_week(week, draw, library)` lists what is broken, a line each, beginning with the property's id.

I9 is read as follows.

More pain    A week with and without one more report that is the worst lately, or with one that is worse. Slots and
             minutes where the rider was well before and as many sessions are left: a third session that pain takes
             away leaves its part of a return to the other two.
More missed  A session that was done in full turned into silence, for a rider who is well and has ample time, where the
             phase is the same and something of the pattern is known from before it. That a rider who missed weeks
             builds on instead of maintaining is P8, and that minutes saved by one target let another keep its sets is
             D3. Two returns are cut from two medians (P10), so that of those only the load is compared; so it is of
             what begins anew, which begins with the first dose of all (S2, H1).
More of both What a cap holds down in the one week may have its sets back in the other, where less is asked of the same
             muscle elsewhere (P12). An exercise that is the step up to a level in the one week begins with its first
             dose, and one that is a level down with no more than was lifted above it: as a stand-in in the other week
             it goes by its own past.
Less kit     Whole implements or the heaviest gone. With a load missing in between, the next one is further away, and
             P2 asks for more reps first.
Less time    Compared on the same day.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import pairwise
from random import Random

from athletes.concerns import BodyReport
from athletes.vocabulary import Side
from programs.engine.easing import ease
from programs.engine.facts import Change, Exposure, Kit, Library, SessionState, WeekDecision, WeekFacts
from programs.engine.resolve import resolve_week
from programs.engine.safety import find_breaches
from tests.engine import promises
from tests.engine.promises import ALL_PARTS, raised, refilled
from tests.engine.seasons import SITES, Eased, LivedWeek

#: Promises that an eased week keeps as well; the others are about weeks worked out from the beginning.
KEPT_WHEN_EASED = tuple(
    one
    for one in promises.CHECKS
    if one.__name__.startswith(
        ("i1_", "i2_", "i3_", "i4_", "i5_", "i6_", "i7_", "t1_", "i11_the", "i11_n", "s1_")
    )
    and one.__name__ != "i7_nothing_goes_out_for_who_may_not_train"
)


def try_week(week: LivedWeek, draw: Random, library: Library, *, whole: bool = True) -> list[str]:
    """Every promise and pair that the week breaks. Without `whole`, of the pairs and the replay, which cost several
    decisions each, only one is drawn."""
    facts, decision = week.facts, week.decision
    found = promises.broken(facts, decision, library)
    costly = [_replay, *(PAIRS if decision.sessions else ())]
    for one in costly if whole else [draw.choice(costly)]:
        found += one(facts, decision, draw, library)
    found += [
        f"approval {breach.id}: {breach.reason}"
        for breach in find_breaches(decision, facts, library)
        if breach.id != "S3"  # nobody is recorded as present: for a coach to answer
    ]
    for eased in week.easings:
        found += try_easing(eased, library)
    return found


def try_easing(eased: Eased, library: Library) -> Iterator[str]:
    """I15 and T0: the eased week is nowhere above what was sent, keeps what is behind, and is stable."""
    facts, before, after = eased.facts, eased.before, eased.after
    for line in raised(before, after, restarts=False, same_day=False):
        yield f"I15 {line}"
    for line in refilled(before, after):
        yield f"I15 {line}"
    exercises = {one.slug: one for one in library.exercises}
    sore = promises.Looked(facts, after, library).sore
    sent = {(one.ordinal, item.slot): item.exercise for one in before.sessions for item in one.items}
    for one in after.sessions:
        for item in one.items:
            was = sent[one.ordinal, item.slot]
            if item.exercise == was:
                continue
            used, wanted = exercises[item.exercise], exercises[was]
            if used.level >= wanted.level:
                yield f"I15 {item.exercise} is no easier than {was}"
            for region, score in sore.items():
                if score >= 3 and promises.strain(used, region) > promises.strain(wanted, region):
                    yield f"I14 {item.exercise} loads the {region.value} more than {was} (eased)"
    behind = [one for one in before.sessions if one.on < facts.today]
    if [one for one in after.sessions if one.on < facts.today][: len(behind)] != behind:
        yield "I15 what is behind has changed"
    if ease(after, facts, library).sessions != after.sessions:
        yield "I15 eased once more without a reason"
    states = (*promises.DONE, SessionState.NOT_DONE)
    over = {one.ordinal for one in facts.sessions if one.week == facts.week and one.state in states}
    ahead = tuple(one for one in after.sessions if one.on >= facts.today and one.ordinal not in over)
    looked = promises.Looked(facts, replace(after, sessions=ahead), library)
    # What goes on as it was sent was held to I5 when it was decided: a session that was still ahead then, and was cut,
    # may have been done since, and what is left is not a step up for it.
    as_sent = {item for one in before.sessions for item in one.items}
    lowered = tuple(
        replace(one, items=tuple(item for item in one.items if item not in as_sent)) for one in ahead
    )
    only_lowered = promises.Looked(facts, replace(after, sessions=lowered), library)
    for check in KEPT_WHEN_EASED:
        for line in check(only_lowered if check.__name__.startswith("i5_") else looked):
            yield f"{line} (eased)"


# --- pairs ------------------------------------------------------------------------------------------------------------

type Pair = Callable[[WeekFacts, WeekDecision, Random, Library], Iterator[str]]


def is_well(facts: WeekFacts) -> bool:
    """Whether nothing bears on the rider: of two weeks that are eased, one's stand-ins may take longer."""
    return not (facts.reports or facts.symptoms or facts.matters or facts.baselines)


def held_down(decision: WeekDecision) -> frozenset[str]:
    """Exercises whose sets a cap holds down: what is cut elsewhere may leave its sets to them (P12), as minutes may
    (D3)."""
    return frozenset(
        item.exercise
        for one in decision.sessions
        for item in one.items
        if any(reason.rule == "P12" for reason in item.reasons)
    )


def lost_nothing(facts: WeekFacts, before: WeekDecision, after: WeekDecision) -> list[str]:
    """What rose or was filled again with more pain; the load alone where a session went with it."""
    if len(before.sessions) != len(after.sessions):
        return raised(before, after, {"load"})
    found = raised(before, after, set(ALL_PARTS) - {"sets"})
    found += raised(before, after, {"sets"}, apart_from=held_down(before))
    return found + (refilled(before, after, minutes=False) if is_well(facts) else [])


def more_pain(facts: WeekFacts, decision: WeekDecision, draw: Random, library: Library) -> Iterator[str]:
    """I9: one more report of pain raises nothing, and nothing is filled in its place."""
    site = draw.choice(SITES)
    known = [max(one.during or 0, one.next_morning or 0) for one in facts.reports if one.region is site]
    score = max(draw.choice((3, 3, 4, 4, 5, 6, 7)), *known[-3:], 0)
    report = BodyReport(facts.today, site, Side.BOTH, score, score)
    after = resolve_week(replace(facts, reports=(*facts.reports, report)), library)
    for line in lost_nothing(facts, decision, after):
        yield f"I9 pain of {score} at the {report.region.value}: {line}"


def worse_pain(facts: WeekFacts, decision: WeekDecision, draw: Random, library: Library) -> Iterator[str]:
    """I9: had the newest report of a site been worse, nothing would be raised."""
    newest = {(one.region, one.side): place for place, one in enumerate(facts.reports)}
    places = [
        place
        for place in sorted(newest.values())
        if (during := facts.reports[place].during) is not None and during < 10
    ]
    if not places:
        return
    place = draw.choice(places)
    one = facts.reports[place]
    during = min(10, (one.during or 0) + draw.randint(1, 3))
    morning = None if one.next_morning is None else max(one.next_morning, during)
    worse = replace(one, during=during, next_morning=morning)
    reports = (*facts.reports[:place], worse, *facts.reports[place + 1 :])
    after = resolve_week(replace(facts, reports=reports), library)
    for line in lost_nothing(facts, decision, after):
        yield f"I9 {one.region.value} at {during} for {one.during} on {one.on}: {line}"


def with_ample_time(facts: WeekFacts) -> WeekFacts:
    openings = tuple(replace(one, minutes=300) for one in facts.openings)
    return replace(facts, openings=openings, rides=(), rider=replace(facts.rider, minutes_cap=None))


def was_in_full(one: Exposure) -> bool:
    """Whether every set was done as asked, with the load that was asked for."""
    did, target = promises.amounts(one), one.target
    if one.done is None or did is None or target.bridge_sets or one.done.out_of_time:
        return False
    return len(did) >= target.sets and min(did) >= target.amount and one.done.load == target.load


def more_missed(facts: WeekFacts, decision: WeekDecision, draw: Random, library: Library) -> Iterator[str]:
    """I9: silence in the place of a session done in full raises nothing."""
    done = [one for one in facts.sessions if one.state is SessionState.DONE and one.done_on == one.planned_on]
    if not done or not is_well(facts):
        return
    record = draw.choice(done[-4:])
    on = record.done_on
    if not all(was_in_full(one) for one in facts.exposures if one.on == on):
        return
    exposures = tuple(
        replace(one, done=None, session_rpe=None) if one.on == on else one for one in facts.exposures
    )
    sessions = tuple(
        replace(one, state=SessionState.SILENT, done_on=None) if one is record else one
        for one in facts.sessions
    )
    ample = with_ample_time(facts)
    before = resolve_week(ample, library)
    after = resolve_week(replace(ample, exposures=exposures, sessions=sessions), library)
    if (before.phase, before.light, len(before.sessions)) == (after.phase, after.light, len(after.sessions)):
        begins = {item.exercise for one in after.sessions for item in one.items if item.change is Change.NEW}
        unknown, returns = set(), set()
        for pattern in {one.pattern for one in library.exercises}:
            slugs = {one.slug for one in library.exercises if one.pattern is pattern}
            days = sorted(
                {one.on for one in facts.exposures if one.exercise in slugs and promises.was_done(one)}
            )
            if not days or days[0] >= on:
                unknown |= slugs
            if is_a_return(days, on, before):
                returns |= slugs
        apart = frozenset(begins | unknown | returns | held_down(before))
        loads = raised(before, after, {"load"}, apart_from=frozenset(unknown))
        for line in loads + raised(before, after, apart_from=apart):
            yield f"I9 missed on {on}: {line}"


def is_a_return(days: Sequence[date], on: date, decision: WeekDecision) -> bool:
    """Whether the week, or the day, is part of a return after a break between those days: two returns are cut from two
    medians."""
    ends = max((one.on for one in decision.sessions), default=on)
    breaks = [later for earlier, later in pairwise([*days, ends]) if (later - earlier).days >= 14]
    return any((on - back).days < 60 for back in breaks)


def less_kit(facts: WeekFacts, decision: WeekDecision, draw: Random, library: Library) -> Iterator[str]:
    """I9: an implement gone, or the heaviest of one, raises no load."""
    name, there = draw.choice(facts.venues)
    less = draw.choice(
        (
            replace(there, fixed=there.fixed[:-1]),
            replace(there, fixed=()),
            replace(there, barbell=None),
            replace(there, adjustable=None),
            replace(there, bands=there.bands[:-1]),
            Kit(furniture=there.furniture),
        )
    )
    venues = tuple((other, less if other == name else kit) for other, kit in facts.venues)
    after = resolve_week(replace(facts, venues=venues), library)
    for line in raised(decision, after, {"load"}):
        yield f"I9 less kit at {name}: {line}"


def less_time(facts: WeekFacts, decision: WeekDecision, draw: Random, library: Library) -> Iterator[str]:
    """I9: fewer minutes raise no sets."""
    minutes = draw.randint(15, (facts.rider.minutes_cap or 90) - 1)
    after = resolve_week(replace(facts, rider=replace(facts.rider, minutes_cap=minutes)), library)
    for line in raised(decision, after, {"sets"}):
        yield f"I9 in {minutes} minutes: {line}"


def _replay(facts: WeekFacts, decision: WeekDecision, _draw: Random, library: Library) -> Iterator[str]:
    """I8: the same facts, written down and read again, give the same decision."""
    yield from promises.replayed(facts, decision, library)


PAIRS: tuple[Pair, ...] = (more_pain, worse_pain, more_missed, less_kit, less_time)
