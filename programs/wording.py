"""The words that people read for targets, reasons, days and safety.

Short lines with the number first, because a rider reads them at arm's length and breathing hard. Tempo is in words.
Everything goes through gettext in the language that is active; the caller activates the reader's.

>>> load_words(None, "kg")
'body weight'
"""

import importlib
import pkgutil
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from decimal import Decimal
from enum import StrEnum
from functools import cache
from string import Formatter

from django.utils.formats import date_format, get_format, time_format
from django.utils.translation import get_language, gettext_lazy, ngettext, pgettext
from django.utils.translation import gettext as _

from athletes import notices, words
from athletes.concerns import Event, Outcome, Sign, Symptom
from athletes.vocabulary import Figure, Implement, Muscle, Pattern, Reason, Region, Side
from programs import engine
from programs.engine.facts import Change, Exercise, Format, Item, Load, Measure, Phase, Target, Week
from programs.engine.quantities import Unit, shown_mass, week_days
from programs.rider_sentences import RIDER
from programs.sheet import SheetItem, SheetSession, StripDay

# --- days -------------------------------------------------------------------------------------------------------------


def day_words(on: date) -> str:
    """The day in full, such as ``Tuesday 3 November``."""
    first = pgettext("date format of the first day of a month", "l j F")
    return date_format(on, first if on.day == 1 else pgettext("date format", "l j F"))


def date_words(on: date) -> str:
    """The date without its weekday and year, such as ``3 November``."""
    first = pgettext("date format of the first day of a month", "j F")
    return date_format(on, first if on.day == 1 else pgettext("date format", "j F"))


def short_day_words(on: date) -> str:
    """The day in short, such as ``Tue 3``."""
    first = pgettext("date format of the first day of a month", "D j")
    return date_format(on, first if on.day == 1 else pgettext("date format", "D j"))


def time_words(start: time) -> str:
    """The time of day on a 24-hour clock, such as ``18:30``."""
    return time_format(start, pgettext("time format", "H:i"))


def week_words(week: Week) -> str:
    """The week by its dates, such as ``2 to 8 November 2026``; months and years are named once when they are one."""
    first, *_middle, last = week_days(week)
    if first.year != last.year:
        start = words.date_words(first)
    elif first.month != last.month:
        start = date_words(first)
    else:
        alone = pgettext("date format of the first day of a month", "j")
        start = date_format(first, alone if first.day == 1 else pgettext("date format", "j"))
    return _("{start} to {end}").format(start=start, end=words.date_words(last))


def list_words(words: Sequence[str]) -> str:
    """The words as a list with a last ``and``: ``Tue 3, Fri 6 and Sun 8``."""
    if len(words) < 2:
        return "".join(words)
    return _("{most} and {last}").format(most=", ".join(words[:-1]), last=words[-1])


def names_words(names: Iterable[str]) -> str:
    """Names of exercises in a row. They have commas in them, so that something else stands between."""
    return pgettext("between names of exercises", "; ").join(names)


def session_days_words(sessions: Sequence[SheetSession]) -> str:
    """The days of the sessions in short with their last month: ``Tue 3 and Fri 6 November``."""
    days = [short_day_words(session.on) for session in sessions]
    if not days:
        return ""
    month = date_format(sessions[-1].on, "F")
    return _("{days} {month}").format(days=list_words(days), month=month)


# --- loads and targets ------------------------------------------------------------------------------------------------


def mass_words(kg: Decimal, unit: Unit) -> str:
    """The mass in the rider's unit with no idle zeros: ``12 kg``, ``21.25 kg``, ``35.3 lb`` (Q1: shown, never used)."""
    shown = shown_mass(kg, unit, places=1 if unit == "lb" else 2)
    number = (
        format(shown, "f").rstrip("0").rstrip(".") if shown % 1 else format(shown.to_integral_value(), "f")
    )
    return f"{_local(number)} {unit}"


