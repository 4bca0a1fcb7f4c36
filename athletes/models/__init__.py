"""People: who they are and what they tell us about themselves."""

from athletes.models.clubs import Club, Coach, Race, Squad, User
from athletes.models.deliveries import AuditEntry, Delivery, Heartbeat, Link, SignInFailure, Suppression
from athletes.models.followups import FollowUp, FollowUpEntry
from athletes.models.health import (
    BodyReport,
    ClinicianLimit,
    Consent,
    MovementCheck,
    PainBaseline,
    Screening,
    SymptomReport,
)
from athletes.models.riders import (
    Absence,
    BikeHours,
    KitItem,
    Opening,
    RegularRide,
    Rider,
    RosterImport,
    Venue,
)

__all__ = [
    "Absence",
    "AuditEntry",
    "BikeHours",
    "BodyReport",
    "ClinicianLimit",
    "Club",
    "Coach",
    "Consent",
    "Delivery",
    "FollowUp",
    "FollowUpEntry",
    "Heartbeat",
    "KitItem",
    "Link",
    "MovementCheck",
    "Opening",
    "PainBaseline",
    "Race",
    "RegularRide",
    "Rider",
    "RosterImport",
    "Screening",
    "SignInFailure",
    "Squad",
    "Suppression",
    "SymptomReport",
    "User",
    "Venue",
]
