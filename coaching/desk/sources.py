"""Where each rule's numbers come from, as shown beside a reason.

Three kinds, never mixed up: a published source by author and year; common practice, which has none; and choices of this
project, shown as such. "From memory" marks what nobody has checked against the page yet.
"""

from django.utils.translation import gettext_lazy as _

_PRACTICE = _("common practice, no source")
_OURS = _("a choice of this project")

_SOURCES = {
    "T0": _OURS,
    "T1": _(
        "pain-monitoring model, Thomeé 1997 and Silbernagel 2007: an Achilles trial, other sites by extrapolation"
    ),
    "T2": _OURS,
    "T3": _OURS,
    "T4": _("guidance of public health services, categories from memory"),
    "T5": _OURS,
    "S1": _("ACSM screening algorithm, Riebe 2015, cells from memory"),
    "S2": _PRACTICE,
    "S3": _(
        "NSCA youth statement, Faigenbaum 2009, numbers from memory; the load step is a choice of this project"
    ),
    "S4": _("balance work: WHO 2020 and NSCA 2019; rests and exposures are a choice of this project"),
    "S5": _OURS,
    "H1": _OURS,
    "H2": _OURS,
    "H3": _OURS,
    "K6": _OURS,
    "L2": _OURS,
    "P1": _PRACTICE,
    "P2": _(
        "steps of 2 to 10 %: ACSM 2009; the two sessions in a row from memory; the table is a choice of this project"
    ),
    "P3": _OURS,
    "P4": _PRACTICE,
    "P5": _PRACTICE,
    "P6": _("asymmetry as defined by Bishop 2018"),
    "P7": _PRACTICE,
    "P8": _("Rønnestad 2010: 12 weeks at two a week, then 13 at one, kept strength"),
    "P9": _("gaps: common practice; volume: Bosquet 2007, two weeks in endurance training, an extrapolation"),
    "P10": _("CSCCa and NSCA consensus, Caterisano 2019; thresholds are a choice of this project"),
    "P12": _("sets counted as in Pelland 2024; the caps are a choice of this project"),
    "Y1": _PRACTICE,
    "Y2": _OURS,
    "Y3": _OURS,
    "W1": _("hours from rides: Robineau 2016 and Schumann 2022; the points are a choice of this project"),
    "W2": _("the best of all placements by exact enumeration; the points are a choice of this project"),
    "W3": _OURS,
    "D3": _OURS,
    "M3": _OURS,
}


def source_of(rule: str) -> str:
    """The source of a rule in words, nothing for a rule that states none."""
    return str(_SOURCES.get(rule, ""))