def _local(number: str) -> str:
    """The plain number with the decimal sign of the active language: ``21.25``, ``21,25``."""
    return number.replace(".", str(get_format("DECIMAL_SEPARATOR")))


def load_words(load: Load | None, unit: Unit) -> str:
    """The load: ``12 kg``, ``2 x 12 kg`` for a pair, ``band 3`` counted from the lightest, ``body weight`` for none."""
    if load is None or load.holding.implement is Implement.NONE:
        return _("body weight")
    if load.band is not None:
        return _("band {level}").format(level=load.band)
    if load.kg is None:
        return _("body weight")
    mass = mass_words(load.kg, unit)
    return mass if load.holding.count == 1 else f"{load.holding.count} x {mass}"


def implement_words(load: Load | None) -> str:
    """What to take, such as ``kettlebell`` or ``2 dumbbells``; nothing for body weight."""
    if load is None:
        return ""
    count = load.holding.count
    match load.holding.implement:
        case Implement.KETTLEBELL:
            return ngettext("kettlebell", "{count} kettlebells", count).format(count=count)
        case Implement.DUMBBELL:
            return ngettext("dumbbell", "{count} dumbbells", count).format(count=count)
        case Implement.ADJUSTABLE_DUMBBELL:
            return ngettext("adjustable dumbbell", "{count} adjustable dumbbells", count).format(count=count)
        case Implement.BARBELL:
            return _("barbell, bar and collars counted")
        case Implement.VEST:
            return _("weighted vest")
        case Implement.BACKPACK:
            return _("loaded backpack")
        case Implement.BAND:
            return _("band, level 1 is the lightest")
        case _:
            return ""


def amount_words(measure: Measure, sets: int, amount: int) -> str:
    """Sets and reps or seconds: ``3 x 8``, ``3 x 30 s``."""
    return f"{sets} x {amount} s" if measure is Measure.HOLD else f"{sets} x {amount}"


def _at(load: Load | None, unit: Unit) -> str:
    words_of_load = load_words(load, unit)
    if load is not None and load.band is not None:
        return pgettext("a band", "at {load}").format(load=words_of_load)
    if words_of_load == _("body weight"):
        return _("at body weight")
    return _("at {load}").format(load=words_of_load)


def target_line(target: Target, unit: Unit, exercise: Exercise) -> str:
    """The target on one line, number first: ``3 x 8 at 12 kg, rest 90 s``.

    Body weight is said only where the exercise can carry a load (so that nobody looks for a bell in a plank). Sets at
    the heavier load of a bridge (P3) come last: ``2 x 15 at 16 kg, then 1 x 5 at 24 kg, rest 120 s``.
    """

    def part(sets: int, amount: int, load: Load | None) -> str:
        words = amount_words(target.measure, sets, amount)
        return words if load is None and not exercise.holdings else f"{words} {_at(load, unit)}"

    usual = target.sets - target.bridge_sets
    parts = [part(usual, target.amount, target.load)] if usual > 0 else []
    if target.bridge_sets:
        parts.append(part(target.bridge_sets, target.bridge_amount, target.bridge_load))
    line = _(", then ").join(parts)
    if target.rest_s > 0:
        line = _("{line}, rest {seconds} s").format(line=line, seconds=target.rest_s)
    return line


def keep_together(line: str) -> str:
    """The target's line with no-break spaces inside its figures, so that no line ends between 90 and s."""
    return re.sub(
        r"(?<=\d) (?=(?:kg|lb|s|x)\b)|(?<=\bx) (?=\d)|(?<=\bband) (?=\d)|(?<=\bélastique) (?=\d)",
        "\N{NO-BREAK SPACE}",
        line,
    )


def side_line(exercise: Exercise) -> str:
    """``each side`` for an exercise done a side at a time."""
    return _("each side") if exercise.sided else ""


