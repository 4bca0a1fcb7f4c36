"""docs/mutants.md: what became of the mutants, and why those that nobody noticed were left: `--page`."""

from collections import defaultdict
from pathlib import Path
from typing import Any

import yaml

from tests.mutants.making import ROOT, Mutant

PAGE = ROOT / "docs" / "mutants.md"
#: Why a mutant changes nothing that anybody can see, by its name.
EXPLAINED = Path(__file__).with_name("explained.yaml")
#: What a gate is to hold to 90 % first. A module that gets near is added.
HELD = ("codec", "estimates", "kit", "load", "outline", "power", "races", "schema", "session", "tally", "trends",
        "week")  # fmt: skip
INTRODUCTION = """# Faults that the tests notice, and those that they do not

`make mutants` changes the engine in one place at a time, by the operators of mutmut, and runs the tests that run that
place until one fails. What is left alone, and why mutmut's own runner is not used, stands in `tests/mutants/making.py`
and `tests/mutants/trying.py`. This page is written by `make mutants ARGS=--page` from what has been tried so far of the
statements as they are now: a sample, drawn with a seed, of most modules, all of some.

No gate holds these figures yet, since trying mutants takes many minutes. The modules that are **held** are the first
that one is to hold to 90 %; the others wait.
"""


def explained() -> dict[str, str]:
    """The explanations, by the mutant's name."""
    return yaml.safe_load(EXPLAINED.read_text("utf-8")) or {}


def stale(mutants: list[Mutant], rows: dict[str, dict[str, Any]]) -> list[str]:
    """What is explained of mutants that there are no longer, or that a test notices by now."""
    there = {one.name: one for one in mutants}
    found = [f"there is no mutant any more: {name}" for name in explained() if name not in there]
    for name in explained().keys() & there.keys():
        row = rows.get(name)
        if row and row["anchor"] == there[name].anchor and row["killer"]:
            found.append(f"{row['killer']} notices by now: {name}")
    return found


def written(mutants: list[Mutant], rows: dict[str, dict[str, Any]]) -> str:
    """The page: each module with its figures, then every survivor."""
    reasons = explained()
    by_module: dict[str, list[Mutant]] = defaultdict(list)
    for one in mutants:
        by_module[one.module].append(one)
    lines = [INTRODUCTION, "| module | mutants | tried | noticed | | held |", "|---|---|---|---|---|---|"]
    left: list[str] = []
    all_tried = all_noticed = 0
    for module, those in by_module.items():
        tried = [one for one in those if rows.get(one.name, {}).get("anchor") == one.anchor]
        survivors = [one for one in tried if not rows[one.name]["killer"]]
        noticed = len(tried) - len(survivors)
        all_tried, all_noticed = all_tried + len(tried), all_noticed + noticed
        name = Path(module).stem
        share = f"{100 * noticed / len(tried):.0f} %" if tried else ""
        held = "yes" if name in HELD else ""
        lines.append(f"| `{name}` | {len(those)} | {len(tried)} | {noticed} | {share} | {held} |")
        if survivors:
            left += [f"### {name}", ""]
            left += [f"- `{_code(one)}`: {reasons.get(one.name, 'not explained')}" for one in survivors]
            left.append("")
    share = f"{100 * all_noticed / all_tried:.0f} %" if all_tried else ""
    lines.append(f"| all | {len(mutants)} | {all_tried} | {all_noticed} | {share} | |")
    return "\n".join([*lines, "", "## What nobody noticed", "", *left]).rstrip() + "\n"


def _code(mutant: Mutant) -> str:
    return mutant.name.partition("::")[2].replace("`", "'")
