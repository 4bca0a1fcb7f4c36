"""The catalogue of rules: what each id that a reason names is about, and where it comes from.

A rule's prose stands in the module that carries it out, its sentences beside that prose in `REASONS`. Here is only what
a page needs to say which rule spoke and how well founded it is.

published  The rule is a finding, a standard or a position statement that its source names.
practice   Common practice, without a source.
ours       A choice of this project. Numbers inside a published rule may still be ours; the module says which.

>>> RULES["P6"].title
'Sides'
"""

from collections.abc import Mapping
from enum import StrEnum

from athletes.values import value_class


class Kind(StrEnum):
    """How well founded a rule is."""

    PUBLISHED = "published"
    PRACTICE = "practice"
    OURS = "ours"


@value_class
class Rule:
    """What a rule is about in a few words, its source in a line (or nothing), and how well founded it is."""

    title: str
    source: str
    kind: Kind


def _published(title: str, source: str) -> Rule:
    return Rule(title, source, Kind.PUBLISHED)


def _practice(title: str, source: str = "") -> Rule:
    return Rule(title, source, Kind.PRACTICE)


def _ours(title: str, source: str = "") -> Rule:
    return Rule(title, source, Kind.OURS)


RULES: Mapping[str, Rule] = {
    # quantities, kit, families
    "Q1": _published("Masses", "The international pound, 1 lb = 0.45359237 kg exactly"),
    "Q2": _published("Weeks", "ISO 8601"),
    "K1": _ours("Fixed implements"),
    "K2": _published("Barbell", "IWF technical rules for the masses of bars and discs, as defaults"),
    "K3": _ours("Adjustable dumbbells"),
    "K4": _ours("Body weight with added mass"),
    "K5": _practice("Bands"),
    "K6": _ours("The next load that is there"),
    "K7": _published("Effective load", "Segment masses, Winter after Dempster; for reports only"),
    "L1": _practice("Levels and what earns the next"),
    "L2": _ours("What stands in for a level"),
    # start
    "S1": _published("Health screening and clearance", "ACSM 2015 (Riebe et al.) for adults"),
    "S2": _practice("The first sessions teach"),
    "S3": _published(
        "Under 18", "NSCA 2009 (Faigenbaum et al.), numbers from memory; load steps and growth are ours"
    ),
    "S4": _published(
        "From 50 and from 65", "WHO 2020 and NSCA 2019 (Fragala et al.) for balance; the other step is ours"
    ),
    "S5": _practice("Where a rider starts"),
    # history
    "H1": _ours("What belongs to exercise and implement"),
    "H2": _ours("One step a week"),
    "H3": _ours("What is not known is no success"),
    # progress
    "P1": _practice("More reps"),
    "P2": _published(
        "More load", "ACSM 2009 for steps of 2 to 10 %; two sessions in a row from memory; larger steps ours"
    ),
    "P3": _practice("The bridge over a large step"),
    "P4": _practice("Holds"),
    "P5": _practice("Missed targets"),
    "P6": _published("Sides", "Bishop et al. 2016 and 2018 for the formula; the 15 % is not a norm"),
    "P7": _practice("The light week"),
    "P8": _published(
        "Maintaining", "Rønnestad et al. 2010: twelve weeks at two sessions, then thirteen at one"
    ),
    "P9": _published("Before a race", "Bosquet et al. 2007, in endurance training: an extrapolation"),
    "P10": _published(
        "After a break or an illness",
        "Caterisano et al. 2019 (CSCCa and NSCA) for the cuts; days and loads are ours",
    ),
    "P11": _published(
        "Estimates of a maximum", "The seven published formulas; Hackett et al. 2017; display only"
    ),
    "P12": _published(
        "Weekly sets", "Pelland et al. 2024 for counting, Iversen et al. 2021; the caps are ours"
    ),
    # pain
    "T0": _ours("Reports act at once, and only downwards"),
    "T1": _published(
        "Pain", "Thomeé 1997 and Silbernagel et al. 2007, an Achilles trial: other sites by extrapolation"
    ),
    "T2": _ours("Pain that comes back or rises"),
    "T3": _practice("Soreness"),
    "T4": _published("Warning symptoms", "Public health services and concussion guidance, most from memory"),
    "T5": _ours("Stand-ins and the way back"),
    # season, week, session
    "Y1": _practice("What a week is for", "WHO 2020 for at least two sessions a week"),
    "Y2": _ours("Weeks with much riding"),
    "Y3": _practice("The year from its races"),
    "W1": _published(
        "Where sessions stand",
        "Robineau et al. 2016 and Schumann et al. 2022 for hours from rides; the points are ours",
    ),
    "W2": _ours("The best placement, and what was dropped"),
    "W3": _ours("Training alone, and what a coach must see first"),
    "D1": _practice("How long a session takes", "ACSM 2009 for tempo and rests"),
    "D2": _published("Circuits", "Burke et al. 2024, Iversen et al. 2021"),
    "D3": _ours("Fitting the minutes"),
    # monitoring
    "M1": _published("Session load", "Foster 1998 and Foster et al. 2001"),
    "M2": _published("Changes in load", "Impellizzeri et al. 2021 against ratio scores"),
    "M3": _ours("Missed and silent"),
    "M4": _published("Trends", "Theil 1950 and Sen 1968, from memory"),
    # safety properties
    "I1": _ours("Not above what was done where it hurts"),
    "I2": _ours("Only loads that are there"),
    "I3": _ours("Only days that are possible"),
    "I4": _ours("At most three sessions a week"),
    "I5": _ours("A large step never keeps the reps"),
    "I6": _ours("Weekly sets within caps"),
    "I7": _ours("Nothing for who may not train"),
    "I8": _ours("A reason for every change"),
    "I9": _ours("Less never leads to more"),
    "I10": _ours("Half at most after a break"),
    "I11": _ours("The limits for the young"),
    "I12": _ours("What is not known is no success"),
    "I13": _ours("Body mass changes nothing"),
    "I14": _ours("A stand-in spares what is sore"),
    "I15": _ours("Nothing from before a report comes back"),
}
