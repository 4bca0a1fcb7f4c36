"""What was asked for and what was done, in the words that the desk's tables share."""

from django.utils.translation import gettext as _

from programs import wording
from programs.engine import facts as engine
from programs.engine.quantities import Unit


def asked_words(target: engine.Target, unit: Unit) -> str:
    """Sets, reps or seconds, and the load: ``3 x 8 at 12 kg``."""
    words = wording.amount_words(target.measure, target.sets, target.amount)
    return words if target.load is None else f"{words} {_at(target.load, unit)}"


def done_words(exposure: engine.Exposure, unit: Unit) -> str:
    """What was done set by set, with the load where it was another than asked for: ``8, 8, 7``."""
    done = exposure.done
    if done is None:
        return _("not known")
    if done.amounts is not None:
        words = ", ".join(str(amount) for amount in done.amounts)
    elif done.left_amounts is not None or done.right_amounts is not None:
        words = _("left {left}; right {right}").format(
            left=", ".join(map(str, done.left_amounts or ())) or "–",
            right=", ".join(map(str, done.right_amounts or ())) or "–",
        )
    else:
        words = _("not known")
    if done.load is not None and done.load != exposure.target.load:
        words = f"{words} {_at(done.load, unit)}"
    return _("{words}, out of time").format(words=words) if done.out_of_time else words


def left_words(count: int | None) -> str:
    """Good reps left; a dash where they are not known."""
    if count is None:
        return "–"
    return _("4 or more") if count >= 4 else str(count)


def _at(load: engine.Load, unit: Unit) -> str:
    return _("at {load}").format(load=wording.load_words(load, unit))
