"""What a coach writes for a squad: a program of blocks, sessions and slots."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes import vocabulary
from athletes.models.tenant import TenantModel
from athletes.retention import NOT_PERSONAL
from programs.engine.facts import Format, Part, Phase


class Program(TenantModel):
    """A season for a squad, from a Monday on. One program of a squad is in use at a time."""

    squad = models.ForeignKey(
        "athletes.Squad", on_delete=models.CASCADE, related_name="programs", verbose_name=_("squad")
    )
    name = models.CharField(_("name"), max_length=100)
    starts_on = models.DateField(_("first Monday"))
    is_active = models.BooleanField(_("in use"), default=False)
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    privacy = NOT_PERSONAL

    class Meta:
        ordering = ["-is_active", "-starts_on", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "squad"],
                condition=models.Q(is_active=True),
                name="one_active_program_a_squad",
            ),
            models.UniqueConstraint(fields=["club", "squad", "name"], name="program_names_differ_in_a_squad"),
        ]

    def __str__(self) -> str:
        return self.name


class Block(TenantModel):
    """Weeks with one intent. Blocks follow each other from the program's first Monday, in order."""

    class Intent(models.TextChoices):
        LEARN = Phase.LEARN.value, _("learn")
        BUILD = Phase.BUILD.value, _("build")
        MAINTAIN = Phase.MAINTAIN.value, _("maintain")
        REST = Phase.REST.value, _("rest")

    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="blocks")
    order = models.PositiveSmallIntegerField()
    name = models.CharField(_("name"), max_length=60, blank=True)
    intent = models.CharField(_("intent"), max_length=10, choices=Intent, default=Intent.BUILD)
    weeks = models.PositiveSmallIntegerField(
        _("weeks"), default=4, validators=[MinValueValidator(1), MaxValueValidator(30)]
    )
    sessions = models.PositiveSmallIntegerField(
        _("sessions a week"), default=2, validators=[MinValueValidator(0), MaxValueValidator(3)]
    )

    privacy = NOT_PERSONAL

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(sessions__lte=3), name="at_most_3_sessions_a_week"),
            models.UniqueConstraint(
                fields=["club", "program", "order"],
                name="one_block_a_place",
                deferrable=models.Deferrable.DEFERRED,
            ),
        ]


class SessionTemplate(TenantModel):
    """One session of a block, as the coach wrote it."""

    class Form(models.TextChoices):
        STRAIGHT = Format.STRAIGHT.value, _("straight sets")
        CIRCUIT = Format.CIRCUIT.value, _("circuit")

    block = models.ForeignKey(Block, on_delete=models.CASCADE, related_name="templates")
    ordinal = models.PositiveSmallIntegerField()
    name = models.CharField(_("name"), max_length=60)
    format = models.CharField(_("order of work"), max_length=10, choices=Form, default=Form.STRAIGHT)
    warm_up_minutes = models.PositiveSmallIntegerField(
        _("warm-up minutes"), default=6, validators=[MinValueValidator(5), MaxValueValidator(10)]
    )
    cool_down_minutes = models.PositiveSmallIntegerField(
        _("cool-down minutes"), default=4, validators=[MinValueValidator(2), MaxValueValidator(15)]
    )

    privacy = NOT_PERSONAL

    class Meta:
        ordering = ["ordinal", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "block", "ordinal"],
                name="one_template_a_place",
                deferrable=models.Deferrable.DEFERRED,
            )
        ]

    def __str__(self) -> str:
        return self.name


class Slot(TenantModel):
    """A place in a session: a movement pattern that resolves for each rider, or one fixed exercise."""

    class SlotPart(models.TextChoices):
        MAIN = Part.MAIN.value, _("main")
        ASSISTANCE = Part.ASSISTANCE.value, _("assistance")

    template = models.ForeignKey(SessionTemplate, on_delete=models.CASCADE, related_name="slots")
    order = models.PositiveSmallIntegerField()
    part = models.CharField(_("part"), max_length=12, choices=SlotPart, default=SlotPart.MAIN)
    pattern = models.CharField(
        _("movement pattern"),
        max_length=20,
        choices=[(pattern.value, pattern.value) for pattern in vocabulary.TRAINED],
    )
    exercise = models.ForeignKey(
        "programs.Exercise",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        db_constraint=False,
        verbose_name=_("fixed exercise"),
    )
    sets = models.PositiveSmallIntegerField(
        _("sets"), default=3, validators=[MinValueValidator(1), MaxValueValidator(5)]
    )
    low = models.PositiveSmallIntegerField(
        _("from"), null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(120)]
    )
    high = models.PositiveSmallIntegerField(
        _("to"), null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(120)]
    )
    rest_s = models.PositiveSmallIntegerField(
        _("rest in seconds"), default=90, validators=[MinValueValidator(15), MaxValueValidator(300)]
    )

    privacy = NOT_PERSONAL

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(low__isnull=True)
                | models.Q(high__isnull=True)
                | models.Q(high__gte=models.F("low")),
                name="slot_range_is_in_order",
            ),
            models.UniqueConstraint(
                fields=["club", "template", "order"],
                name="one_slot_a_place",
                deferrable=models.Deferrable.DEFERRED,
            ),
        ]
