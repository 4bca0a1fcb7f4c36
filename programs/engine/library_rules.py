"""What an exercise library must be before anybody trains from it (rules L1, P1, P2, P4, S3, T5, W3).

The rules, each beside the function that holds it:

shape        one document a pattern, of the shape in `library_schema.py`.
names        a slug and a name belong to one exercise.
edges        a step leads to a harder exercise of the same pattern, and its criterion can be met: same measure, within
             the range of the easier one. Only steps upward are written down; what is easier is read from them, so the
             two directions cannot disagree.
order        the steps form no cycle (L1).
levels       levels run from 1 without a gap, each exercise above level 1 is earned by an easier one, and a pattern
             hangs together as one family. Mobility is several small families, one a joint.
bottom       a pattern starts with something that needs no kit and suits a beginner (L1).
ranges       reps start at 5 or 6 and end at 15 to 20, so that a load step can be bridged (P1, P2); holds run from 20 to
             60 s (P4). Power is 5 to 8 reps, never more, and a step up leaves 4 good ones (ours): it ends with its
             speed, long before it is hard.
regions      a region is loaded once; a pattern spares every region except those that it declares unavoidable (T5);
             what is in the hands loads the hands, what is on the back loads the shoulders and the back.
safeties     a barbell for squats and presses needs safeties and a rack (W3); neither that nor impact is for beginners.
parts        what stands in a warm-up or cool-down needs no kit, is not progressed and says which patterns it suits; its
             level is the order within the part (light aerobic work before rehearsals).
substitutes  a substitute is of the same pattern, not harder, and spares a region or some kit, or moves where the other
             holds still.
sources      a share of body mass names a source of its document (K7).

Which regions an exercise loads, and which muscles count a whole or half a set (P12; the counting is Pelland 2024's), is
common practice, no source.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, cast

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from athletes.values import value_class
from athletes.vocabulary import Implement, Pattern, Region
from programs.engine.facts import Measure, Part
from programs.engine.library_schema import DOCUMENT
from programs.engine.power import POWER_REPS_LEFT

type Document = Mapping[str, Any]
type Row = Mapping[str, Any]

_PARTS_ONLY = frozenset({Pattern.WARM_UP, Pattern.COOL_DOWN})
_SEVERAL_FAMILIES = _PARTS_ONLY | {Pattern.MOBILITY}
_BARBELL_OVER_THE_BODY = frozenset({Pattern.SQUAT, Pattern.SINGLE_LEG, Pattern.PUSH})
_IN_THE_HANDS = frozenset({Implement.KETTLEBELL, Implement.DUMBBELL, Implement.BARBELL})
_ON_THE_BACK = frozenset({Implement.BACKPACK, Implement.VEST})
#: Power ends with its speed: few reps (ours).
POWER_MOST_REPS = 8
_WORN_LOADS = frozenset({Region.SHOULDER, Region.UPPER_BACK, Region.LOWER_BACK})


@value_class(order=True)
class Fault:
    """What is wrong, where: the exercise's slug (or a pattern, for what concerns a whole family), the field, what was
    expected and what was found."""

    exercise: str
    field: str
    expected: str
    found: str

    def __str__(self) -> str:
        return f"{self.exercise}: {self.field}: expected {self.expected}, found {self.found}"


def find_faults(documents: Iterable[Document]) -> list[Fault]:
    """Every fault of the documents, in the order of the rules above; empty when the library is sound.

    When a document is not of the right shape only that is reported, since the other rules need the shape.
    """
    read = list(documents)
    misshapen = [fault for index, document in enumerate(read) for fault in _shape(document, index)]
    if misshapen:
        return misshapen
    rows = [row for document in read for row in document["exercises"]]
    faults = [*_patterns(read), *_names(rows)]
    if faults:
        return faults
    patterns = {row["slug"]: document["pattern"] for document in read for row in document["exercises"]}
    for document in read:
        pattern = Pattern(document["pattern"])
        members = document["exercises"]
        for row in members:
            faults += _edges(row, members, patterns)
            faults += _ranges(row, pattern)
            faults += _regions(row, pattern)
            faults += _safeties(row, pattern)
            faults += _parts(row, document)
            faults += _substitutes(row, members, patterns)
            faults += _sources(row, document)
        faults += [*_order(pattern, members), *_levels(pattern, members), *_bottom(pattern, members)]
        faults += _spared(document)
    return faults


# --- shape


def _shape(document: Document, index: int) -> Iterator[Fault]:
    errors = Draft202012Validator(DOCUMENT).iter_errors(document)
    for error in sorted(errors, key=lambda one: ([str(step) for step in one.absolute_path], one.message)):
        path = list(error.absolute_path)
        where, field = _place(document, index, path)
        named = ".".join(part for part in (field, _named_in(error)) if part)
        yield Fault(where, named or "document", _expectation(error), _shorten(error.instance))


def _place(document: Document, index: int, path: Sequence[str | int]) -> tuple[str, str]:
    """The slug and field that a path into the document means."""
    if len(path) >= 2 and path[0] == "exercises" and isinstance(path[1], int):
        row = document["exercises"][path[1]]
        slug = row.get("slug") if isinstance(row, Mapping) else None
        return str(slug or f"exercise {path[1] + 1}"), ".".join(map(str, path[2:]))
    pattern = document.get("pattern") if isinstance(document, Mapping) else None
    return str(pattern or f"document {index + 1}"), ".".join(map(str, path))


def _named_in(error: ValidationError) -> str:
    """The field that a fault of a whole record is about, the missing or surplus one; empty for a fault of a value."""
    value, whole = cast(Any, error.validator_value), cast(Any, error.instance)
    match error.validator:
        case "required":
            return next((str(name) for name in value if name not in whole), "")
        case "additionalProperties":
            known = error.schema.get("properties", {}) if isinstance(error.schema, Mapping) else {}
            return next((str(name) for name in whole if name not in known), "")
        case "not":
            return str(value["required"][0])
        case _:
            return ""


def _expectation(error: ValidationError) -> str:
    value: Any = error.validator_value
    match error.validator:
        case "enum":
            return "one of " + ", ".join(map(str, value))
        case "minItems" | "maxItems":
            most = "at least" if error.validator == "minItems" else "at most"
            return f"{most} {error.validator_value} entries"
        case "required":
            return "to be given"
        case "additionalProperties" | "not":
            return "not to be given"
        case _:
            return f"{error.validator} {error.validator_value}"


def _shorten(found: object) -> str:
    if isinstance(found, Mapping):
        return f"fields {', '.join(map(str, found))}"
    if isinstance(found, list):
        return f"{len(found)} entries"
    return repr(found)


# --- names


def _patterns(documents: Sequence[Document]) -> Iterator[Fault]:
    counts = Counter(document["pattern"] for document in documents)
    for pattern, count in counts.items():
        if count > 1:
            yield Fault(pattern, "pattern", "one document", f"{count} documents")


def _names(rows: Sequence[Row]) -> Iterator[Fault]:
    for field in ("slug", "name"):
        counts = Counter(row[field] for row in rows)
        for row in {row[field]: row for row in rows}.values():
            if counts[row[field]] > 1:
                yield Fault(row["slug"], field, "one exercise of that " + field, f"{counts[row[field]]}")


# --- edges, order, levels


def _edges(row: Row, members: Sequence[Row], patterns: Mapping[str, str]) -> Iterator[Fault]:
    by_slug = {one["slug"]: one for one in members}
    targets = [edge["harder"] for edge in row.get("earns", ())]
    for slug, count in Counter(targets).items():
        if count > 1:
            yield Fault(row["slug"], "earns.harder", f"{slug} once", f"{count} times")
    for edge in row.get("earns", ()):
        harder = edge["harder"]
        if harder not in patterns:
            yield Fault(row["slug"], "earns.harder", "a known exercise", harder)
        elif harder not in by_slug:
            yield Fault(
                row["slug"],
                "earns.harder",
                f"the same pattern as {row['slug']}",
                f"{harder} ({patterns[harder]})",
            )
        elif by_slug[harder]["level"] <= row["level"]:
            yield Fault(
                row["slug"],
                "earns.harder",
                f"a level above {row['level']}",
                f"{harder} at level {by_slug[harder]['level']}",
            )
        yield from _criterion(row, edge)


def _criterion(row: Row, edge: Row) -> Iterator[Fault]:
    criterion, amount = edge["criterion"], row["amount"]
    if criterion["kind"] != row["measure"]:
        yield Fault(row["slug"], "earns.criterion.kind", row["measure"], criterion["kind"])
    if not amount["low"] <= criterion["value"] <= amount["high"]:
        expected = f"{amount['low']} to {amount['high']}"
        yield Fault(row["slug"], "earns.criterion.value", expected, f"{criterion['value']}")
    unit = " s" if criterion["kind"] == Measure.HOLD else ""
    side = " a side" if row.get("sided", False) else ""
    opening = f"{criterion['sets']} x {criterion['value']}{unit}{side}"
    told = edge["words"].startswith((f"{opening} ", f"{opening}, ", f"{opening}."))
    if not told or (not side and "a side" in edge["words"]):
        yield Fault(row["slug"], "earns.words", f"to begin with {opening!r}", edge["words"])
    left = criterion.get("reps_left")
    if left and "good reps left" in edge["words"] and f"{left} good reps left" not in edge["words"]:
        yield Fault(row["slug"], "earns.words", f"{left} good reps left", edge["words"])


def _order(pattern: Pattern, members: Sequence[Row]) -> Iterator[Fault]:
    """Take away, again and again, what nothing left leads to; what then remains lies on or behind a cycle."""
    above = {row["slug"]: [edge["harder"] for edge in row.get("earns", ())] for row in members}
    left = set(above)
    while free := left - {harder for slug in left for harder in above[slug]}:
        left -= free
    if left:
        yield Fault(pattern.value, "earns", "no cycle", ", ".join(sorted(left)))


def _levels(pattern: Pattern, members: Sequence[Row]) -> Iterator[Fault]:
    levels = sorted({row["level"] for row in members})
    if levels != list(range(1, len(levels) + 1)):
        yield Fault(pattern.value, "level", "levels from 1 without a gap", ", ".join(map(str, levels)))
    if pattern in _PARTS_ONLY:
        return
    earned = {edge["harder"] for row in members for edge in row.get("earns", ())}
    for row in members:
        if row["level"] > 1 and row["slug"] not in earned:
            yield Fault(row["slug"], "level", "an easier exercise that earns it", "none")
    if pattern not in _SEVERAL_FAMILIES:
        apart = {row["slug"] for row in members} - _joined(members)
        if apart:
            yield Fault(pattern.value, "earns", "one connected family", "apart: " + ", ".join(sorted(apart)))


def _joined(members: Sequence[Row]) -> set[str]:
    """Everything that hangs together with the first exercise, in either direction."""
    beside: dict[str, set[str]] = {row["slug"]: set() for row in members}
    for row in members:
        for edge in row.get("earns", ()):
            beside[row["slug"]].add(edge["harder"])
            beside.setdefault(edge["harder"], set()).add(row["slug"])
    found = frontier = {members[0]["slug"]}
    while frontier:
        frontier = {other for slug in frontier for other in beside[slug]} - found
        found = found | frontier
    return found


def _bottom(pattern: Pattern, members: Sequence[Row]) -> Iterator[Fault]:
    bare = [
        row["slug"] for row in members if row["level"] == 1 and row["for_beginners"] and _needs_no_kit(row)
    ]
    if not bare:
        expected = "an exercise that needs no kit and suits a beginner"
        yield Fault(pattern.value, "level 1", expected, "none")


def _needs_no_kit(row: Row) -> bool:
    return not row.get("furniture") and row["loading"] != "external"


# --- one exercise


def _ranges(row: Row, pattern: Pattern) -> Iterator[Fault]:
    low, high = row["amount"]["low"], row["amount"]["high"]
    if low >= high:
        yield Fault(row["slug"], "amount", "low under high", f"{low} to {high}")
    elif pattern in _PARTS_ONLY:
        return
    elif row["measure"] == Measure.HOLD:
        if (low, high) != (20, 60):
            yield Fault(row["slug"], "amount", "20 to 60 s", f"{low} to {high}")
    elif pattern is Pattern.POWER:
        yield from _few_and_quick(row)
    elif low > 6 or (pattern is not Pattern.MOBILITY and not 15 <= high <= 20):
        yield Fault(row["slug"], "amount", "5 or 6 to between 15 and 20 reps", f"{low} to {high}")


def _few_and_quick(row: Row) -> Iterator[Fault]:
    low, high = row["amount"]["low"], row["amount"]["high"]
    if low > 6 or high > POWER_MOST_REPS:
        expected = f"5 or 6 to at most {POWER_MOST_REPS} reps"
        yield Fault(row["slug"], "amount", expected, f"{low} to {high}")
    for edge in row.get("earns", ()):
        left = edge["criterion"].get("reps_left")
        if left != POWER_REPS_LEFT:
            yield Fault(row["slug"], "earns.criterion.reps_left", f"{POWER_REPS_LEFT}", f"{left}")


def _loaded(row: Row) -> set[str]:
    return {*row["regions"]["primary"], *row["regions"]["secondary"]}


def _regions(row: Row, pattern: Pattern) -> Iterator[Fault]:
    both = set(row["regions"]["primary"]) & set(row["regions"]["secondary"])
    if both:
        yield Fault(row["slug"], "regions", "primary or secondary", "both: " + ", ".join(sorted(both)))
    loaded = _loaded(row)
    if not loaded and pattern not in _PARTS_ONLY:
        yield Fault(row["slug"], "regions", "at least one region", "none")
    implements = {Implement(holding["implement"]) for holding in row.get("holdings", ())}
    must: set[Region] = set()
    if implements & _IN_THE_HANDS:
        must.add(Region.WRIST_HAND)
    if implements & _ON_THE_BACK:
        must |= _WORN_LOADS
    missing = sorted(region.value for region in must if region.value not in loaded)
    if missing:
        yield Fault(row["slug"], "regions", ", ".join(missing) + " for what is held or worn", "not listed")


def _safeties(row: Row, pattern: Pattern) -> Iterator[Fault]:
    barbell = any(holding["implement"] == Implement.BARBELL for holding in row.get("holdings", ()))
    safeties = row.get("needs_safeties", False)
    if barbell and pattern in _BARBELL_OVER_THE_BODY and not safeties:
        yield Fault(row["slug"], "needs_safeties", "true for a barbell over the body", "false")
    if safeties and "rack-with-safeties" not in row.get("furniture", ()):
        yield Fault(
            row["slug"], "furniture", "rack-with-safeties", ", ".join(row.get("furniture", ())) or "none"
        )
    for field in ("needs_safeties", "impact"):
        if row.get(field, False) and row["for_beginners"]:
            yield Fault(row["slug"], "for_beginners", f"false with {field}", "true")


def _parts(row: Row, document: Document) -> Iterator[Fault]:
    pattern, part = Pattern(document["pattern"]), Part(document["part"])
    if pattern not in _PARTS_ONLY:
        if part in (Part.WARM_UP, Part.COOL_DOWN):
            yield Fault(row["slug"], "part", "main or assistance", part.value)
        if "suits" in row:
            yield Fault(row["slug"], "suits", "not to be given", ", ".join(row["suits"]))
        if "leave_out" not in row:
            yield Fault(row["slug"], "leave_out", "at least one note", "none")
        return
    if part.value != pattern.value:
        yield Fault(row["slug"], "part", pattern.value, part.value)
    if "suits" not in row:
        yield Fault(row["slug"], "suits", "the patterns that it prepares or eases", "none")
    if not _needs_no_kit(row) or not row["for_beginners"]:
        yield Fault(row["slug"], "loading", "no kit, for beginners", row["loading"])
    if "earns" in row:
        yield Fault(
            row["slug"], "earns", "no steps: a part is not progressed", f"{len(row['earns'])} entries"
        )
    if row["muscles"]:
        yield Fault(row["slug"], "muscles", "none: it is no hard set", ", ".join(row["muscles"]))


def _substitutes(row: Row, members: Sequence[Row], patterns: Mapping[str, str]) -> Iterator[Fault]:
    by_slug = {one["slug"]: one for one in members}
    for substitute in row.get("substitutes", ()):
        other = by_slug.get(substitute["use"])
        if other is None or other is row:
            found = f"{substitute['use']} ({patterns.get(substitute['use'], 'unknown')})"
            yield Fault(row["slug"], "substitutes.use", "another exercise of the pattern", found)
        elif other["level"] > row["level"]:
            found = f"{other['slug']} at level {other['level']}"
            yield Fault(row["slug"], "substitutes.use", f"at most level {row['level']}", found)
        elif not _differs(other, row):
            yield Fault(row["slug"], "substitutes.use", "one that spares a region or some kit", other["slug"])


def _differs(other: Row, row: Row) -> bool:
    """Whether `other` helps where `row` does not: it loads some region less, needs other kit, or moves where the other
    holds still."""
    eased = set(row["regions"]["primary"]) - set(other["regions"]["primary"])
    spared = _loaded(row) - _loaded(other)
    return bool(eased or spared) or _kit(other) != _kit(row) or other["measure"] != row["measure"]


def _kit(row: Row) -> tuple[frozenset[str], frozenset[tuple[str, str]], bool]:
    holdings = frozenset((one["implement"], one["how_many"]) for one in row.get("holdings", ()))
    return frozenset(row.get("furniture", ())), holdings, row["loading"] == "external"


def _sources(row: Row, document: Document) -> Iterator[Fault]:
    share = row.get("body_mass_share")
    if share and share["source"] not in document.get("sources", {}):
        yield Fault(row["slug"], "body_mass_share.source", "a source of its document", share["source"])


# --- a whole pattern


def _spared(document: Document) -> Iterator[Fault]:
    unavoidable = {one["region"] for one in document["unavoidable"]}
    for region in Region:
        sparing = [row["slug"] for row in document["exercises"] if region.value not in _loaded(row)]
        if region.value in unavoidable and sparing:
            found = f"spared by {', '.join(sparing)}"
            yield Fault(document["pattern"], "unavoidable", f"{region.value} loaded by every exercise", found)
        if region.value not in unavoidable and not sparing:
            expected = f"an exercise that spares {region.value}"
            yield Fault(document["pattern"], "regions", expected, "none")
