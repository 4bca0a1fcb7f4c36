"""The weekly loop: library, programs, weeks, check-ins."""

from programs.models.checkins import CheckIn, CheckInVersion, ItemReport
from programs.models.handbooks import Handbook
from programs.models.library import ClubExercise, ClubLibrary, Exercise, LibraryVersion, ShippedExercise
from programs.models.programs import Block, Program, SessionTemplate, Slot
from programs.models.weeks import Decision, LevelMove, PlannedItem, PlannedSession, SessionKey, WeekPlan

__all__ = [
    "Block",
    "CheckIn",
    "CheckInVersion",
    "ClubExercise",
    "ClubLibrary",
    "Decision",
    "Exercise",
    "Handbook",
    "ItemReport",
    "LevelMove",
    "LibraryVersion",
    "PlannedItem",
    "PlannedSession",
    "Program",
    "SessionKey",
    "SessionTemplate",
    "ShippedExercise",
    "Slot",
    "WeekPlan",
]
