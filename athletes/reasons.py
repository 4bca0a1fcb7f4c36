"""The sentences of reasons that concern people: what is missing before a plan, what a screening asks for, what hurts.

Reasons of plans are worded in programs, which knows these as well; this module is for pages that know no plans.
"""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext

from athletes import readiness, screening, triage
from athletes.vocabulary import Reason

_SENTENCES: dict[str, str] = {**triage.REASONS, **screening.REASONS, **readiness.REASONS}


def sentence(reason: Reason) -> str:
    """The reason as a sentence, its figures filled in. Raises `KeyError` for a reason of programs."""
    return gettext(_SENTENCES[reason.key]).format(**reason.figures)


def stored_sentence(document: Mapping[str, Any]) -> str:
    """The same for a reason as it is stored."""
    return sentence(Reason(document["rule"], document["key"], document.get("figures", {})))
