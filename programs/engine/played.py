"""What came of a season that was lived before it happened: frozen values, one rider and one week at a time."""

from decimal import Decimal

from athletes.concerns import Topic
from athletes.values import value_class
from athletes.vocabulary import Pattern
from programs.engine.facts import Measure, Phase, Week


@value_class
class Lift:
    """A main exercise in one week, as asked in its last session: `kg` is the external mass in all, None for body weight
    and bands. `is_done` says whether all that was asked of it in the week was done, as far as was told."""

    pattern: Pattern
    exercise: str
    measure: Measure
    sets: int
    amount: int
    kg: Decimal | None = None
    band: int | None = None
    is_done: bool = False


@value_class
class Broken:
    """A safety property that a plan broke: which, and the key and figures of the reason."""

    id: str
    key: str
    figures: str
    is_refusing: bool


@value_class
class PlayedWeek:
    """One rider's week. `asked` counts the sessions of the plan, of which some were `done`, `not_done` (and told so) or
    passed over in silence, and some were called off by what was reported (`called_off`). `minutes` are those planned,
    `room` those that the rider had for them. `sets` and `sets_done` are by pattern. `follow_ups` are those opened."""

    week: Week
    phase: Phase
    is_light: bool
    asked: int = 0
    done: int = 0
    not_done: int = 0
    silent: int = 0
    called_off: int = 0
    minutes: int = 0
    room: int = 0
    sets: tuple[tuple[Pattern, int], ...] = ()
    sets_done: tuple[tuple[Pattern, int], ...] = ()
    lifts: tuple[Lift, ...] = ()
    follow_ups: tuple[Topic, ...] = ()
    broken: tuple[Broken, ...] = ()


@value_class
class PlayedSeason:
    """One synthetic rider's season. `age` in years, `venue` where most openings are."""

    number: int
    age: int
    weeks: tuple[PlayedWeek, ...]
