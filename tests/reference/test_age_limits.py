"""S3 and S4 against the position statements that they name.

Tags: C2 seen in a page that restates the source; M from memory, not seen in a page, to be confirmed by a person. What
is this project's own choice is tested with the rules, not here.
"""

import pytest

from programs.engine.facts import Growth
from programs.engine.strength import age_limits
from tests.engine.samples import rider

#: Source, tag, ages that it covers, limit, value.
STATEMENTS = [
    ("NSCA 2009, Faigenbaum et al., J Strength Cond Res 23(5 Suppl):S60-S79", "M", (12, 17), "min_reps", 6),
    ("NSCA 2009, Faigenbaum et al., J Strength Cond Res 23(5 Suppl):S60-S79", "M", (12, 17), "max_reps", 15),
    ("NSCA 2009, Faigenbaum et al., J Strength Cond Res 23(5 Suppl):S60-S79", "M", (12, 17), "max_sets", 3),
    ("NSCA 2009, Faigenbaum et al., J Strength Cond Res 23(5 Suppl):S60-S79", "M", (12, 17), "max_days", 3),
    (
        "NSCA 2019, Fragala et al., J Strength Cond Res 33(8):2019-2052: 2 min rest",
        "C2",
        (65, 80),
        "min_rest_s",
        120,
    ),
    (
        "WHO 2020, Bull et al., Br J Sports Med 54:1451-1462: balance",
        "C2",
        (65, 80),
        "balance_each_session",
        True,
    ),
    (
        "NSCA 2019, Fragala et al., J Strength Cond Res 33(8):2019-2052: 2 to 3 days",
        "C2",
        (65, 80),
        "max_days",
        3,
    ),
]


@pytest.mark.parametrize(("source", "tag", "ages", "limit", "value"), STATEMENTS)
def test_s3_s4_the_limits_are_those_of_the_statement(
    source: str, tag: str, ages: tuple[int, int], limit: str, value: object
) -> None:
    for age in range(ages[0], ages[1] + 1):
        assert getattr(age_limits(rider(age, growth=Growth.NO)), limit) == value, (source, tag)


@pytest.mark.parametrize(("age", "balance"), [(18, False), (64, False), (65, True)])
def test_s4_the_who_border_is_at_65(age: int, balance: bool) -> None:
    # WHO 2020 (C2): multicomponent balance and strength training from 65.
    assert age_limits(rider(age)).balance_each_session is balance
