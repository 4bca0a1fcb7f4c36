"""Riders, their kit, their diary and where they are when they are away."""

from datetime import date
from decimal import Decimal
from typing import Literal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from athletes.models.clubs import Squad
from athletes.models.tenant import TenantModel
from athletes.retention import Erasure, PrivacyRule

WEEKDAYS = [
    (0, _("Monday")),
    (1, _("Tuesday")),
    (2, _("Wednesday")),
    (3, _("Thursday")),
    (4, _("Friday")),
    (5, _("Saturday")),
    (6, _("Sunday")),
]


class RiderQuerySet(models.QuerySet["Rider"]):
    """Filters over riders, each a word."""

    def current(self) -> "RiderQuerySet":
        """Those who have not left."""
        return self.exclude(state=Rider.State.LEFT)

    def training(self) -> "RiderQuerySet":
        """Those who are neither paused nor gone."""
        return self.filter(state=Rider.State.ACTIVE)


class Rider(TenantModel):
    """Who trains. A birth year is enough: rules for the young take the youngest age it allows, rules for the old the
    oldest."""

    class State(models.TextChoices):
        ACTIVE = "active", _("active")
        PAUSED = "paused", _("paused")
        LEFT = "left", pgettext_lazy("state of a rider", "left")

    class Growth(models.TextChoices):
        UNKNOWN = "unknown", _("not known")
        YES = "yes", _("yes")
        NO = "no", _("no")

    class Unit(models.TextChoices):
        KG = "kg", "kg"
        LB = "lb", "lb"

    squad = models.ForeignKey(Squad, on_delete=models.PROTECT, related_name="riders", verbose_name=_("squad"))
    given_name = models.CharField(_("given name"), max_length=60)
    family_name = models.CharField(_("family name"), max_length=60)
    email = models.EmailField(_("mail address"))
    birth_year = models.PositiveSmallIntegerField(
        _("birth year"), validators=[MinValueValidator(1920), MaxValueValidator(2100)]
    )
    state = models.CharField(_("state"), max_length=10, choices=State, default=State.ACTIVE)
    zone = models.CharField(_("time zone, if not the club's"), max_length=60, blank=True)
    language = models.CharField(_("language"), max_length=10, default="en-gb")
    unit = models.CharField(_("unit of mass"), max_length=2, choices=Unit, default=Unit.KG)
    guardian_name = models.CharField(_("guardian"), max_length=100, blank=True)
    guardian_email = models.EmailField(_("guardian's mail address"), blank=True)
    growth = models.CharField(_("in a growth spurt"), max_length=10, choices=Growth, default=Growth.UNKNOWN)
    adult_present = models.BooleanField(_("an adult is present at each session"), default=False)
    trains_alone = models.BooleanField(_("trains alone"), default=True)
    minutes_cap = models.PositiveSmallIntegerField(
        _("longest session in minutes"),
        default=45,
        validators=[MinValueValidator(15), MaxValueValidator(120)],
    )
    plan_mail = models.BooleanField(_("plans by mail"), default=True)
    note = models.CharField(_("note (no health details)"), max_length=300, blank=True)
    joined_on = models.DateField(_("joined on"))
    created_at = models.DateTimeField(auto_now_add=True)

    objects = RiderQuerySet.as_manager()

    privacy = PrivacyRule(rider="pk", erasure=Erasure.DELETE)

    class Meta:
        ordering = ["family_name", "given_name", "pk"]
        constraints = [
            models.UniqueConstraint("club", Lower("email"), name="rider_addresses_differ_in_a_club"),
            models.CheckConstraint(
                condition=models.Q(minutes_cap__gte=15) & models.Q(minutes_cap__lte=120),
                name="rider_minutes_are_sane",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        return f"{self.given_name} {self.family_name}"

    @property
    def mass_unit(self) -> Literal["kg", "lb"]:
        """The unit in which masses are shown to the rider."""
        return "lb" if self.unit == self.Unit.LB else "kg"

    def youngest_age(self, on: date) -> int:
        """The age in years that is certain: the birthday may still be to come this year."""
        return on.year - self.birth_year - 1

    def oldest_age(self, on: date) -> int:
        """The age in years that is possible: the birthday may have been."""
        return on.year - self.birth_year

    def is_under_18(self, on: date) -> bool:
        """The cautious reading: under 18 until the birth year leaves no doubt."""
        return self.youngest_age(on) < 18


class Venue(TenantModel):
    """Where sessions are done, and with what. A venue without a rider is the club's, open to all."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, null=True, blank=True, related_name="venues")
    name = models.CharField(_("name"), max_length=60)
    furniture = models.JSONField(_("furniture"), default=list, blank=True)

    privacy = PrivacyRule(rider="rider")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "rider", "name"], nulls_distinct=False, name="venue_names_differ_for_a_rider"
            )
        ]

    def __str__(self) -> str:
        return self.name


class KitItem(TenantModel):
    """One kind of implement at a venue. `kg` is what the engine reads; `entered` and `unit` are what was typed.

    A barbell is one item with `details` holding collars and discs, an adjustable dumbbell one with its masses; a band
    has a `level` and no mass.
    """

    venue = models.ForeignKey(Venue, on_delete=models.CASCADE, related_name="items")
    implement = models.CharField(_("implement"), max_length=30)
    kg = models.DecimalField(_("mass in kg"), max_digits=12, decimal_places=8, null=True, blank=True)
    entered = models.DecimalField(_("mass as entered"), max_digits=7, decimal_places=3, null=True, blank=True)
    unit = models.CharField(_("unit"), max_length=2, choices=Rider.Unit, default=Rider.Unit.KG)
    count = models.PositiveSmallIntegerField(_("how many"), default=1)
    level = models.PositiveSmallIntegerField(_("band level"), null=True, blank=True)
    details = models.JSONField(default=dict, blank=True)

    privacy = PrivacyRule(rider="venue__rider")

    class Meta:
        ordering = ["implement", "kg", "level", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kg__isnull=True) | models.Q(kg__gt=Decimal(0)), name="kit_mass_is_positive"
            ),
            models.CheckConstraint(condition=models.Q(count__gte=1), name="kit_count_is_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.implement} {self.kg or self.level or ''}".strip()


class Opening(TenantModel):
    """A weekly time when a rider could train."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="openings")
    weekday = models.PositiveSmallIntegerField(_("day"), choices=WEEKDAYS)
    start = models.TimeField(_("from"))
    minutes = models.PositiveSmallIntegerField(_("minutes"), default=45)
    venue = models.ForeignKey(Venue, on_delete=models.CASCADE, related_name="openings")
    preferred = models.BooleanField(_("preferred"), default=False)

    privacy = PrivacyRule(rider="rider")

    class Meta:
        ordering = ["weekday", "start"]
        constraints = [
            models.UniqueConstraint(fields=["club", "rider", "weekday", "start"], name="one_opening_a_time"),
            models.CheckConstraint(condition=models.Q(weekday__lte=6), name="opening_weekday_is_a_day"),
        ]


class RegularRide(TenantModel):
    """A ride that a rider does most weeks. A key ride is one that legs should be fresh for."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="rides")
    weekday = models.PositiveSmallIntegerField(_("day"), choices=WEEKDAYS)
    start = models.TimeField(_("start"))
    minutes = models.PositiveSmallIntegerField(_("minutes"), default=90)
    is_key = models.BooleanField(_("key ride"), default=False)

    privacy = PrivacyRule(rider="rider")

    class Meta:
        ordering = ["weekday", "start"]
        constraints = [
            models.UniqueConstraint(fields=["club", "rider", "weekday", "start"], name="one_ride_a_time")
        ]


class BikeHours(TenantModel):
    """Hours on the bike in an ISO week, as somebody entered them."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="bike_hours")
    iso_year = models.PositiveSmallIntegerField()
    iso_week = models.PositiveSmallIntegerField()
    hours = models.DecimalField(max_digits=4, decimal_places=1)

    privacy = PrivacyRule(rider="rider")

    class Meta:
        ordering = ["iso_year", "iso_week"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "rider", "iso_year", "iso_week"], name="bike_hours_once_a_week"
            )
        ]


