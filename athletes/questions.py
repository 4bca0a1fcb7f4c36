"""What riders and guardians are asked, and the scales they answer on. The words are this project's own.

Numbers are stored, words are not: session RPE is Borg's category-ratio scale as Foster used it for a whole session,
with anchors of our own, since printed anchors differ and belong to others. Repetitions in reserve are the trade's.
"""

from django.utils.translation import gettext_lazy as _

from athletes.concerns import Event, Sign, Symptom
from athletes.words import Words

# --- effort -----------------------------------------------------------------------------------------------------------

SESSION_RPE_QUESTION: Words = _("How hard was the whole session, from 0 to 10?")
SESSION_RPE_ANCHORS: dict[int, Words] = {
    0: _("no effort"),
    1: _("as good as none"),
    2: _("could have gone on for hours"),
    3: _("warm, and comfortable"),
    4: _("had to keep my mind on it"),
    5: _("proper work, with plenty in hand"),
    6: _("glad of every rest"),
    7: _("tough, and done as planned"),
    8: _("only just done as planned"),
    9: _("next to nothing in hand"),
    10: _("could not have done any more"),
}

REPS_LEFT_QUESTION: Words = _("In the last set, how many more good reps could you have done?")
REPS_LEFT_ANCHORS: dict[int, Words] = {
    0: _("none: no further rep would have been good"),
    1: _("1 more"),
    2: _("2 more"),
    3: _("3 more"),
    4: _("4 or more"),
}

HELD_LONGER_QUESTION: Words = _("Could you have held each set 5 s longer?")

# --- pain and soreness ------------------------------------------------------------------------------------------------

PAIN_NOW_QUESTION: Words = _("Did anything hurt during the session or right after it?")
PAIN_MORNING_QUESTION: Words = _("And the morning after: how much did it hurt, from 0 to 10?")
PAIN_SITE_QUESTION: Words = _("Where, and on which side?")
PAIN_SCORE_QUESTION: Words = _("At its worst, from 0 to 10?")
PAIN_ANCHORS: dict[int, Words] = {
    0: _("no pain"),
    1: _("just there"),
    2: _("easy to forget"),
    3: _("keeps coming to mind"),
    4: _("hard to ignore"),
    5: _("changes how I move a little"),
    6: _("changes how I move"),
    7: _("hard to go on"),
    8: _("cannot go on"),
    9: _("hardly bearable"),
    10: _("the worst I can imagine"),
}
SORENESS_QUESTION: Words = _("Is it muscle soreness? Tick all that fit.")
SORENESS_HOURS_QUESTION: Words = _("How many hours since the work that made you sore?")

SIGN_QUESTIONS: dict[Sign, Words] = {
    Sign.POP: _("Did you feel or hear a pop or a snap?"),
    Sign.SWELLING: _("Is it swollen?"),
    Sign.CANNOT_BEAR_WEIGHT: _("Are you unable to put your weight on it?"),
}

# --- symptoms and events ----------------------------------------------------------------------------------------------

SYMPTOM_INTRODUCTION: Words = _("Since your last check-in, have you had any of these?")
SYMPTOM_QUESTIONS: dict[Symptom, Words] = {
    Symptom.CHEST_PAIN: _("Pain, pressure or tightness in the chest"),
    Symptom.PALPITATIONS: _("Heartbeat that raced, fluttered or missed beats"),
    Symptom.FAINTING: _("Fainted, or nearly"),
    Symptom.BREATHLESS_AT_REST: _("Short of breath while at rest"),
    Symptom.FACE_OR_SPEECH: _("One side of the face drooped, an arm went weak, or speech was slurred"),
    Symptom.BLADDER_OR_BOWEL: _("Could not hold or pass urine or stool as usual"),
    Symptom.SADDLE_NUMBNESS_LASTING: _("Numb between the legs, and it stays numb off the bike"),
    Symptom.BOTH_LEGS_WEAK: _("Both legs newly weak"),
    Symptom.CALF_SWELLING: _("One calf swollen, warm or sore without a reason"),
    Symptom.HEAD_INJURY: _("A blow to the head"),
    Symptom.FEVER_WITH_BACK_PAIN: _("Fever together with back pain"),
    Symptom.DARK_URINE: _("Dark brown or red urine with severe muscle pain"),
    Symptom.LIMPING_CHILD: _("Under 18: limping"),
}
EVENT_QUESTIONS: dict[Event, Words] = {
    Event.ILLNESS: _("A cold or other illness, without fever and not on the chest"),
    Event.FEVER_OR_CHEST: _("Fever, a bad cough, or an illness on the chest"),
    Event.CRASH: _("A crash or a fall"),
    Event.SURGERY: _("An operation"),
    Event.NUMBNESS_ON_BIKE: _("Numb on the bike only, gone soon after getting off"),
}

# --- health screening (S1) --------------------------------------------------------------------------------------------

#: By field of `screening.AdultAnswers`.
ADULT_QUESTIONS: dict[str, Words] = {
    "active": _(
        "In the last three months, have you been active on three or more days a week, for at least half an hour each "
        "time, hard enough to breathe faster?"
    ),
    "disease": _(
        "Do you have, or have you had, any of these, as found by a doctor: a disease of the heart or blood vessels; "
        "diabetes or another disease of the metabolism; a disease of the kidneys?"
    ),
    "symptoms": _(
        "At rest or in activity, do you get any of these: pain or pressure in the chest, neck, jaw or arm; unusual "
        "shortness of breath; dizziness or fainting; swollen ankles; a racing or irregular heartbeat; pain in the "
        "calves on walking that goes at rest; a known heart murmur; unusual tiredness?"
    ),
    "intensity": _("How hard do you mean to train?"),
    "pregnant": _("Are you pregnant?"),
    "birth_in_last_year": _("Have you given birth in the last twelve months?"),
    "pelvic_symptoms": _(
        "Do you leak urine or stool in effort, or feel heaviness, bulging or pain in the pelvic floor?"
    ),
    "fragility_fracture": _(
        "As an adult, have you broken a bone by a slight fall or knock, or do you have thin bones?"
    ),
    "uncontrolled_blood_pressure": _("Is your blood pressure high and not under control?"),
    "limits_set": _("Has a doctor or physiotherapist set limits for your training?"),
}

#: By field of `screening.YoungAnswers`; asked of the guardian.
GUARDIAN_QUESTIONS: dict[str, Words] = {
    "symptoms_in_sport": _(
        "Has your child had chest pain, fainted, nearly fainted, or been unusually short of breath in sport?"
    ),
    "heart_condition": _("Has a doctor ever found a heart condition or a heart murmur in your child?"),
    "sudden_death_in_family": _(
        "Has a close relative died suddenly and without explanation, or had a serious heart condition, before the age "
        "of 50?"
    ),
    "told_not_to_train": _("Has a doctor ever told your child not to do sport, or to do less?"),
    "long_term_condition": _(
        "Does your child have a long-term condition, such as asthma, diabetes or epilepsy, or take medicine for one?"
    ),
    "head_injury_in_last_three_months": _("Has your child had a head injury in the last three months?"),
    "injury_or_operation_in_last_year": _(
        "Has your child had an operation, a broken bone or a serious injury in the last twelve months?"
    ),
    "pain_at_night_or_limping": _("Does your child limp, or have pain in bones, joints or back at night?"),
    "limits_set": _("Has a doctor or physiotherapist set limits for your child's training?"),
}
SCREENING_INTRODUCTION: Words = _(
    "These questions decide only whether a clinician should be asked first. They are not a diagnosis. They are asked "
    "again each year, and after a crash or an operation."
)
