"""Clubs, the people who run them, their squads and their calendar."""

import uuid
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes import vocabulary
from athletes.models.tenant import TenantModel
from athletes.retention import NOT_PERSONAL, Erasure, PrivacyRule

#: What becomes of a week that nobody approved by the hour it should go out.
HOLD = "hold"
SEND_WITHOUT_PROGRESS = "send-without-progress"


class UserManager(BaseUserManager["User"]):
    """Accounts are found and made by mail address."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **fields: Any) -> "User":
        return self.create_user(email, password, is_superuser=True, is_staff=True, **fields)


class User(AbstractBaseUser, PermissionsMixin):
    """An account: somebody who signs in. Riders have none. What an account may do in a club stands on `Coach`."""

    email = models.EmailField(_("mail address"), unique=True)
    name = models.CharField(_("name"), max_length=100)
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    created_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[UserManager] = UserManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    privacy = PrivacyRule(
        exports=False, erasure=Erasure.KEEP, why="an account of staff, removed by the owner"
    )

    def __str__(self) -> str:
        return self.name or self.email


class Club(models.Model):
    """The tenant. Days count from Monday 0, hours are local to `zone`."""

    class Unapproved(models.TextChoices):
        HOLD = HOLD, _("hold it and remind the coach")
        SEND = SEND_WITHOUT_PROGRESS, _("send it without progress")

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "Letter"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=100)
    place = models.CharField(_("place"), max_length=100, blank=True)
    zone = models.CharField(_("time zone"), max_length=60, default="Europe/London")
    paper = models.CharField(_("paper"), max_length=10, choices=Paper, default=Paper.A4)
    resolves_on = models.PositiveSmallIntegerField(_("day the week is worked out"), default=4)
    resolves_at_hour = models.PositiveSmallIntegerField(_("hour the week is worked out"), default=12)
    sends_on = models.PositiveSmallIntegerField(_("day plans go out"), default=6)
    sends_at_hour = models.PositiveSmallIntegerField(_("hour plans go out"), default=17)
    unapproved = models.CharField(
        _("weeks nobody approved"), max_length=30, choices=Unapproved, default=Unapproved.HOLD
    )
    emergency_note = models.CharField(_("emergency note"), max_length=200, blank=True)
    limits_confirmed_by = models.CharField(_("pain limits confirmed by"), max_length=100, blank=True)
    limits_confirmed_on = models.DateField(_("pain limits confirmed on"), null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    privacy = NOT_PERSONAL

    def __str__(self) -> str:
        return self.name


class Coach(TenantModel):
    """What one account may do in one club."""

    class Role(models.TextChoices):
        OWNER = vocabulary.Role.OWNER.value, _("owner")
        COACH = vocabulary.Role.COACH.value, _("coach")
        ASSISTANT = vocabulary.Role.ASSISTANT.value, _("assistant")
        WELFARE = vocabulary.Role.WELFARE.value, _("welfare officer")

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(_("role"), max_length=20, choices=Role)
    created_at = models.DateTimeField(auto_now_add=True)

    privacy = PrivacyRule(
        exports=False, erasure=Erasure.KEEP, why="a membership of staff, removed by the owner"
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "user"], name="one_membership_a_club")]

    def __str__(self) -> str:
        return f"{self.user} ({self.get_role_display()})"

    @property
    def sees_health(self) -> bool:
        """Whether this membership may read health detail."""
        return self.role != self.Role.ASSISTANT

    @property
    def plans(self) -> bool:
        """Whether this membership may change plans, riders and programs."""
        return self.role in (self.Role.OWNER, self.Role.COACH)


class Squad(TenantModel):
    """A named group of riders with one coach."""

    name = models.CharField(_("name"), max_length=60)
    coach = models.ForeignKey(Coach, on_delete=models.PROTECT, related_name="squads", verbose_name=_("coach"))

    privacy = NOT_PERSONAL

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "name"], name="squad_names_differ_in_a_club")]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Race(TenantModel):
    """A race of the club, for one squad or for everybody. `uid` is the calendar's own, so that it is read in once."""

    class Priority(models.TextChoices):
        PRIORITY = vocabulary.RacePriority.PRIORITY.value, _("priority race")
        OTHER = vocabulary.RacePriority.OTHER.value, _("other race")
        MINOR = vocabulary.RacePriority.MINOR.value, _("minor race")

    squad = models.ForeignKey(Squad, on_delete=models.CASCADE, null=True, blank=True, related_name="races")
    name = models.CharField(_("name"), max_length=120)
    on = models.DateField(_("date"))
    start = models.TimeField(_("start"), default="09:00")
    priority = models.CharField(_("kind"), max_length=10, choices=Priority, default=Priority.OTHER)
    uid = models.CharField(max_length=255, blank=True)

    privacy = NOT_PERSONAL

    class Meta:
        ordering = ["on", "start", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "uid", "on"], condition=~models.Q(uid=""), name="a_calendar_race_once_a_day"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.on})"