class Absence(TenantModel):
    """Days away from strength training, both included; without a rider, a holiday of the whole club."""

    class Kind(models.TextChoices):
        HOLIDAY = "holiday", _("holiday")
        ILLNESS = "illness", _("illness")
        INJURY = "injury", _("injury")
        OTHER = "other", _("other")

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, null=True, blank=True, related_name="absences")
    from_on = models.DateField(_("first day"))
    until_on = models.DateField(_("last day"))
    kind = models.CharField(_("kind"), max_length=10, choices=Kind, default=Kind.HOLIDAY)
    name = models.CharField(_("name"), max_length=120, blank=True)
    uid = models.CharField(max_length=255, blank=True)

    privacy = PrivacyRule(rider="rider", health=True)

    class Meta:
        ordering = ["from_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(until_on__gte=models.F("from_on")), name="absence_ends_after_it_begins"
            )
        ]


class RosterImport(TenantModel):
    """A roster file between upload and application: its rows, the mapping of its columns, and what came of it."""

    class State(models.TextChoices):
        OPEN = "open", _("open")
        APPLIED = "applied", _("applied")

    name = models.CharField(max_length=200)
    headings = models.JSONField(default=list)
    rows = models.JSONField(default=list)
    mapping = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    made_by = models.ForeignKey("athletes.Coach", on_delete=models.CASCADE, related_name="+")
    created_at = models.DateTimeField()
    applied_at = models.DateTimeField(null=True, blank=True)
    result = models.JSONField(default=dict, blank=True)

    privacy = PrivacyRule(
        exports=False,
        erasure=Erasure.KEEP,
        mentions="rows",
        keeps_days=7,
        dated="created_at",
        why="a file in passing, deleted after a week, and at once when a rider in it is erased",
    )

    class Meta:
        ordering = ["-pk"]