def tempo_words(target: Target, exercise: Exercise) -> str:
    """The tempo of one rep in words: ``lower 3 s, pause 1 s, lift 2 s``; nothing for holds."""
    if target.measure is Measure.HOLD:
        return ""
    lower = exercise.lower_s if target.lower_s is None else target.lower_s
    parts = []
    if lower:
        parts.append(_("lower {seconds} s").format(seconds=lower))
    if exercise.pause_s:
        parts.append(_("pause {seconds} s").format(seconds=exercise.pause_s))
    if exercise.lift_s:
        parts.append(_("lift {seconds} s").format(seconds=exercise.lift_s))
    return ", ".join(parts)


def leave_words(target: Target) -> str:
    """How much to leave: ``leave 3 good reps``; for holds, to stop while the position is still good."""
    if target.measure is Measure.HOLD:
        return _("stop before you lose the position")
    count = target.reps_left
    return ngettext("leave {count} good rep", "leave {count} good reps", count).format(count=count)


def change_line(change: Change, target: Target, previous: Target | None, unit: Unit) -> str:
    """What differs from last time, in one plain sentence without its reason; nothing when nothing does.

    The reason is left out on purpose: it may be about health, and a card lies on the gym floor.
    """
    before = load_words(previous.load, unit) if previous else ""
    gain = target.amount - previous.amount if previous else 0
    match change:
        case Change.NEW:
            return _("New: learn it light and slow.")
        case Change.MORE_REPS if gain > 0:
            return ngettext(
                "{count} more rep than last time.", "{count} more reps than last time.", gain
            ).format(count=gain)
        case Change.MORE_TIME if gain > 0:
            return _("{count} s longer than last time.").format(count=gain)
        case Change.MORE_LOAD if before:
            return _("Heavier than last time, {load} before.").format(load=before)
        case Change.LESS_LOAD if before:
            return _("Lighter than last time, {load} before.").format(load=before)
        case Change.SLOWER if target.lower_s:
            return _("Slower than last time: lower for {count} s.").format(count=target.lower_s)
        case Change.BRIDGE if target.bridge_sets:
            return ngettext(
                "{count} set at the next load.", "{count} sets at the next load.", target.bridge_sets
            ).format(count=target.bridge_sets)
    return {
        Change.MORE_REPS: _("More reps than last time."),
        Change.MORE_TIME: _("Longer than last time."),
        Change.MORE_LOAD: _("Heavier than last time."),
        Change.LESS_LOAD: _("Lighter than last time."),
        Change.MORE_SETS: _("More sets than last time."),
        Change.SLOWER: _("Slower than last time."),
        Change.BRIDGE: _("A step towards the next load."),
        Change.HARDER: _("A level up from last time."),
        Change.EASIER: _("A level down from last time."),
        Change.FEWER_REPS: _("Fewer reps than last time."),
        Change.FEWER_SETS: _("Fewer sets than last time."),
    }.get(change, "")


def sheet_item(
    item: Item,
    exercise: Exercise,
    *,
    name: str,
    unit: Unit,
    cues: Sequence[str] = (),
    alternates: Sequence[str] = (),
    why: str = "",
) -> SheetItem:
    """The item as the rider reads it, in the active language, with `why` in a mail. `cues` beyond the third are left
    out."""
    return SheetItem(
        slug=item.exercise,
        name=name,
        part=item.part,
        line=target_line(item.target, unit, exercise),
        sets=item.target.sets,
        side_line=side_line(exercise),
        tempo=tempo_words(item.target, exercise),
        leave=leave_words(item.target),
        change_line=change_line(item.change, item.target, item.previous, unit),
        why_line=why,
        cues=tuple(cues[:3]),
        new=item.change is Change.NEW,
        implement=implement_words(item.target.load),
        alternates=tuple(alternates),
    )


def format_words(form: Format) -> str:
    """How the sets are ordered, in one short sentence."""
    if form is Format.CIRCUIT:
        return _("In turn: one set of each, then again from 1.")
    return _("Finish all sets of one, then go to the next.")


# --- the week strip ---------------------------------------------------------------------------------------------------


