"""What the rules are, and the sentence that each reason stands for, for whoever reads a decision as a document.

A decision names its reasons by rule and key, with the figures that triggered them, such as `laid-race-week` with 7 days
and a race. The sentence of a key has the figures' names in braces. It stands beside the rule's prose in the module that
gives it, in English and for a coach; what riders read, and in which language, is made elsewhere from the same keys.

>>> sentences()["light-fourth-week"]
'Week {week} of the block: every fourth is light.'
"""

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache

from programs import engine
from programs.engine.codec import Json
from programs.engine.reasons import RULES

#: Pure modules beside the engine's whose reasons its decisions may name.
BESIDE = ("athletes.triage", "athletes.screening", "athletes.readiness")


@cache
def sentences() -> Mapping[str, str]:
    """The sentence of every reason that a decision may give, by key."""
    found: dict[str, str] = {}
    for name in (*_modules(), *BESIDE):
        found.update(getattr(importlib.import_module(name), "REASONS", {}))
    return dict(sorted(found.items()))


def rules_document() -> dict[str, Json]:
    """Every rule with its title, its source and how well founded it is, and every reason with its sentence."""
    rules: dict[str, Json] = {
        name: {"title": rule.title, "source": rule.source, "kind": rule.kind.value}
        for name, rule in RULES.items()
    }
    reasons: dict[str, Json] = dict(sentences())
    return {"rules": rules, "reasons": reasons}


def _modules() -> list[str]:
    return [
        f"{engine.__name__}.{module.name}"
        for module in pkgutil.iter_modules(engine.__path__)
        if not module.name.startswith("_")
    ]
