"""What each rule is about, where its numbers come from and how well founded it is, as shown beside a reason.

The catalogue is the engine's own (`programs/engine/reasons.py`); here it is only put into words. Three kinds, never
mixed up: a published source by author and year; common practice, which has none; and choices of this project, shown
as such.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from athletes.vocabulary import Reason
from programs.engine.reasons import RULES, Kind


@dataclass(frozen=True, slots=True)
class RuleRow:
    """A rule as the explanation lists it: its id, what it is about, how well founded it is, and its source."""

    rule: str
    title: str
    kind: str
    source: str


def kind_words(kind: Kind) -> str:
    """How well founded a rule is, in words."""
    match kind:
        case Kind.PUBLISHED:
            return _("published")
        case Kind.PRACTICE:
            return _("common practice")
        case Kind.OURS:
            return _("a choice of this project")


def source_of(rule: str) -> str:
    """The source of a rule in words, after what kind it is; nothing for a rule that the catalogue lacks."""
    known = RULES.get(rule)
    if known is None:
        return ""
    if not known.source:
        return _bare(known.kind)
    if known.kind is Kind.PUBLISHED:
        return _(known.source)
    return _("{kind}; {source}").format(kind=kind_words(known.kind), source=_(known.source))


def _bare(kind: Kind) -> str:
    """The same for a rule without a source."""
    return _("common practice, no source") if kind is Kind.PRACTICE else kind_words(kind)


def rule_rows(reasons: Iterable[Reason]) -> tuple[RuleRow, ...]:
    """The rules that the reasons name, each once, in the order in which they speak."""
    rules = dict.fromkeys(reason.rule for reason in reasons if reason.rule in RULES)
    return tuple(
        RuleRow(
            rule,
            _(known.title),
            kind_words(known.kind) if known.source else _bare(known.kind),
            _(known.source) if known.source else "",
        )
        for rule in rules
        if (known := RULES[rule])
    )