def strip_day_words(day: StripDay, *, with_pain: bool = False) -> str:
    """What the strip shows of one day, for those who do not see it: ``Tuesday 3 November: strength planned``."""
    parts = []
    if day.race:
        parts.append(_("race, {name}").format(name=day.race))
    if day.done_rpe is not None:
        parts.append(_("strength done, session RPE {rpe}").format(rpe=day.done_rpe))
    elif day.missed:
        parts.append(_("strength missed"))
    elif day.planned:
        parts.append(_("strength planned"))
    if day.key_ride:
        parts.append(_("key ride"))
    if with_pain and day.pain is not None:
        parts.append(_("pain {score} out of 10").format(score=day.pain))
    return _("{day}: {what}").format(day=day_words(day.on), what=", ".join(parts) or _("nothing"))


def strip_words(strip: Sequence[StripDay], *, with_pain: bool = False) -> str:
    """The whole strip in words, days with nothing left out."""
    full = [day for day in strip if _has_mark(day, with_pain)]
    between = pgettext("between the days of a week", "; ")
    return between.join(strip_day_words(day, with_pain=with_pain) for day in full) or _("Nothing this week.")


def _has_mark(day: StripDay, with_pain: bool) -> bool:
    shown = day.planned or day.missed or day.key_ride or bool(day.race) or day.done_rpe is not None
    return shown or (with_pain and day.pain is not None)


def strip_legend(strip: Sequence[StripDay]) -> str:
    """What the marks of this strip mean, only those that it has: ``outlined bar: strength · line: key ride``."""
    parts = []
    if any(day.planned and day.done_rpe is None and not day.missed for day in strip):
        parts.append(_("open bar: strength"))
    if any(day.done_rpe is not None for day in strip):
        parts.append(_("full bar: done"))
    if any(day.missed and day.done_rpe is None for day in strip):
        parts.append(_("broken bar: missed"))
    if any(day.key_ride for day in strip):
        parts.append(_("line: key ride"))
    if any(day.race for day in strip):
        parts.append(_("flag: race"))
    return " \N{MIDDLE DOT} ".join(parts)


# --- safety -----------------------------------------------------------------------------------------------------------


def pain_words(pain_limit: int) -> str:
    """What to do when something hurts. `pain_limit` is the club's, for riders who have agreed no other."""
    return _(
        "Stop the exercise if pain rises above the limit agreed with your coach, or above {limit} out of 10 if none "
        "was agreed, and report it."
    ).format(limit=pain_limit)


def clinician_words() -> str:
    """When to see a clinician, and that this is no medical advice."""
    return str(notices.CLINICIAN_NOTICE)


def warning_words(emergency_note: str) -> str:
    """What to do at a warning symptom. `emergency_note` is the club's own, such as its local number."""
    return f"{notices.WARNING_NOTICE} {emergency_note}".strip()


def safety_lines(pain_limit: int, emergency_note: str) -> tuple[str, ...]:
    """The safety notice that stands wherever training is shown: emergency first, then pain, then the clinician."""
    return (warning_words(emergency_note), pain_words(pain_limit), clinician_words())


# --- reasons ----------------------------------------------------------------------------------------------------------

