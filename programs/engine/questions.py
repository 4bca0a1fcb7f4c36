"""The questions that can be put to the engine from outside, each with the document it takes and the one it gives.

Whoever has a question's document gets the same answer as the project itself does, so a decision can be reproduced,
shared in a bug report or compared with another program's.

>>> asked = {"kit": {"bands": [2, 1]}, "holding": {"implement": "band"}}
>>> [load["band"] for load in answer("reachable-loads", asked)["answer"]["loads"]]
[1, 2]
"""

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from athletes.concerns import Baseline, BodyReport, BodyState, Matter, SymptomReport
from athletes.screening import AdultAnswers, ScreeningDecision, YoungAnswers, screen_adult, screen_young
from athletes.triage import assess
from athletes.values import value_class
from programs.engine.codec import FactsError, Json, digest, from_document, to_document
from programs.engine.effective_load import EffectiveLoad, effective_load
from programs.engine.estimates import Estimate, RepLoad, Withheld, estimate, rep_loads
from programs.engine.explain import WeekExplanation, explain
from programs.engine.facts import (
    ENGINE,
    SCHEMA,
    Absence,
    Exercise,
    Format,
    Holding,
    Kit,
    LeftOut,
    Library,
    Load,
    Race,
    Target,
    TargetDecision,
    Week,
    WeekDecision,
    WeekFacts,
)
from programs.engine.families import UnknownExerciseError
from programs.engine.kit import reachable_loads
from programs.engine.monitoring import Monitoring, MonitorQuestion, monitor
from programs.engine.prices import PricedPlacement, priced
from programs.engine.progression import next_target
from programs.engine.resolve import resolve_week
from programs.engine.returning import LayoffQuestion, Return, weeks_back
from programs.engine.schema import answer_shape, shape_of
from programs.engine.session import session_minutes
from programs.engine.spots import PlaceFacts
from programs.engine.target_facts import TargetFacts
from programs.engine.year import LEARNING_WEEKS, LaidWeek, lay_out


@value_class
class KitQuestion:
    """Which loads can be set up for a holding with this kit (K1 to K6)."""

    kit: Kit
    holding: Holding


@value_class
class KitAnswer:
    """The reachable loads, lightest first."""

    loads: tuple[Load, ...]


@value_class
class MinutesQuestion:
    """How long a session takes: its exercises with their targets, its format, its warm-up and cool-down (D1, D2)."""

    work: tuple[tuple[Exercise, Target], ...]
    format: Format = Format.STRAIGHT
    warm_up_minutes: int = 0
    cool_down_minutes: int = 0


@value_class
class MinutesAnswer:
    """Whole minutes, rounded up."""

    minutes: int


@value_class
class PainQuestion:
    """What the reports of a rider's body mean on a day (T1 to T5)."""

    on: date
    under_18: bool
    reports: tuple[BodyReport, ...] = ()
    symptoms: tuple[SymptomReport, ...] = ()
    matters: tuple[Matter, ...] = ()
    baselines: tuple[Baseline, ...] = ()
    sessions_done: tuple[date, ...] = ()


@value_class
class ScreeningQuestion:
    """What the answers to the health screening ask for (S1): either an adult's, or those about an under-18."""

    on: date
    adult: AdultAnswers | None = None
    young: YoungAnswers | None = None
    by_guardian: bool = False


@value_class
class WeekQuestion:
    """What a rider does in a week, and why: all that decides it, and the exercise library."""

    facts: WeekFacts
    library: Library


@value_class
class SeasonQuestion:
    """What a year is laid out from: its races and absences, from the week `first` to the week `last`, both included.

    `learning_weeks` are still to come at the start; `weeks_at_two` is how many weeks at two sessions are done already.
    """

    first: Week
    last: Week
    races: tuple[Race, ...] = ()
    absences: tuple[Absence, ...] = ()
    learning_weeks: int = LEARNING_WEEKS
    weeks_at_two: int = 0


@value_class
class SeasonAnswer:
    """The weeks in order, each with its one phase and why."""

    weeks: tuple[LaidWeek, ...]


@value_class
class MaximumQuestion:
    """A set to estimate a maximum from: `reps` at `kg`, with `reps_left` more that could have been done well.

    `under_18` must be said, since nothing is estimated then. `is_sore` says that the exercise loads a sore site.
    """

    kg: Decimal
    reps: int
    under_18: bool
    reps_left: int = 0
    is_sore: bool = False


@value_class
class MaximumAnswer:
    """The estimate, and the `loads` that go with 1 to 10 reps of it: to read, not to train by."""

    estimate: Estimate
    loads: tuple[RepLoad, ...]


@value_class
class EffectiveLoadQuestion:
    """An external load and the share of the body that moves with it (K7).

    `under_18` must be said, since body mass is not used then. `share` is that of the exercise, from 0 to 1.
    """

    under_18: bool
    body_mass_kg: Decimal
    share: Decimal
    external_kg: Decimal = Decimal(0)


@value_class
class Question:
    """One kind of question: what it is about, the type of its document, the types an answer may have, and the rule."""

    about: str
    takes: type
    gives: tuple[type, ...]
    rule: Callable[[Any], object]


class QuestionError(ValueError):
    """The question cannot be answered as it was put; the text says why in one line."""


def _loads(asked: KitQuestion) -> KitAnswer:
    return KitAnswer(reachable_loads(asked.kit, asked.holding))


def _minutes(asked: MinutesQuestion) -> MinutesAnswer:
    minutes = session_minutes(
        asked.work, asked.format, warm_up=asked.warm_up_minutes, cool_down=asked.cool_down_minutes
    )
    return MinutesAnswer(minutes)


