"""Where a rider stands in each movement pattern: placed by the movement check, moved by plans, set by a coach."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from athletes import profiles
from athletes.access import name_of, record
from athletes.models import Coach, Rider, Venue
from programs import facts as translator
from programs import relief
from programs.engine.facts import CheckResult
from programs.engine.strength import start_levels
from programs.models import LevelMove


@transaction.atomic
def place(
    *, rider: Rider, results: Mapping[str, CheckResult], checked_by: str, by: Coach, now: datetime
) -> list[LevelMove]:
    """Records a movement check, exercise by exercise, and starts each pattern at the level it earned (S5).

    Patterns that the check asks nothing about stay where they are. A week that waits is worked out again. Returns the
    levels that were set. Raises `pain.ConsentMissing`.
    """
    today = now.astimezone(translator.zone_of(rider, rider.club)).date()
    profiles.record_movement_check(
        rider=rider,
        results={exercise: result.value for exercise, result in results.items()},
        on=today,
        checked_by=checked_by,
        by=by,
        now=now,
    )
    library = translator.current_library()
    asked = {exercise.pattern for exercise in library.exercises if exercise.slug in results}
    # where the rider trains decides between exercises of one level
    venues = Venue.objects.filter(openings__rider=rider).prefetch_related("items").distinct()
    levels, _reasons = start_levels(library, results, [translator.kit_of(venue) for venue in venues])
    moves = LevelMove.objects.bulk_create(
        LevelMove(
            club_id=rider.club_id,
            rider=rider,
            pattern=pattern.value,
            exercise_id=exercise,
            since_on=today,
            why=LevelMove.Why.CHECK,
        )
        for pattern, exercise in levels.items()
        if pattern in asked
    )
    record("levels.place", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, count=len(moves))
    relief.refresh_waiting(rider=rider, by=by, now=now)
    return moves


@transaction.atomic
def set_level(*, rider: Rider, exercise: str, by: Coach, now: datetime) -> LevelMove:
    """Sets the rider's level in the exercise's pattern, from today on. Raises `LookupError` for an unknown exercise."""
    found = next((one for one in translator.current_library().exercises if one.slug == exercise), None)
    if found is None:
        raise LookupError(exercise)
    today = now.astimezone(translator.zone_of(rider, rider.club)).date()
    record("levels.set", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, subject=exercise)
    return LevelMove.objects.create(
        club_id=rider.club_id,
        rider=rider,
        pattern=found.pattern.value,
        exercise_id=exercise,
        since_on=today,
        why=LevelMove.Why.COACH,
    )
