"""K7 against the segment masses that Winter gives after Dempster, and the shares that the exercise library names."""

from decimal import Decimal

from programs.engine.effective_load import SHARES, EffectiveLoad, Segment, effective_load, share_moved
from tests.programs.test_library_fixture import entries
from tests.reference.checks import Check, Confidence, Source, against

C2, CALC, M = Confidence.C2, Confidence.CALC, Confidence.M
WINTER = Source(
    "Winter DA. Biomechanics and Motor Control of Human Movement, table of anthropometric data, after Dempster 1955"
)
EBBEN = Source("Ebben WP et al. J Strength Cond Res 2011;25(10):2891-2894")

#: The share of body mass of a segment; of those with two sides, of one.
SEGMENTS = [
    (Segment.HAND, 0.006),
    (Segment.FOREARM, 0.016),
    (Segment.UPPER_ARM, 0.028),
    (Segment.FOOT, 0.0145),
    (Segment.LOWER_LEG, 0.0465),
    (Segment.THIGH, 0.100),
    (Segment.HEAD_AND_NECK, 0.081),
    (Segment.TRUNK, 0.497),
]
ARM = (Segment.HAND, Segment.FOREARM, Segment.UPPER_ARM)
LEG = (Segment.FOOT, Segment.LOWER_LEG, Segment.THIGH)
#: The same source's own sums of segments.
SUMS = [
    ("forearm and hand", (Segment.FOREARM, Segment.HAND), 0.022),
    ("arm", ARM, 0.050),
    ("foot and lower leg", (Segment.FOOT, Segment.LOWER_LEG), 0.061),
    ("leg", LEG, 0.161),
    ("trunk, head and neck", (Segment.TRUNK, Segment.HEAD_AND_NECK), 0.578),
    ("head, arms and trunk", (Segment.TRUNK, Segment.HEAD_AND_NECK, *ARM, *ARM), 0.678),
]


@against(
    Check("K7", "segment's share of body mass", f"{segment}", segment, share, WINTER, C2, "segment masses", 1e-9)
    for segment, share in SEGMENTS
)  # fmt: skip
def test_k7_segments_weigh_what_the_table_says(given: Segment) -> Decimal:
    return SHARES[given]


@against(
    Check("K7", "share of several segments", what, segments, share, WINTER, C2, "sums of segments", 1e-9)
    for what, segments, share in SUMS
)  # fmt: skip
def test_k7_the_sums_of_segments_are_those_that_the_table_gives(given: tuple[Segment, ...]) -> Decimal:
    return 1 - share_moved(given)


#: What stays on the floor or at the bar, and the share that moves.
MOVES = [
    ("squat", (Segment.FOOT, Segment.LOWER_LEG) * 2, 0.878),
    ("one-leg-chair-squat", (Segment.FOOT, Segment.LOWER_LEG), 0.939),
    ("heel-raise", (Segment.FOOT,) * 2, 0.971),
    ("one-leg-heel-raise", (Segment.FOOT,), 0.9855),
    ("pull-up", (Segment.FOREARM, Segment.HAND) * 2, 0.956),
]


@against(
    Check("K7", "share of the body that a rep moves", slug, (slug, still), share, WINTER, CALC, "share moved", 1e-9)
    for slug, still, share in MOVES
)  # fmt: skip
def test_k7_the_share_moved_is_the_rest_of_the_body(given: tuple[str, tuple[Segment, ...]]) -> Decimal:
    slug, still = given
    assert entries()[slug].body_mass_share == share_moved(still)
    return share_moved(still)


@against(
    Check("K7", "effective load of 70 kg with 16 kg", slug, share, 16 + 70 * share, WINTER, CALC, "effective load",
          tolerance=0.005)
    for slug, _still, share in MOVES
)  # fmt: skip
def test_k7_effective_load_adds_the_share_of_the_body(given: float) -> Decimal:
    found = effective_load(Decimal(16), body_mass_kg=Decimal(70), share=Decimal(str(given)), under_18=False)
    assert isinstance(found, EffectiveLoad)
    return found.kg


@against(
    Check("K7", "share of body mass on the hands", slug, slug, share, EBBEN, M, "push-ups", 1e-9)
    for slug, share in (("knee-push-up", 0.49), ("push-up", 0.64), ("feet-raised-push-up", 0.70))
)  # fmt: skip
def test_k7_push_ups_take_the_measured_share(given: str) -> Decimal:
    share = entries()[given].body_mass_share
    assert share is not None
    found = effective_load(Decimal(0), body_mass_kg=Decimal(100), share=share, under_18=False)
    assert isinstance(found, EffectiveLoad)
    return found.kg / 100
