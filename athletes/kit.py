"""Kit in plain words: what a coach types into one cell, read into implements with their masses. Pure.

The words: parts between semicolons; in a part an implement and its masses, or a piece of furniture. `2 x 5` is two of
5; a number before the implement means so many of each; `2.5 to 20 by 2.5` is a row of masses. Masses are kilograms
unless a unit stands behind them.

>>> kit, unread = read_kit("kettlebell 8, 12; 2 dumbbells 5; band 1, 2; chair; sledge")
>>> write_kit(kit)
'kettlebell 8, 12; dumbbell 2 x 5; band 1, 2; chair'
>>> unread[0].found
'sledge'
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from athletes.typed import Unread, one_line
from athletes.vocabulary import Furniture, Implement

#: The international pound, exactly. S: international yard and pound agreement of 1959.
POUND = Decimal("0.45359237")
KG, LB = "kg", "lb"
MOST_ITEMS = 80
MOST_OF_ONE = 40
HEAVIEST_KG = Decimal(200)
BAND_LEVELS = range(1, 9)
#: A row of masses is written as "from to by" from this many on.
_ROW_OF = 4


@dataclass(frozen=True, slots=True)
class Item:
    """One kind of implement. `entered` in `unit` is what was typed; a band has a `level` and no mass.

    A barbell's `entered` is the bar's mass, `collars` that of both together, `discs` the pairs as (mass, pairs);
    `masses` are those that an adjustable dumbbell can be set to. All in `unit`.
    """

    implement: Implement
    entered: Decimal | None = None
    unit: str = KG
    count: int = 1
    level: int | None = None
    collars: Decimal = Decimal(0)
    discs: tuple[tuple[Decimal, int], ...] = ()
    masses: tuple[Decimal, ...] = ()

    @property
    def kg(self) -> Decimal | None:
        """The mass in kilograms, as exact as the table keeps it (eight places)."""
        return None if self.entered is None else in_kg(self.entered, self.unit)

    @property
    def details(self) -> dict[str, Any]:
        """What the table keeps beside the mass, in kilograms as text."""
        if self.implement is Implement.BARBELL:
            return {
                "collars_kg": _plain(in_kg(self.collars, self.unit)),
                "disc_pairs": [[_plain(in_kg(mass, self.unit)), pairs] for mass, pairs in self.discs],
            }
        if self.implement is Implement.ADJUSTABLE_DUMBBELL:
            return {"masses": [_plain(in_kg(mass, self.unit)) for mass in self.masses]}
        return {}


@dataclass(frozen=True, slots=True)
class Kit:
    """What is at one venue."""

    items: tuple[Item, ...] = ()
    furniture: frozenset[Furniture] = frozenset()


def in_kg(mass: Decimal, unit: str) -> Decimal:
    """The mass in kilograms."""
    return (mass * POUND).quantize(Decimal("1e-8")).normalize() if unit == LB else mass


def in_unit(kg: Decimal, unit: str) -> Decimal:
    """A stored mass in the unit that it was typed in."""
    return (kg / POUND).quantize(Decimal("1e-3")).normalize() if unit == LB else kg


# --- reading ----------------------------------------------------------------------------------------------------------

_IMPLEMENTS = {
    "kettlebell": Implement.KETTLEBELL,
    "kettle bell": Implement.KETTLEBELL,
    "dumbbell": Implement.DUMBBELL,
    "dumb bell": Implement.DUMBBELL,
    "dumbell": Implement.DUMBBELL,
    "adjustable dumbbell": Implement.ADJUSTABLE_DUMBBELL,
    "barbell": Implement.BARBELL,
    "bar": Implement.BARBELL,
    "vest": Implement.VEST,
    "weight vest": Implement.VEST,
    "weighted vest": Implement.VEST,
    "backpack": Implement.BACKPACK,
    "rucksack": Implement.BACKPACK,
    "band": Implement.BAND,
    "resistance band": Implement.BAND,
    "loop band": Implement.BAND,
}
_FURNITURE = {
    "chair": Furniture.CHAIR,
    "bench": Furniture.BENCH,
    "step": Furniture.STEP,
    "box": Furniture.STEP,
    "stair": Furniture.STEP,
    "table": Furniture.TABLE,
    "pull up bar": Furniture.PULL_UP_BAR,
    "chin up bar": Furniture.PULL_UP_BAR,
    "rack with safeties": Furniture.RACK_WITH_SAFETIES,
    "rack with safety bar": Furniture.RACK_WITH_SAFETIES,
    "stick": Furniture.STICK,
    "broomstick": Furniture.STICK,
    "broom handle": Furniture.STICK,
    "towel": Furniture.TOWEL,
}
_NOTHING = {"none", "nothing", "no kit", "no", "body weight", "bodyweight"}
_NUMBER = r"\d+(?:\.\d+)?"
_UNIT = r"kgs?|kilos?|lbs?|pounds?"
_MASS = re.compile(
    rf"(?:(?P<count>\d+)\s*x\s*)?(?P<mass>{_NUMBER})"
    rf"(?:\s*(?:to|-)\s*(?P<to>{_NUMBER})\s*(?:by|every)\s*(?P<by>{_NUMBER}))?\s*(?P<unit>{_UNIT})?\b"
)
_PART = re.compile(
    rf"(?:(?P<count>\d+)\s*x?\s+(?!{_UNIT})|(?P<pair>(?:a\s+)?pair(?:s)?\s+of\s+|two\s+))?"
    r"(?P<name>[a-z][a-z \-]*?)\s*(?:of\s+|at\s+|:\s*)?(?P<masses>\d.*)?"
)
_MASSES_FIRST = re.compile(rf"(?P<masses>{_NUMBER}.*?(?:{_UNIT}))\s+(?P<name>[a-z][a-z \-]*)")
_BETWEEN = re.compile(r"(?:\s|,|&|\+|/|and\b)+")
#: "7,5" could be 7.5 or 7 and 5: asked back rather than guessed.
_AMBIGUOUS = re.compile(r"\d,(?:5|25|75)\b")


class _Unreadable(Exception):
    def __init__(self, expected: str) -> None:
        self.expected = expected


def read_kit(text: str, unit: str = KG) -> tuple[Kit, tuple[Unread, ...]]:
    """The kit that the words name, and the pieces that could not be read. `unit` is that of masses without one."""
    reading = _Reading(unit)
    for part in _parts(text):
        try:
            reading.take(part)
        except _Unreadable as why:
            reading.unread.append(Unread(one_line(part, 80), why.expected))
    return reading.kit(), tuple(reading.unread)


def _parts(text: str) -> Iterable[str]:
    lowered = text.lower().replace("\u00d7", "x").replace("\u2013", "-").replace("\u00a0", " ")
    # "barbell 20 with collars 0.5 and discs 2 x 5" is three parts
    split = re.sub(r"(?:\s*,)?(?:\s+(?:with|and))?\s+(collars?|discs?|plates?)\b", r"; \1", lowered)
    return [part.strip() for part in re.split(r"[;\n\r|]", split) if part.strip(" .,")]


class _Reading:
    """Collects the parts of one text."""

    def __init__(self, unit: str) -> None:
        self.unit = unit
        self.items: list[Item] = []
        self.furniture: set[Furniture] = set()
        self.unread: list[Unread] = []

    def take(self, part: str) -> None:
        part = part.strip(" .,")
        if part in _NOTHING:
            return
        match = _MASSES_FIRST.fullmatch(part) or _PART.fullmatch(part)
        if match is None:
            raise _Unreadable(_("an implement and its masses, such as kettlebell 8, 12"))
        found = match.groupdict()
        name, masses = _singular(found["name"]), found["masses"]
        count = 2 if found.get("pair") else int(found.get("count") or 1)
        if name in _FURNITURE and not masses:
            self.furniture.add(_FURNITURE[name])
        elif name in ("collar", "disc", "plate"):
            self._onto_barbell(name, masses)
        elif name in _IMPLEMENTS:
            self._implement(_IMPLEMENTS[name], masses, count)
        else:
            raise _Unreadable(_expected_for(name))

    def _implement(self, implement: Implement, text: str | None, count: int) -> None:
        if not text:
            raise _Unreadable(
                _("a level from 1, the lightest, such as band 1, 2")
                if implement is Implement.BAND
                else _("the mass as well, such as kettlebell 8, 12")
            )
        if implement is Implement.BAND:
            self.items += [Item(implement, level=level) for level in _levels(text)]
            return
        masses, unit = _masses(text, self.unit)
        if implement is Implement.BARBELL:
            if len(masses) != 1 or any(item.implement is implement for item in self.items):
                raise _Unreadable(_("one barbell with the mass of the bar, such as barbell 20"))
            self.items.append(Item(implement, masses[0][1], unit))
        elif implement is Implement.ADJUSTABLE_DUMBBELL:
            if any(item.implement is implement for item in self.items):
                raise _Unreadable(_("adjustable dumbbells once, with all masses"))
            each = max(count, *(number for number, _mass in masses))
            self.items.append(
                Item(
                    implement, unit=unit, count=each, masses=tuple(sorted({mass for _number, mass in masses}))
                )
            )
        else:
            self.items += [Item(implement, mass, unit, number * count) for number, mass in masses]

    def _onto_barbell(self, name: str, text: str | None) -> None:
        place = next((n for n, item in enumerate(self.items) if item.implement is Implement.BARBELL), None)
        if place is None:
            raise _Unreadable(_("the barbell before its collars and discs, such as barbell 20; discs 2 x 5"))
        bar = self.items[place]
        masses, unit = _masses(text or "", bar.unit)
        if unit != bar.unit:
            raise _Unreadable(_("the unit of the bar, {unit}").format(unit=bar.unit))
        if name == "collar":
            if len(masses) != 1:
                raise _Unreadable(_("the mass of both collars together, such as collars 0.5"))
            self.items[place] = replace(bar, collars=masses[0][1])
            return
        if any(number % 2 for number, _mass in masses):
            raise _Unreadable(_("discs in pairs, such as discs 2 x 1.25, 4 x 5"))
        pairs: dict[Decimal, int] = defaultdict(int, dict(bar.discs))
        for number, mass in masses:
            pairs[mass] += number // 2
        self.items[place] = replace(bar, discs=tuple(sorted(pairs.items())))

    def kit(self) -> Kit:
        """What was read, the same implement and mass once, in the order of the vocabulary."""
        counted: dict[tuple[Any, ...], Item] = {}
        for item in self.items:
            key = (item.implement, item.entered, item.unit, item.level, item.masses, item.discs, item.collars)
            if key in counted and item.level is None:
                counted[key] = replace(item, count=counted[key].count + item.count)
            else:
                counted.setdefault(key, item)
        items = sorted(counted.values(), key=_order)
        if len(items) > MOST_ITEMS:
            self.unread.append(
                Unread(str(len(items)), _("at most {most} kinds of implement").format(most=MOST_ITEMS))
            )
        for item in items:
            if item.count > MOST_OF_ONE:
                self.unread.append(
                    Unread(
                        f"{item.count} x {item.implement.value}",
                        _("at most {most} of one").format(most=MOST_OF_ONE),
                    )
                )
        return Kit(tuple(items), frozenset(self.furniture))


def _order(item: Item) -> tuple[int, Decimal, int]:
    return list(Implement).index(item.implement), item.kg or Decimal(0), item.level or 0


def _singular(name: str) -> str:
    words = re.sub(r"[\s\-]+", " ", name).strip().split(" ")
    joined = " ".join(
        word[:-1] if word.endswith("s") and word not in ("safeties",) else word for word in words
    )
    return "rack with safeties" if joined in ("safety rack", "rack with safetie") else joined


def _expected_for(name: str) -> str:
    if name == "rack":
        return _("rack with safeties, if it has safety bars; a rack without them is left out")
    if any(name.startswith(f"{one} ") for one in _IMPLEMENTS):
        return _("its masses in figures, such as kettlebell 8, 12")
    names = [*dict.fromkeys(implement.value for implement in Implement if implement is not Implement.NONE)]
    names += [piece.value for piece in Furniture]
    return _("one of: {names}").format(names=", ".join(one.replace("-", " ") for one in names))


def _levels(text: str) -> list[int]:
    pieces = [piece for piece in _BETWEEN.split(text) if piece]
    if not all(piece.isascii() and piece.isdigit() and int(piece) in BAND_LEVELS for piece in pieces):
        raise _Unreadable(
            _("band levels from 1, the lightest, to {most}, such as band 1, 2").format(most=BAND_LEVELS[-1])
        )
    return sorted({int(piece) for piece in pieces})


def _masses(text: str, unit: str) -> tuple[list[tuple[int, Decimal]], str]:
    """Masses with how many of each, and their one unit: one that stands behind the last holds for all."""
    if _AMBIGUOUS.search(text):
        raise _Unreadable(_("a point in 7.5, or a space in 7, 5"))
    found: list[tuple[int, Decimal]] = []
    units: set[str] = set()
    place = 0
    while place < len(text):
        gap = _BETWEEN.match(text, place)
        if gap:
            place = gap.end()
            continue
        match = _MASS.match(text, place)
        if match is None:
            raise _Unreadable(_("masses as numbers, such as 8, 12 or 2 x 5"))
        found += _row(match)
        if match["unit"]:
            units.add(LB if match["unit"][0] in "lp" else KG)
        place = match.end()
    if not found:
        raise _Unreadable(_("masses as numbers, such as 8, 12 or 2 x 5"))
    if len(units) > 1:
        raise _Unreadable(_("one unit for one implement, kg or lb"))
    used = units.pop() if units else unit
    if not all(0 < in_kg(mass, used) <= HEAVIEST_KG and mass == round(mass, 3) for _count, mass in found):
        raise _Unreadable(
            _("masses above 0, up to {most} kg, with three decimals at most").format(most=HEAVIEST_KG)
        )
    return found, used


def _row(match: re.Match[str]) -> list[tuple[int, Decimal]]:
    count, mass = int(match["count"] or 1), Decimal(match["mass"]).normalize()
    if not match["to"]:
        return [(count, mass)]
    last, step = Decimal(match["to"]), Decimal(match["by"])
    steps = int((last - mass) / step) if step > 0 else -1
    if not 0 <= steps < MOST_ITEMS:
        raise _Unreadable(_("a row of masses from the lightest up, such as 2.5 to 20 by 2.5"))
    return [(count, (mass + number * step).normalize()) for number in range(steps + 1)]


# --- writing ----------------------------------------------------------------------------------------------------------


def write_kit(kit: Kit, unit: str = KG) -> str:
    """The kit in the words that `read_kit` reads, those of the tables in their order."""
    parts = []
    for implement in Implement:
        items = [item for item in kit.items if item.implement is implement]
        for one_unit in dict.fromkeys(item.unit for item in items):
            same = [item for item in items if item.unit == one_unit]
            parts.append(_write(implement, same, "" if one_unit == unit else f" {one_unit}"))
    parts += [piece.value.replace("-", " ") for piece in Furniture if piece in kit.furniture]
    return "; ".join(parts)


def _write(implement: Implement, items: Sequence[Item], unit: str) -> str:
    name = implement.value.replace("-", " ")
    if implement is Implement.BAND:
        return f"{name} {', '.join(str(item.level) for item in items)}"
    if implement is Implement.BARBELL:
        bar = items[0]
        parts = [f"{name} {_plain(bar.entered or Decimal(0))}{unit}"]
        if bar.collars:
            parts.append(f"collars {_plain(bar.collars)}{unit}")
        if bar.discs:
            parts.append(
                "discs " + ", ".join(f"{2 * pairs} x {_plain(mass)}" for mass, pairs in bar.discs) + unit
            )
        return "; ".join(parts)
    if implement is Implement.ADJUSTABLE_DUMBBELL:
        one = items[0]
        lead = f"{one.count} {name}s" if one.count > 1 else name
        return f"{lead} {_write_row(one.masses)}{unit}"
    return f"{name} " + ", ".join(_times(item) for item in items) + unit


def _write_row(masses: Sequence[Decimal]) -> str:
    steps = {later - earlier for earlier, later in zip(masses, masses[1:], strict=False)}
    if len(masses) >= _ROW_OF and len(steps) == 1:
        return f"{_plain(masses[0])} to {_plain(masses[-1])} by {_plain(steps.pop())}"
    return ", ".join(_plain(mass) for mass in masses)


def _times(item: Item) -> str:
    mass = _plain(item.entered or Decimal(0))
    return f"{item.count} x {mass}" if item.count > 1 else mass


def _plain(mass: Decimal) -> str:
    return f"{mass.normalize():f}"
