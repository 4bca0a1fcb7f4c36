"""What a rider is told about a reason, by the reason's key; whoever coaches reads the engine's own sentence instead.

Only reasons that say something to a rider about the week or a target stand here. Nothing here is about health:
those reasons have one wording for everybody who may not read them, in `programs/wording.py`.
"""

from django.utils.translation import gettext_noop as _

RIDER: dict[str, str] = {
    # the week
    "no-block": _("No strength is planned for this week."),
    "rest-for-absence": _("{days} days away: a rest week."),
    "phase-of-block": _("Week {week} of {weeks} of this block: {intent}."),
    "phase-learn": _("{done} of {needed} sessions of learning done: form first."),
    "phase-learn-again": _("{days} days away, so the movements are learned again: light, form first."),
    "phase-return": _("{days} days away: week {week} of coming back, lighter than before."),
    "phase-race-week": _("Race week, {race}: one short session."),
    "phase-taper": _("{race} is near: the same loads, fewer sets."),
    "phase-maintain": _("Racing time: one session keeps what you have built."),
    "phase-maintain-block": _("One session keeps what you have built."),
    "light-fourth-week": _("A light week: fewer sets, the same loads."),
    "one-for-bike-hours": _("{hours} h on the bike against your usual {usual} h: one session this week."),
    "one-for-race": _("A race this week, {race}: one session."),
    "rebuild-lighter": _("A new season begins: {percent} % less load to start with."),
    "third-session": _("{attended} % of sessions done in {weeks} weeks: a third session this week."),
    "dropped-for-absence": _("{placed} of {asked} sessions: you are away."),
    "dropped-for-past": _("{placed} of {asked} sessions: the other days have passed."),
    "dropped-for-short-time": _(
        "{placed} of {asked} sessions: some of your times are shorter than {least} minutes."
    ),
    "dropped-for-ride": _("{placed} of {asked} sessions: a ride takes the time."),
    "dropped-for-race": _("{placed} of {asked} sessions: a race is near."),
    "dropped-for-spacing": _("{placed} of {asked} sessions: there is one clear day between sessions."),
    "dropped-for-race-cap": _("{placed} of {asked} sessions: one at most in the last days before the race."),
    "dropped-for-openings": _("{placed} of {asked} sessions: too few of your times are free."),
    "dropped-for-several": _("{placed} of {asked} sessions fit this week."),
    "session-shifted": _("Session {ordinal} moves from {from_on} to {to_on}."),
    "session-lost-to-shift": _("Session {ordinal} of {from_on} is left out: no other day fits."),
    # exercises
    "kit-missing": _("{exercise} needs kit that is not there."),
    "easier-used": _("{used} stands in for {wanted}."),
    "opened-used": _("{used} stands in for {wanted}: you met what it asks for."),
    "sibling-used": _("{used} stands in for {wanted}."),
    "no-barbell-alone": _("{exercise} with a barbell is left out: you train alone and without safeties."),
    "sets-dropped-for-time": _("{to_sets} sets instead of {from_sets}, to fit {minutes} minutes."),
    "exercise-dropped-for-time": _("One exercise fewer, to fit {minutes} minutes."),
    "enough-sets": _("{to_sets} sets instead of {from_sets}: enough for the {muscle} this week."),
    "sets-rise-slowly": _(
        "{to_sets} sets instead of {from_sets}: sets for the {muscle} rise by {rise} a week."
    ),
    # targets
    "new-exercise": _("New: {sets} sets of {amount}. Leave {reps_left} good reps."),
    "new-implement": _("Held another way than before: {sets} sets of {amount}. Leave {reps_left} good reps."),
    "program-sets": _("{to_sets} sets instead of {from_sets}, as your program asks."),
    "new-hold": _("New: {sets} sets of {amount}, each ended well before it gets hard."),
    "eased-in": _("Back to your usual work after lighter sessions."),
    "new-implement-hold": _("Held another way than before: {sets} sets of {amount}."),
    "reps-up": _("All sets at {from} with good reps left: {to} now."),
    "time-up": _("All sets held {from} s: {to} s now."),
    "set-up": _("All sets at {amount} with good reps left: {sets} sets now."),
    "load-up": _("{reached} reached {times} sessions in a row: {to_kg} kg now, from {amount} reps."),
    "load-up-unmeasured": _("{reached} reached {times} sessions in a row: {to_kg} now, from {amount} reps."),
    "reps-on": _("All sets at {from} with good reps left: {to} now, as the next load is still far."),
    "extra-set": _("{sets} sets, one more than before, as nothing heavier is near."),
    "load-out-of-reach": _("{to_kg} kg, as {from_kg} kg is not there."),
    "back-to-done": _("Back to {amount}, as many as you did."),
    "rebuild-load": _("First time since the race: {to_kg} kg instead of {from_kg} kg."),
    "rebuild-reps": _("First time since the race: {to} instead of {from}."),
    "first-load": _(
        "{reached} reached {times} sessions in a row: a first load of {to_kg} kg, from {amount} reps."
    ),
    "bridge-set": _("{sets} of {all_sets} sets at {to_kg} kg, the others as before."),
    "bridge-crossed": _("All {sets} sets at {to_kg} kg now."),
    "slower": _("{reached} reached: the same load, lowered in {to} s."),
    "harder-level": _("A level up from {exercise}: you met what it asks for."),
    "missed-once": _("Missed once: the same again."),
    "back-to-achieved": _("Back to {amount}, the last that you did in full."),
    "one-load-down": _("From {from_kg} kg down to {to_kg} kg, to build up again."),
    "level-down": _("A level down, to build up again."),
    "before-race": _("{percent} % fewer sets before the race, the same load."),
    "light-week-amount": _("Light week: {fewer} fewer each, the same load."),
    "light-week-sets": _("Light week: {to_sets} sets instead of {from_sets}, the same load."),
    "light-week": _("Light week: {to_sets} sets instead of {from_sets}, the same load."),
    "maintain": _("{sets} sets keep what you have built."),
    "away-repeat": _("{days} days since this was last trained: the same again."),
    "away-load": _("{days} days away: {to_kg} kg instead of {from_kg} kg."),
    "away-volume": _("{days} days away, week {week} back: {sets} sets of {amount}."),
    "away-first-week": _("{days} days away: {sets} sets of {amount} in the first week back."),
    "away-cautious": _("First two weeks back: at most {sets} sets of {amount}."),
    "away-no-lighter": _("{days} days away: lighter than {from_kg} kg is not there, so something easier."),
    "session-enough-sets": _("{to_sets} sets instead of {from_sets}: enough for one session."),
    "away-learn-again": _("{days} days away: learned again from the start."),
    "not-known": _("What you did last time is not known: the same again. Check in afterwards."),
    "effort-unknown": _("How hard it was is not known: the same again. Check in afterwards."),
    "set-up-hold": _("All sets held {amount} with some to spare: {sets} sets now."),
    "held-no-longer": _("It could not have been held longer: the same again."),
    "few-left": _("{reps_left} good reps left: the same again."),
    "session-was-hard": _("Session RPE {rpe}: the same again."),
}
