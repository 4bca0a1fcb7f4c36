"""Who does power work, and how it rises (rules S2, S3, S4, T1, P1 to P3, P12; all of it ours).

Power is few reps, each one quick. It ends with its speed, never with tiredness.

S2  What is not for beginners waits until the rider is *practised* in the sense of P12: 24 weeks with a session since
    the last break of 56 days. The quick rises at the bottom of the family are for anyone who may train.
S3  In a growth spurt none of what is not for beginners.
S4  From 65 none of it either: the quick rises stay.
T1  With a pain of 3 or more, soreness or an illness that bears on what it loads there is no power work, not even the
    same again: repeating is for work that can be done slowly.
P1  Reps end where the exercise ends, at 8: the library lets none end later. One rep at a time, and 4 good reps are
    left.
P2  A load step asks for what it always asks for. Few steps are so small, so most loads come over the bridge.
P3  The bridge has neither a slower lowering nor an extra set: slow reps are not power, and more are not quick.
P12 Its sets count as hard sets, each for half a set of its muscles, as the library has them.
"""

from athletes.concerns import Gate
from athletes.vocabulary import Pattern, Reason
from programs.engine.facts import Exercise

#: Good reps left in every set of power, once it is learned.
POWER_REPS_LEFT = 4

REASONS: dict[str, str] = {
    "power-sore": "{exercise} is quick work, and waits while anything that it loads is sore or somebody is ill.",
    "power-growth": "{exercise} is not for a growth spurt.",
    "power-from-65": "From 65 power stays with quick rises, so {exercise} is left out.",
    "power-practised": "{exercise} is for riders who have trained for {weeks} weeks.",
}


def is_power(exercise: Exercise) -> bool:
    """Whether it is power work."""
    return exercise.pattern is Pattern.POWER


def why_no_power(
    exercise: Exercise, *, gate: Gate, practised: bool, growing: bool, from_65: bool, weeks: int = 24
) -> Reason | None:
    """Why an exercise of the power family may not be done now, if it may not; `gate` is that of what it loads, `weeks`
    how many make a rider practised."""
    figures: dict[str, str | int | bool | None] = {"exercise": exercise.slug}
    if gate > Gate.FREE:
        return Reason("T1", "power-sore", figures)
    if exercise.for_beginners:
        return None
    if growing:
        return Reason("S3", "power-growth", figures)
    if from_65:
        return Reason("S4", "power-from-65", figures)
    return None if practised else Reason("S2", "power-practised", {**figures, "weeks": weeks})
