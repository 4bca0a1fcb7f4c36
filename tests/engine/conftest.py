"""Every reason that the engine gives in any of these tests is one that can be said.

Whatever a test looks at, each reason that engine or triage makes meanwhile must name a rule of the catalogue and a key
with a sentence, and bring the figures that the sentence has in braces.
"""

import sys
from functools import cache, wraps
from string import Formatter
from typing import Any

from athletes import sites, soreness, triage
from athletes.vocabulary import Reason
from programs.engine.catalogue import sentences
from programs.engine.reasons import RULES

#: What reads reasons from a document may read any; what asks about one in words of its own names no key.
_MAY_BE_ANY = {"programs.engine.codec"}
_BESIDE = {"athletes.triage", "athletes.sites", "athletes.soreness", "athletes.findings"}
_make = Reason.__init__


@cache
def _figures_of(key: str) -> frozenset[str] | None:
    """The names in braces of the key's sentence; `None` for a key without one."""
    sentence = {**sites.REASONS, **soreness.REASONS, **triage.REASONS, **sentences()}.get(key)
    if sentence is None:
        return None
    return frozenset(name for _text, name, _form, _kind in Formatter().parse(sentence) if name)


@wraps(_make)
def _made(self: Reason, *given: Any, **named: Any) -> None:
    _make(self, *given, **named)
    by = sys._getframe(1).f_globals.get("__name__", "")
    if by in _BESIDE or (by.startswith("programs.engine.") and by not in _MAY_BE_ANY):
        wanted = _figures_of(self.key)
        assert self.rule in RULES, f"{by} names {self.rule}, which is no rule"
        assert wanted is not None, f"{by} gives {self.key}, which has no sentence"
        assert wanted <= set(self.figures), f"{self.key} lacks {sorted(wanted - set(self.figures))}"


Reason.__init__ = _made  # type: ignore[method-assign]
