"""Consent as it is asked for, in versions, and the safety notices that stand wherever pain or a load rise is shown.

A wording, once somebody has agreed to it, is never changed: a change is a new version, and consent is asked for again.
"""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from athletes.words import Words


@dataclass(frozen=True, slots=True)
class ConsentWording:
    """One version of the consent to health data: for an adult, for a guardian, and what a young rider is shown."""

    version: str
    adult: tuple[Words, ...]
    guardian: tuple[Words, ...]
    young: tuple[Words, ...]
    adult_agrees: Words
    guardian_agrees: Words


#: The data that consent covers, named one by one.
HEALTH_DATA: tuple[Words, ...] = (
    _("pain and soreness: where, how much, and on which day"),
    _("warning symptoms, illness, crashes and operations"),
    _("the answers to the health screening, and who gave clearance and when"),
    _("limits that a clinician has set"),
    _("the movement check: what passed, and what hurt"),
)

_ADULT = (
    _(
        "To plan strength training that is safe for you, the club asks about your health and keeps your answers."
    ),
    _("It uses them for your plan and its follow-up, and for nothing else."),
    _(
        "They are read by those in the club who have access to health details. Others see only that there is a health "
        "reason. Each reading is recorded. They stand in no mail, card or calendar."
    ),
    _(
        "They are kept no longer than the club's schedule says. You may ask for a copy, a correction, or their "
        "erasure."
    ),
    _(
        "You are free to refuse, and may withdraw at any time. Without consent there is no strength plan; nothing else "
        "in the club depends on it."
    ),
)
_GUARDIAN = (
    _(
        "To plan strength training that is safe for your child, the club asks about their health and keeps the "
        "answers."
    ),
    _("It uses them for your child's plan and its follow-up, and for nothing else."),
    _(
        "They are read by those in the club who have access to health details. Others see only that there is a health "
        "reason. Each reading is recorded. They stand in no mail, card or calendar."
    ),
    _(
        "They are kept no longer than the club's schedule says. You and your child may ask for a copy, a correction, "
        "or their erasure."
    ),
    _(
        "You are free to refuse, and may withdraw at any time. Without consent there is no strength plan; nothing else "
        "in the club depends on it. At 18 your child is asked again."
    ),
)
_YOUNG = (
    _(
        "Your parent or guardian has agreed that the club may keep answers about your health, so that your plan is "
        "safe."
    ),
    _("Only those in the club who have access to health details read them."),
    _(
        "You can say no to any question, and can ask the club to show you or erase what it keeps. At 18 you decide."
    ),
)

CONSENTS: dict[str, ConsentWording] = {
    "health-1": ConsentWording(
        version="health-1",
        adult=_ADULT,
        guardian=_GUARDIAN,
        young=_YOUNG,
        adult_agrees=_("I agree that the club keeps and uses these health data for my strength plan."),
        guardian_agrees=_(
            "I am the parent or legal guardian of this rider, and agree that the club keeps and uses these health data "
            "for their strength plan."
        ),
    )
}
CURRENT_CONSENT = "health-1"

# --- safety -----------------------------------------------------------------------------------------------------------

WARNING_NOTICE: Words = _(
    "Chest pain, fainting, breathless at rest, a drooping face or slurred speech, both legs weak, bladder or "
    "bowel control lost, a head injury: stop and call the local emergency number."
)
SYMPTOM_REPORTED_NOTICE: Words = _(
    "Stop training and get medical help now: call the local emergency number, or go to the nearest emergency "
    "department. Do not wait for your coach. Your coach has been told, and nothing is planned until a clinician has "
    "cleared you."
)
CLINICIAN_NOTICE: Words = _(
    "See a physiotherapist or doctor for pain that lasts, returns or worries you. This plan is not medical advice."
)
PAIN_LIMIT_NOTICE: Words = _(
    "Stop the exercise if pain rises above the limit you agreed with your coach, and report it."
)
LOCAL_RULES_NOTICE: Words = _("Local rules and licensed practice come first.")
