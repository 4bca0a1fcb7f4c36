"""The page of the rules, docs/rules.md, written by a run of the tests: `make rules`.

A plugin of pytest. It watches every test that is named after a rule (`test_p2_...`, `test_s3_s4_...`,
`test_i1_to_i15_...`), gathers what passed and what failed, and writes the page at the end of the run: each rule with
its prose, where its numbers come from, the values from outside that were checked, and its tests. The page holds no
dates and no durations, so the same code gives the same page.
"""

import re
from collections import defaultdict
from dataclasses import dataclass, field

import pytest

from programs.engine.reasons import RULES, Kind
from tests.rule_prose import ROOT, ids_in, in_short, origins, prose_of

PAGE = ROOT / "docs" / "rules.md"
#: The groups of rules: letter, title, what they are about.
GROUPS = {
    "Q": ("Masses and weeks", "What a kilogram is and when a week begins."),
    "K": ("Kit", "What can be loaded with what is there."),
    "L": ("Levels", "What is easier, what is harder, and what stands in."),
    "S": ("Start", "Who may begin, with what, and what age changes."),
    "H": ("History", "How what was done is read back."),
    "P": ("Progress", "What is asked for next time, and why."),
    "T": ("Pain and warning symptoms", "These come before every other rule."),
    "Y": ("Season", "What a week is for."),
    "W": ("Week", "Where the sessions stand."),
    "D": ("Session", "How long it takes, and what gives way to time."),
    "M": ("Watching", "What is computed from what riders report."),
    "I": ("Safety properties", "What no plan may break, whoever made it, tried on random seasons."),
}
KINDS = {
    Kind.PUBLISHED: "Published",
    Kind.PRACTICE: "Common practice, no source",
    Kind.OURS: "This project's choice",
}
_SOURCE, _MARK = re.compile(r"(^|\. )?\bS: "), re.compile(r" \((?:ours|practice)\)")
_NAMED = re.compile(r"test_((?:[a-z]\d{1,2}_(?:to_)?)+)")
INTRODUCTION = f"""# The rules, where they come from, and what checks them

Every decision of the engine names the rules that made it. Here each of them stands with its prose in short, where its
numbers come from, and the tests that hold it. This page is written by a run of the tests (`make rules`), with the
results of that run; a test fails when the page lacks a rule or names a test that is gone.

How well founded a rule is:

- **{KINDS[Kind.PUBLISHED]}**: a finding, a standard or a position statement that is named. Numbers inside such a rule
  can still be this project's own; the sentences marked *ours* say which.
- **{KINDS[Kind.PRACTICE]}**: what coaches commonly do.
- **{KINDS[Kind.OURS]}**: decided here, to be confirmed by the club's coach and, for pain, by its clinician.

A value from outside is known in one of five ways: **C1** seen in the primary text, **C2** seen in a page that restates
it, **CALC** worked out from a published formula with another program, **from memory** not seen in a page and to be
confirmed by a person, **common practice, no source**.

A published value is no medical rule. The pain, screening and return rules are careful gates, not a diagnosis.
"""


@dataclass
class Result:
    """How the cases of one test ended."""

    passed: int = 0
    failed: int = 0

    def add(self, passed: bool) -> None:
        self.passed += passed
        self.failed += not passed

    def __str__(self) -> str:
        if self.failed:
            return f"**{self.failed} of {self.passed + self.failed} fail**"
        return "pass" if self.passed == 1 else f"{self.passed} cases pass"


@dataclass
class Run:
    """What a run of the tests told: by rule its tests, and the values from outside as (what, source, confidence)."""

    tests: dict[str, dict[str, Result]] = field(
        default_factory=lambda: defaultdict(lambda: defaultdict(Result))
    )
    values: dict[str, dict[tuple[str, str, str], Result]] = field(
        default_factory=lambda: defaultdict(lambda: defaultdict(Result))
    )


def rules_of(test: str) -> list[str]:
    """The rules that a test is named after: none, one, several or a range.

    >>> rules_of("test_s3_s4_the_limits"), rules_of("test_i1_to_i3_hold"), rules_of("test_the_page")
    (['S3', 'S4'], ['I1', 'I2', 'I3'], [])
    """
    named = _NAMED.match(test)
    return ids_in(named[1].upper().replace("_TO_", " to ").replace("_", " ")) if named else []


