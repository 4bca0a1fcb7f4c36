"""A finding: what one rule says of one site, before it is known whether one side or both are meant. Pure."""

from athletes.concerns import BodyReport, Gate
from athletes.values import value_class
from athletes.vocabulary import Figure, Reason, Region, Side


@value_class
class Finding:
    """A gate with the rule, the key of its sentence and the figures that caused it, as sorted pairs."""

    gate: Gate
    rule: str
    key: str
    figures: tuple[tuple[str, Figure], ...] = ()

    def reason(self, region: Region, side: Side) -> Reason:
        """The finding as a reason about `region` and `side`."""
        return Reason(self.rule, self.key, {"region": region.value, "side": side.value, **dict(self.figures)})


def peak_of(report: BodyReport) -> int | None:
    """The higher of the scores that were answered, `None` when neither was (H3)."""
    return higher(report.during, report.next_morning)


def higher(one: int | None, other: int | None) -> int | None:
    """The higher of two scores, either of which may be unknown."""
    known = [score for score in (one, other) if score is not None]
    return max(known) if known else None