def _pain(asked: PainQuestion) -> BodyState:
    return assess(
        asked.reports,
        asked.symptoms,
        asked.matters,
        asked.baselines,
        on=asked.on,
        under_18=asked.under_18,
        sessions_done=asked.sessions_done,
    )


def _screening(asked: ScreeningQuestion) -> ScreeningDecision:
    if asked.adult is not None and asked.young is None:
        return screen_adult(asked.adult, on=asked.on)
    if asked.young is not None and asked.adult is None:
        return screen_young(asked.young, by_guardian=asked.by_guardian, on=asked.on)
    raise ValueError("give the answers of either an adult or a young rider, and not both")


def _explain(asked: WeekQuestion) -> WeekExplanation:
    return explain(asked.facts, asked.library)


def _week(asked: WeekQuestion) -> WeekDecision:
    return resolve_week(asked.facts, asked.library)


def _season(asked: SeasonQuestion) -> SeasonAnswer:
    laid = lay_out(
        races=asked.races,
        first=asked.first,
        last=asked.last,
        absences=asked.absences,
        learning_weeks=asked.learning_weeks,
        weeks_at_two=asked.weeks_at_two,
    )
    return SeasonAnswer(laid)


def _maximum(asked: MaximumQuestion) -> MaximumAnswer | Withheld:
    found = estimate(
        asked.kg, asked.reps, under_18=asked.under_18, reps_left=asked.reps_left, is_sore=asked.is_sore
    )
    return found if isinstance(found, Withheld) else MaximumAnswer(found, rep_loads(found.kg))


def _effective_load(asked: EffectiveLoadQuestion) -> EffectiveLoad | Withheld:
    return effective_load(
        asked.external_kg, body_mass_kg=asked.body_mass_kg, share=asked.share, under_18=asked.under_18
    )


QUESTIONS: Mapping[str, Question] = {
    "week": Question(
        "a rider's week: days, exercises, targets and why", WeekQuestion, (WeekDecision,), _week
    ),
    "explain": Question(
        "why a rider's week is as it is: for each target the inputs, the alternatives and what stood against each",
        WeekQuestion,
        (WeekExplanation,),
        _explain,
    ),
    "next-target": Question(
        "the next target of one exercise, and why", TargetFacts, (TargetDecision, LeftOut), next_target
    ),
    "place": Question(
        "where the sessions of a week stand, at what cost, and what each constraint and each day costs",
        PlaceFacts,
        (PricedPlacement,),
        priced,
    ),
    "reachable-loads": Question("which loads a kit can be set up for", KitQuestion, (KitAnswer,), _loads),
    "session-minutes": Question("how long a session takes", MinutesQuestion, (MinutesAnswer,), _minutes),
    "pain": Question("what pain reports and symptoms allow on a day", PainQuestion, (BodyState,), _pain),
    "health-screening": Question(
        "what the answers to the health screening ask for",
        ScreeningQuestion,
        (ScreeningDecision,),
        _screening,
    ),
    "season": Question(
        "the year laid out from its races: each week's phase, and why",
        SeasonQuestion,
        (SeasonAnswer,),
        _season,
    ),
    "one-rep-max": Question(
        "a maximum estimated by seven published formulas and the handbook's table, with the spread; for reading only",
        MaximumQuestion,
        (MaximumAnswer, Withheld),
        _maximum,
    ),
    "effective-load": Question(
        "what one rep moves, the share of the body counted in; for reading only",
        EffectiveLoadQuestion,
        (EffectiveLoad, Withheld),
        _effective_load,
    ),
    "monitor": Question(
        "session load, monotony and strain by week, missed sessions, trends, the best estimates and holds",
        MonitorQuestion,
        (Monitoring,),
        monitor,
    ),
    "return-after-layoff": Question(
        "what a break takes off load and volume, and the targets of the weeks back",
        LayoffQuestion,
        (Return,),
        weeks_back,
    ),
}


def answer(verb: str, document: object) -> dict[str, Json]:
    """The answer to a question, as a document that also names the rules' version and the digest of the facts.

    Raises `FactsError` when the document does not fit, and `QuestionError` when it fits but makes no sense, such as an
    exercise that the library lacks or a week that the year does not have.
    """
    question = QUESTIONS[verb]
    asked: Any = from_document(question.takes, document)
    try:
        given = question.rule(asked)
    except FactsError:
        raise
    except UnknownExerciseError as error:
        raise QuestionError(f"the library has no exercise named {error.args[0]!r}") from error
    except (ValueError, ArithmeticError) as error:
        raise QuestionError(str(error) or type(error).__name__) from error
    return {
        "question": verb,
        "engine": ENGINE,
        "schema": SCHEMA,
        "facts": digest(to_document(asked)),
        "kind": type(given).__name__,
        "answer": to_document(given),
    }


def shapes(verb: str) -> dict[str, Json]:
    """The JSON Schemas of a question's document and of each kind of its answer."""
    question = QUESTIONS[verb]
    return {
        "question": shape_of(question.takes),
        "answers": {kind.__name__: shape_of(kind) for kind in question.gives},
    }


def schema_files() -> dict[str, Json]:
    """Every schema by the name of its file: `VERB.json` of what a verb takes, `VERB.answer.json` of what it prints."""
    files: dict[str, Json] = {}
    for verb, question in QUESTIONS.items():
        title = f"What `python -m programs.engine {verb}` reads: {question.about}"
        files[f"{verb}.json"] = {"title": title, **shape_of(question.takes)}
        files[f"{verb}.answer.json"] = answer_shape(verb, question.gives, SCHEMA)
    return files
