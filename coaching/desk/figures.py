"""What the figures of a reason are called when they are listed beside its sentence, and how their values read."""

import re
from collections.abc import Mapping
from datetime import date
from enum import Enum

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes import words
from athletes.concerns import Event, Outcome, Sign, Symptom
from athletes.vocabulary import Figure, Muscle, Pattern, Region, Side
from programs import wording
from programs.models import Block

NAMES = {
    "all": gettext_lazy("of all"),
    "all_sets": gettext_lazy("sets in all"),
    "amount": gettext_lazy("reps or seconds"),
    "asked": gettext_lazy("sessions asked for"),
    "attempts": gettext_lazy("tries"),
    "attended": gettext_lazy("attended, in %"),
    "code": gettext_lazy("the mail server's answer"),
    "count": gettext_lazy("how many"),
    "days": gettext_lazy("days"),
    "done": gettext_lazy("sessions done"),
    "during": gettext_lazy("pain during, of 10"),
    "event": gettext_lazy("event"),
    "exercise": gettext_lazy("exercise"),
    "exposures": gettext_lazy("times trained"),
    "fewer": gettext_lazy("sets fewer"),
    "from": gettext_lazy("from"),
    "from_kg": gettext_lazy("from, in kg"),
    "from_on": gettext_lazy("from the day"),
    "from_sets": gettext_lazy("from sets"),
    "high": gettext_lazy("most"),
    "hours": gettext_lazy("hours"),
    "intent": gettext_lazy("intent of the block"),
    "kg": gettext_lazy("kg"),
    "last_on": gettext_lazy("last planned on"),
    "least": gettext_lazy("least minutes"),
    "levels": gettext_lazy("levels"),
    "limit": gettext_lazy("limit, of 10"),
    "low": gettext_lazy("least"),
    "lowest": gettext_lazy("lowest before, of 10"),
    "minutes": gettext_lazy("minutes"),
    "misses": gettext_lazy("misses in a row"),
    "months": gettext_lazy("months"),
    "morning": gettext_lazy("pain next morning, of 10"),
    "most": gettext_lazy("at most"),
    "muscle": gettext_lazy("muscle"),
    "name": gettext_lazy("name"),
    "needed": gettext_lazy("needed"),
    "on": gettext_lazy("on"),
    "ordinal": gettext_lazy("session"),
    "outcome": gettext_lazy("outcome"),
    "over_on": gettext_lazy("over on"),
    "pattern": gettext_lazy("movement pattern"),
    "percent": gettext_lazy("per cent"),
    "placed": gettext_lazy("sessions that fit"),
    "points": gettext_lazy("points of the days chosen"),
    "question": gettext_lazy("question"),
    "race": gettext_lazy("race"),
    "reached": gettext_lazy("reached"),
    "region": gettext_lazy("body region"),
    "reps_left": gettext_lazy("good reps left"),
    "rest_s": gettext_lazy("rest in seconds"),
    "riders": gettext_lazy("riders"),
    "rise": gettext_lazy("more a week, at most"),
    "rpe": gettext_lazy("session RPE"),
    "runner_up": gettext_lazy("points of the next best"),
    "score": gettext_lazy("pain, of 10"),
    "sessions": gettext_lazy("sessions"),
    "sets": gettext_lazy("sets"),
    "side": gettext_lazy("side"),
    "signs": gettext_lazy("signs"),
    "since": gettext_lazy("since"),
    "symptom": gettext_lazy("symptom"),
    "times": gettext_lazy("times in a row"),
    "to": gettext_lazy("to"),
    "to_kg": gettext_lazy("to, in kg"),
    "to_on": gettext_lazy("to the day"),
    "to_sets": gettext_lazy("to sets"),
    "top": gettext_lazy("end of the range"),
    "until": gettext_lazy("until"),
    "used": gettext_lazy("used instead"),
    "usual": gettext_lazy("usual"),
    "venue": gettext_lazy("place"),
    "wanted": gettext_lazy("wanted"),
    "week": gettext_lazy("week"),
    "weeks": gettext_lazy("weeks"),
    "would_place": gettext_lazy("sessions that would fit"),
    "written": gettext_lazy("sessions written"),
}
#: Figures whose values are members of a vocabulary, one or several.
_VOCABULARIES: dict[str, type[Enum]] = {
    "event": Event,
    "muscle": Muscle,
    "outcome": Outcome,
    "pattern": Pattern,
    "region": Region,
    "side": Side,
    "signs": Sign,
    "symptom": Symptom,
}


def name_of(figure: str) -> str:
    """What a figure is called. One that has no name yet is called as the rule calls it."""
    return str(NAMES.get(figure, figure.replace("_", " ")))


def value_of(figure: str, value: Figure, names: Mapping[str, str]) -> str:
    """How the value of a figure reads. `names` gives exercises their names by slug."""
    if value is None:
        return _("not known")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    text = str(value)
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return wording.day_words(date.fromisoformat(text))
    if figure == "intent" and text in Block.Intent.values:
        return str(Block.Intent(text).label)
    if figure in _VOCABULARIES:
        return ", ".join(_member_words(_VOCABULARIES[figure], part) for part in text.split(", "))
    return names.get(text, text)


def _member_words(vocabulary: type[Enum], stored: str) -> str:
    try:
        return str(words.label(vocabulary(stored)))
    except ValueError:
        return stored
