"""S3, S4 and D1 against the position statements that they name. What is this project's own choice is tested with the
rules, not here."""

from programs.engine.facts import Growth
from programs.engine.session import warm_up_minutes
from programs.engine.strength import age_limits
from tests.engine.samples import rider
from tests.reference.checks import Between, Check, Confidence, Source, against
from tests.reference.sources import LLOYD, NSCA_OLDER, NSCA_YOUTH, UK_CMO, WHO_2020

C2, M = Confidence.C2, Confidence.M
YOUNG, OLD = range(12, 18), range(65, 81)


def limit(rule: str, name: str, ages: range, value: object, source: Source, how: Confidence) -> Check:
    inputs = f"{name}, {ages[0]} to {ages[-1]}"
    return Check(
        rule, f"limits: {name}", inputs, (name, ages), value, source, how, f"limits of {source.cite}"
    )


@against(
    limit("S3", "min_reps", YOUNG, {6}, NSCA_YOUTH, M),
    limit("S3", "max_reps", YOUNG, {15}, NSCA_YOUTH, M),
    limit("S3", "max_sets", YOUNG, {3}, NSCA_YOUTH, M),
    limit("S3", "max_days", YOUNG, {3}, NSCA_YOUTH, M),
    limit("S3", "agreed_above_percent", YOUNG, {10}, NSCA_YOUTH, M),
    limit("S3", "max_days", YOUNG, {3}, LLOYD, C2),
    limit("S4", "min_rest_s", OLD, {120}, NSCA_OLDER, C2),
    limit("S4", "max_days", OLD, {3}, NSCA_OLDER, C2),
    limit("S4", "balance_each_session", OLD, {True}, WHO_2020, C2),
    limit("S4", "balance_each_session", OLD, {True}, UK_CMO, C2),
)
def test_s3_s4_the_limits_are_those_of_the_statement(given: tuple[str, range]) -> set[object]:
    """The values that a limit takes over the ages that the statement is about, a rider who is not in a growth spurt."""
    name, ages = given
    return {getattr(age_limits(rider(age, growth=Growth.NO)), name) for age in ages}


@against(
    Check("S4", "whether balance work belongs to each session", f"at {age}", age, asked, WHO_2020, C2,
          "balance from 65")
    for age, asked in ((18, False), (64, False), (65, True))
)  # fmt: skip
def test_s4_the_who_border_is_at_65(given: int) -> bool:
    return age_limits(rider(given)).balance_each_session


@against(
    Check(
        "S3", "whether the limits for the young hold", f"at {age}", age, young, WHO_2020, C2, "adults from 18"
    )
    for age, young in ((17, True), (18, False))
)
def test_s3_an_adult_is_18_and_older_as_the_who_counts(given: int) -> bool:
    """The UK's guidelines put 18-year-olds with the young; the WHO's, which stand here, with the adults."""
    return age_limits(rider(given)).under_18


@against(
    Check("D1", "minutes of a warm-up", f"asked for {asked}", asked, Between(5, 10), NSCA_YOUTH, M, "warm-up")
    for asked in (0, 3, 8, 25)
)
def test_d1_a_warm_up_takes_5_to_10_minutes_whatever_is_asked_for(given: int) -> int:
    return warm_up_minutes(given)
