"""What is really lifted: the external load and the share of the body that moves with it (rule K7). For reports only.

K7  Effective load = external load + share x body mass. The share is 1 less what stays where it is, by the segment
    masses of Winter (Biomechanics and Motor Control of Human Movement, 3rd ed. 2005, after Dempster 1955, cadavers of
    men: an approximation for everybody else); for push-ups it is measured (Ebben et al. 2011). Each exercise of the
    library that has a share names its source.
S3  Under 18 body mass is never asked for, and nothing is worked out from it.
I13 Body mass never changes a target: nothing that decides imports this module, and no facts have a body mass.
"""

from collections.abc import Iterable, Mapping
from decimal import ROUND_HALF_UP, Context, Decimal
from enum import StrEnum

from athletes.values import value_class
from athletes.vocabulary import Reason
from programs.engine.estimates import Withheld
from programs.engine.quantities import plain

_CONTEXT = Context(prec=28)

REASONS: dict[str, str] = {
    "body-mass-under-18": "Under 18: body mass is not asked for, and nothing is worked out from it.",
}


class Segment(StrEnum):
    """A part of the body; those with two sides are of one side."""

    HAND = "hand"
    FOREARM = "forearm"
    UPPER_ARM = "upper-arm"
    FOOT = "foot"
    LOWER_LEG = "lower-leg"
    THIGH = "thigh"
    HEAD_AND_NECK = "head-and-neck"
    TRUNK = "trunk"


#: The share of body mass of each segment. S: Winter, after Dempster 1955.
SHARES: Mapping[Segment, Decimal] = {
    Segment.HAND: Decimal("0.006"),
    Segment.FOREARM: Decimal("0.016"),
    Segment.UPPER_ARM: Decimal("0.028"),
    Segment.FOOT: Decimal("0.0145"),
    Segment.LOWER_LEG: Decimal("0.0465"),
    Segment.THIGH: Decimal("0.100"),
    Segment.HEAD_AND_NECK: Decimal("0.081"),
    Segment.TRUNK: Decimal("0.497"),
}


@value_class
class EffectiveLoad:
    """What one rep moves, in kg to two places: `kg` is `external_kg` and `body_kg` together. For reports only."""

    kg: Decimal
    external_kg: Decimal
    body_kg: Decimal


def share_moved(still: Iterable[Segment]) -> Decimal:
    """The share of the body that moves when these segments, each named once a side, stay where they are (K7).

    >>> share_moved([Segment.FOOT, Segment.LOWER_LEG] * 2)  # both feet on the floor, as in a squat
    Decimal('0.8780')
    """
    return 1 - sum((SHARES[segment] for segment in still), Decimal(0))


def effective_load(
    external_kg: Decimal, *, body_mass_kg: Decimal, share: Decimal, under_18: bool
) -> EffectiveLoad | Withheld:
    """What one rep moves, or why it is not worked out (K7, S3).

    Raises `ValueError` for a share outside 0 to 1, a body mass that is not above 0, or an external load below 0.
    """
    if under_18:
        return Withheld((Reason("S3", "body-mass-under-18"),))
    if not 0 <= share <= 1:
        raise ValueError(f"a share of body mass lies between 0 and 1, not at {share}")
    if body_mass_kg <= 0 or external_kg < 0:
        raise ValueError("body mass must be above 0 kg, and the external load not below 0 kg")
    body_kg = _shown(_CONTEXT.multiply(share, body_mass_kg))
    return EffectiveLoad(_shown(external_kg + body_kg), _shown(external_kg), body_kg)


def _shown(kg: Decimal) -> Decimal:
    return plain(kg.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP, context=_CONTEXT))