# --- writing ----------------------------------------------------------------------------------------------------------


def written(run: Run) -> str:
    """The page, from what the run told."""
    parts = [INTRODUCTION, _contents(run)]
    for letter, (title, about) in GROUPS.items():
        parts.append(f"## {title}\n\n{about}\n")
        parts += [_rule(rule, run) for rule in RULES if rule[0] == letter]
    return "\n".join(parts)


def _contents(run: Run) -> str:
    lines = ["| group | rules | values from outside | tests |", "|---|---|---|---|"]
    for letter, (title, _about) in GROUPS.items():
        rules = [rule for rule in RULES if rule[0] == letter]
        values = sum(one.passed + one.failed for rule in rules for one in run.values[rule].values())
        tests = {test for rule in rules for test in run.tests[rule]}
        anchor = title.lower().replace(" ", "-")
        lines.append(f"| [{title}](#{anchor}) | {rules[0]} to {rules[-1]} | {values or ''} | {len(tests)} |")
    return "\n".join(lines) + "\n"


def _rule(rule: str, run: Run) -> str:
    about = RULES[rule]
    source = f": {about.source}." if about.source else "."
    short = in_short(rule)
    lines = [f"### {rule} {about.title}", "", _spelled(short), "", f"*{KINDS[about.kind]}{source}*", ""]
    said = [_labelled(name, text) for name, text in origins(rule) if text not in short]
    lines += [*said, *[""] * bool(said)]
    files = ", ".join(f"`{file}`" for file in dict.fromkeys(one.file for one in prose_of(rule)))
    lines += [f"<details><summary>{_summary(rule, run)}</summary>", "", f"In full: {files}.", ""]
    if run.values[rule]:
        lines += ["| value from outside | source | known | result |", "|---|---|---|---|"]
        lines += [
            f"| {_cell(what)} | {_cell(source)} | {known} | {result} |"
            for (what, source, known), result in sorted(run.values[rule].items())
        ]
        lines.append("")
    by_file: dict[str, list[str]] = defaultdict(list)
    for test, result in sorted(run.tests[rule].items()):
        file, name = test.split("::")
        by_file[file].append(f"- `{name}`: {result}")
    for file, tests in by_file.items():
        lines += [f"`{file}`", "", *tests, ""]
    return "\n".join([*lines, "</details>", ""])


def _summary(rule: str, run: Run) -> str:
    values, tests = run.values[rule].values(), run.tests[rule].values()
    counts = [(sum(one.passed + one.failed for one in values), "value from outside", "values from outside")]
    counts.append((len(tests), "test", "tests"))
    said = " and ".join(f"{count} {one if count == 1 else many}" for count, one, many in counts if count)
    failed = sum(one.failed for one in tests)
    return f"{said}: {f'{failed} fail' if failed else 'all pass'}"


def _spelled(text: str) -> str:
    """The text with "S:" spelled out."""
    return _SOURCE.sub(lambda found: "source: " if found[1] is None else f"{found[1]}Source: ", text)


def _labelled(label: str, text: str) -> str:
    """A sentence behind the label that says where it is from, so without the mark that says so again."""
    spelled = _spelled(_MARK.sub("", text))
    return f"- {label}: {spelled[0].upper()}{spelled[1:]}"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


# --- watching ---------------------------------------------------------------------------------------------------------


class Watcher:
    """Gathers how every test named after a rule ended, and writes the page when the run is over."""

    def __init__(self) -> None:
        self.run = Run()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_makereport(self, item: pytest.Item, call: pytest.CallInfo[None]):
        report = yield
        if report.when == "call" or not report.passed:
            self.take(item, report.passed)
        return report

    def take(self, item: pytest.Item, passed: bool) -> None:
        name = getattr(item, "originalname", item.name)
        file = item.path.relative_to(ROOT)
        for rule in rules_of(name):
            self.run.tests[rule][f"{file}::{name}"].add(passed)
        check = item.callspec.params.get("check") if hasattr(item, "callspec") else None
        if hasattr(check, "confidence"):
            known = (check.what, check.source.cite, check.confidence.value)
            self.run.values[check.rule][known].add(passed)

    def pytest_sessionfinish(self, exitstatus: int) -> None:
        if exitstatus in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED):
            PAGE.write_text(written(self.run), "utf-8")


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(Watcher(), "rule-page-watcher")
