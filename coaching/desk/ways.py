"""Where what a reason lacks can be put right: the page of the rider that a link leads to."""

from typing import Any

from django.utils.translation import gettext_lazy as _

_CONSENT = ("rider-consent", _("Open consent"))
_SCREENING = ("rider-screening", _("Open the health screening"))
_LIMITS = ("rider-limits", _("Open the clinician's limits"))
_DETAILS = ("rider-edit", _("Open the rider's details"))
_TIMES = ("rider-times", _("Open the rider's times"))
_VENUES = ("rider-venues", _("Open venues and kit"))

#: By the reason's key: the name of the page's address, which takes the rider, and what its link says.
WAYS: dict[str, tuple[str, Any]] = {
    "no-consent": _CONSENT,
    "no-guardian-consent": _CONSENT,
    "no-own-consent": _CONSENT,
    "consent-withdrawn": _CONSENT,
    "not-screened": _SCREENING,
    "screening-over": _SCREENING,
    "screening-ended": _SCREENING,
    "clearance-needed": _SCREENING,
    "limits-needed": _LIMITS,
    "adult-not-recorded": _DETAILS,
    "growth-not-entered": _DETAILS,
    "dropped-for-openings": _TIMES,
    "dropped-for-short-time": _TIMES,
    "no-time-for-any": _TIMES,
    "dropped-for-kit": _VENUES,
}


def way_of(key: str) -> dict[str, str]:
    """The address's name and the words of the link; nothing for a reason that no page puts right."""
    name, label = WAYS.get(key, ("", ""))
    return {"way": name, "way_label": str(label)}
