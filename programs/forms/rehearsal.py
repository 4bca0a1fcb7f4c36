"""What a coach chooses before a season is rehearsed. Validates only."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from athletes.vocabulary import Region, Side
from athletes.words import label
from programs.engine.cast import Ages, Cast, KitName, Surroundings
from programs.engine.simulate import Episode

MOST_RIDERS, MOST_WEEKS = 24, 52
SITES = (Region.KNEE, Region.LOWER_BACK, Region.HIP, Region.SHOULDER, Region.CALF, Region.BACK_THIGH)
LIKE, INVENTED = "like", "invented"


def _figure(words: Any, low: int, high: int, *, needed: bool = True, help_words: Any = "") -> Any:
    return forms.IntegerField(
        label=words,
        help_text=help_words,
        min_value=low,
        max_value=high,
        required=needed,
        widget=forms.NumberInput(attrs={"data-stepper": True, "inputmode": "numeric"}),
    )


class RehearsalForm(forms.Form):
    """Who lives the season, how long, and what befalls them."""

    who = forms.ChoiceField(label=gettext_lazy("Synthetic riders"), widget=forms.RadioSelect)
    riders = _figure(gettext_lazy("How many"), 1, MOST_RIDERS)
    weeks = _figure(gettext_lazy("Weeks"), 1, MOST_WEEKS)
    seed = _figure(
        gettext_lazy("Draw number"),
        0,
        9999,
        help_words=gettext_lazy("The same number gives the same season; another, other riders."),
    )
    ages = forms.ChoiceField(
        label=gettext_lazy("Age, if invented"),
        choices=[
            (Ages.MIXED.value, gettext_lazy("mixed")),
            (Ages.UNDER_18.value, gettext_lazy("under 18")),
            (Ages.ADULT.value, gettext_lazy("18 to 49")),
            (Ages.FROM_50.value, gettext_lazy("50 to 64")),
            (Ages.FROM_65.value, gettext_lazy("65 to 75")),
        ],
    )
    kit = forms.ChoiceField(
        label=gettext_lazy("Kit, if invented"),
        choices=[
            (KitName.MIXED.value, gettext_lazy("mixed")),
            (KitName.NONE.value, gettext_lazy("none, a chair and a step")),
            (KitName.ONE_BELL.value, gettext_lazy("one kettlebell, 12 kg")),
            (KitName.BELLS.value, gettext_lazy("kettlebells, 8 to 24 kg")),
            (KitName.DUMBBELLS.value, gettext_lazy("pairs of dumbbells, 4 to 15 kg")),
            (KitName.BANDS.value, gettext_lazy("bands")),
            (KitName.HALL.value, gettext_lazy("a hall with barbell and rack")),
        ],
    )
    minutes = _figure(
        gettext_lazy("Minutes, if invented"),
        20,
        90,
        needed=False,
        help_words=gettext_lazy("For each session. Empty: 30 to 60, mixed."),
    )
    attends = forms.ChoiceField(
        label=gettext_lazy("Sessions done"),
        required=False,
        choices=[
            ("", gettext_lazy("60 to 95 %, mixed")),
            ("100", gettext_lazy("all")),
            ("90", gettext_lazy("90 %")),
            ("75", gettext_lazy("75 %")),
            ("50", gettext_lazy("half")),
        ],
    )
    pain = forms.ChoiceField(
        label=gettext_lazy("A pain for everybody"),
        required=False,
        choices=[("", gettext_lazy("none but by chance")), *((one.value, label(one)) for one in SITES)],
    )
    pain_week = _figure(gettext_lazy("It begins in week"), 1, MOST_WEEKS, needed=False)
    pain_score = _figure(gettext_lazy("With a score of"), 1, 10, needed=False)

    def __init__(self, *args: Any, likes: tuple[Surroundings, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._likes = likes
        invented = (INVENTED, gettext_lazy("invented"))
        like = (LIKE, gettext_lazy("like the squad's: its ages, kit, times and levels, nothing about health"))
        self.fields["who"].choices = [like, invented] if likes else [invented]  # type: ignore[attr-defined]

    def cast(self) -> Cast:
        """What was chosen."""
        chosen = self.cleaned_data
        pain = None
        if chosen["pain"]:
            region = Region(chosen["pain"])
            side = Side.BOTH if region is Region.LOWER_BACK else Side.LEFT
            pain = Episode((chosen["pain_week"] or 6) - 1, region, side, chosen["pain_score"] or 4)
        return Cast(
            riders=chosen["riders"],
            weeks=chosen["weeks"],
            seed=chosen["seed"],
            kit=KitName(chosen["kit"]),
            ages=Ages(chosen["ages"]),
            minutes=chosen["minutes"],
            attends=int(chosen["attends"]) if chosen["attends"] else None,
            pain=pain,
            likes=self._likes if chosen["who"] == LIKE else (),
        )