#: Modules beside the engine's that list `REASONS`. Read by name when a first sentence is asked for, since the last of
#: them needs the app registry and a renderer must not.
_HOLDERS = ("athletes.triage", "athletes.screening", "athletes.readiness", "athletes.outbox")
#: Modules whose reasons are all about health.
_HEALTH_HOLDERS = ("athletes.triage", "athletes.screening", "athletes.readiness", "programs.engine.gates")
#: Keys of other modules that say something about health, if only by being there.
_HEALTH_KEYS = frozenset(
    {
        "asymmetry", "check-bottom-hurts", "check-hurts", "estimate-where-sore", "gate-repeat", "growth-not-entered",
        "growth-spurt", "no-load-rise", "no-longer-than", "not-allowed", "not-refilled", "open-pain-needs-approval",
        "pattern-hurt", "power-growth", "progress-barred", "since-return", "step-over-cap", "third-needs-no-pain",
        "too-long-to-stand-in",
    }
)  # fmt: skip
_HEALTH_FIGURES = frozenset({"region", "symptom", "symptoms", "event", "score", "sign", "signs", "outcome"})
#: The last net: a sentence with one of these words is not sent, whatever its rule. Those of every language at once.
HEALTH_WORDS = re.compile(
    r"\b(douleur\w*|douloureu\w*|mal|malad\w*|bless\w*|courbatur\w*|fièvre|symptôme\w*|alerte|chutes?|opération\w*|"
    r"médic\w*|médecin\w*|santé|enceinte|grossesse|accouch\w*|croissance|engourdi\w*|kinésithérapeute\w*|pain\w*|sore\w*|hurt\w*|ill|illness|fever|injur\w*|symptom\w*|crash\w*|surgery|operation|clinician\w*|"
    r"clearance|screening|pregnan\w*|birth|growth|numb\w*|doctor|consent)\b",
    re.IGNORECASE,
)


#: Figures whose values are members of a vocabulary, one or several.
VOCABULARIES: Mapping[str, type[StrEnum]] = {
    "event": Event,
    "muscle": Muscle,
    "outcome": Outcome,
    "pattern": Pattern,
    "region": Region,
    "side": Side,
    "sign": Sign,
    "signs": Sign,
    "symptom": Symptom,
    "symptoms": Symptom,
}
#: What a block is for, in a word.
_INTENTS = {
    Phase.LEARN: gettext_lazy("learn"),
    Phase.BUILD: gettext_lazy("build"),
    Phase.MAINTAIN: gettext_lazy("maintain"),
    Phase.TAPER: gettext_lazy("taper"),
    Phase.RACE_WEEK: gettext_lazy("race week"),
    Phase.REST: gettext_lazy("rest"),
    Phase.RETURN: gettext_lazy("return"),
}


class TwoSentencesForOneReason(Exception):
    """Two modules give the same key different sentences."""


@cache
def catalogue() -> Mapping[str, str]:
    """Every reason's sentence for a coach, by key. Raises `TwoSentencesForOneReason`."""
    found: dict[str, str] = {}
    for name in (*_engine_modules(), *_HOLDERS):
        for key, template in _reasons_of(name).items():
            if found.setdefault(key, template) != template:
                raise TwoSentencesForOneReason(key)
    return found


def _engine_modules() -> list[str]:
    names = [
        module.name for module in pkgutil.iter_modules(engine.__path__) if not module.name.startswith("_")
    ]
    return [f"{engine.__name__}.{name}" for name in names]


def _reasons_of(name: str) -> Mapping[str, str]:
    reasons: Mapping[str, str] = getattr(importlib.import_module(name), "REASONS", {})
    return reasons


@cache
def _health_keys() -> frozenset[str]:
    return _HEALTH_KEYS.union(*(_reasons_of(name) for name in _HEALTH_HOLDERS))


def is_health(reason: Reason) -> bool:
    """Whether the reason says anything about the rider's health: its rule, its key or its figures do."""
    by_rule = re.fullmatch(r"T\d+|S1", reason.rule) is not None
    return by_rule or reason.key in _health_keys() or not _HEALTH_FIGURES.isdisjoint(reason.figures)


def is_for_riders(reason: Reason) -> bool:
    """Whether a rider is told this in a mail: what concerns only the coach's work is not."""
    return reason.key in RIDER or is_health(reason)


def told_to_riders() -> Iterable[str]:
    """Every sentence that a rider may be told as a reason, in English: those for riders, and those about health."""
    for key, template in catalogue().items():
        fields = {name for _text, name, *_rest in Formatter().parse(template) if name}
        if key in RIDER or key in _health_keys() or not _HEALTH_FIGURES.isdisjoint(fields):
            yield RIDER.get(key, template)


def sentence(
    reason: Reason,
    audience: str = "coach",
    *,
    names: Mapping[str, str] | None = None,
    unit: Unit = "kg",
) -> str:
    """The reason in one sentence for a ``"coach"`` or a ``"rider"``, figures filled in, in the active language.

    `names` gives exercises their names by slug. May speak of health: use `guarded_sentence` or `mail_sentence` where it
    must not. A key that no module lists is said in its own words, never as an error.
    """
    template = catalogue().get(reason.key)
    if audience == "rider":
        template = RIDER.get(reason.key, template)
    if template is None:
        return f"{_capital(reason.key.replace('-', ' '))}."
    template = re.sub(r"\{(\w*kg)\}[ \xa0]kg", r"{\1}", _(template))
    figures = _Figures(
        {name: _figure_words(name, value, names or {}, unit) for name, value in reason.figures.items()}
    )
    return _capital(_one(template.format_map(figures)))


#: One of what sentences count in the plural, by language: with several figures no plural rule of gettext picks their
#: form. French counts 0 as one.
_ONE: Mapping[str, re.Pattern[str]] = {
    "en": re.compile(r"(?<![\d.,])(1) ((?:more |new |good )?(?:set|rep|session|day|week|exercise|point))s\b"),
    "fr": re.compile(r"(?<![\d.,])([01]) (série|répétition|séance|jour|semaine|minute|exercice|point)s\b"),
}


def _one(said: str) -> str:
    """The sentence of the active language with one of something in the singular: ``1 set of 6``.

    >>> _one("14 days away: 1 sets of 6, 1 good reps left, 21 sets")
    '14 days away: 1 set of 6, 1 good rep left, 21 sets'
    """
    pattern = _ONE.get((get_language() or "en")[:2])
    return pattern.sub(r"\1 \2", said) if pattern else said


def guarded_sentence(
    reason: Reason,
    *,
    may_see_health: bool,
    audience: str = "coach",
    names: Mapping[str, str] | None = None,
    unit: Unit = "kg",
) -> str:
    """The sentence, or ``Health reason.`` for whoever may not see health detail."""
    if is_health(reason) and not may_see_health:
        return _("Health reason.")
    return sentence(reason, audience, names=names, unit=unit)


def mail_sentence(reason: Reason, *, names: Mapping[str, str] | None = None, unit: Unit = "kg") -> str:
    """The sentence for a rider's mail or card, where nothing about health may stand."""
    words = _("Changed for a health reason. Your page says more.")
    if is_health(reason):
        return words
    said = sentence(reason, "rider", names=names, unit=unit)
    return words if HEALTH_WORDS.search(said) else said


class _Figures(dict[str, str]):
    """A figure that is missing is said to be so: a sentence with a hole is better than a page that fails."""

    def __missing__(self, name: str) -> str:
        return _("(not known)")


def _figure_words(name: str, value: Figure, names: Mapping[str, str], unit: Unit) -> str:
    if value is None:
        return _("(not known)")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    text = str(value)
    if name.endswith("kg") and re.fullmatch(r"\d+(\.\d+)?", text):
        return mass_words(Decimal(text), unit)
    if name == "intent" and text in Phase:
        return str(_INTENTS[Phase(text)])
    if name in VOCABULARIES:
        return ", ".join(_member_words(VOCABULARIES[name], part) for part in text.split(", "))
    if re.fullmatch(r"\d+\.\d+", text):
        return _local(text)
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return day_words(date.fromisoformat(text))
    return ", ".join(_word(part, names) for part in text.split(", "))


def _member_words(vocabulary: type[StrEnum], stored: str) -> str:
    """The words for a member as stored; what is no member any more as it is."""
    if stored == Side.BOTH:
        return pgettext("side of the body, in a sentence", "both")
    return str(words.label(vocabulary(stored))) if stored in vocabulary else stored.replace("-", " ")


def _word(word: str, names: Mapping[str, str]) -> str:
    """A slug's name, or its words without hyphens; anything else as it is."""
    if word in names:
        return names[word]
    return word.replace("-", " ") if re.fullmatch(r"[a-z]+(-[a-z]+)+", word) else word


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
