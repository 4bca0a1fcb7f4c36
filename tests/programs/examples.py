"""Invented sheets for the tests of the card, the mail and the calendar file."""

from dataclasses import replace
from datetime import date, time, timedelta

from programs.engine.facts import Format, Part, Week
from programs.engine.quantities import week_days
from programs.sheet import Sheet, SheetItem, SheetSession, StripDay

TOKEN = "q3Jx0fWm7RkZbT2uYpL9sVnC4hDgA1eEoI8iXwBtMzQ"
SITE = "https://ballast.wexenfold.example"

#: What somebody might type into a name to break what is made from it.
HOSTILE = (
    "Wren\r\nBcc: everyone@elsewhere.example",
    "Wren\r\n\r\n<script>alert(1)</script>",
    'Jo "the bell" <jo@elsewhere.example>, Sam; RSVP=TRUE:mailto:x@elsewhere.example',
    "END:VEVENT\nEND:VCALENDAR\nBEGIN:VEVENT",
    "<b>bold</b> &amp; <para><font size='99'>huge</font></para> </table><img src=x onerror=alert(1)>",
    "{{ sheet }} {% include 'base.html' %} {name} %s %(x)s",
    "back\\slash; semi, comma: colon \\n \\N",
    "\u202egnp.exe \u2028next\u2029 \x00\x07\x1b[31m \ud800 \ufeff\ufffe",
    "Zoë Ångström Łukasiewicz Ñandú Čapek Ğül Øystein Ștefan Ẵn",
    "Мила Παπαδοπούλου 山田 🚴",
    "W" * 5000,
    "=cmd|' /C calc'!A0",
)

ITEMS = (
    SheetItem(
        "goblet-squat",
        "Goblet squat",
        Part.MAIN,
        "3 x 8 at 12 kg, rest 90 s",
        tempo="lower 3 s, pause 1 s, lift 2 s",
        leave="leave 3 good reps",
        change_line="1 more rep than last time.",
        cues=("Sit between your heels", "Knees over toes", "Chest tall"),
        implement="kettlebell",
    ),
    SheetItem(
        "split-squat",
        "Rear-foot raised split squat",
        Part.MAIN,
        "2 x 10 at body weight, rest 60 s",
        sets=2,
        side_line="each side",
        tempo="lower 2 s, lift 2 s",
        leave="leave 3 good reps",
        change_line="A level up from last time.",
        cues=("Weight on the front heel", "Drop straight down"),
        new=True,
    ),
    SheetItem(
        "one-arm-row",
        "One-arm row on a bench",
        Part.MAIN,
        "3 x 12 at 14 kg, rest 60 s",
        side_line="each side",
        tempo="lower 2 s, pause 1 s, lift 2 s",
        leave="leave 2 good reps",
        cues=("Pull the elbow to the hip", "Back flat as a table"),
        implement="dumbbell",
    ),
    SheetItem(
        "one-weight-deadlift",
        "Two-bell deadlift",
        Part.MAIN,
        "2 x 15 at 16 kg, then 1 x 5 at 24 kg, rest 120 s",
        tempo="lower 3 s, lift 2 s",
        leave="leave 2 good reps",
        change_line="1 set at the next load.",
        cues=("Push the hips back", "Shins upright"),
        implement="kettlebell",
    ),
    SheetItem(
        "knee-side-plank",
        "Side plank from the knees",
        Part.ASSISTANCE,
        "3 x 30 s, rest 45 s",
        side_line="each side",
        leave="stop before you lose the position",
        change_line="5 s longer than last time.",
        cues=("Straight from knee to shoulder",),
    ),
    SheetItem(
        "step-one-leg-heel-raise",
        "Calf raise on a step",
        Part.ASSISTANCE,
        "3 x 15 at body weight, rest 60 s",
        tempo="lower 3 s, pause 1 s, lift 1 s",
        leave="leave 3 good reps",
        cues=("All the way down", "Over the big toe"),
    ),
)

WEEK = Week(2026, 45)


def session(
    ordinal: int,
    on: date,
    *,
    items: int = 6,
    start: time = time(18, 30),
    minutes: int = 45,
    form: Format = Format.STRAIGHT,
) -> SheetSession:
    """One session of that many exercises."""
    return SheetSession(
        ordinal=ordinal,
        name=f"Strength {'ABC'[(ordinal - 1) % 3]}",
        on=on,
        start=start,
        minutes=minutes,
        venue="Home",
        format=form,
        warm_up=("easy spin or brisk walk", "hip hinge with a stick", "squat to a chair", "ankle rocks"),
        items=(ITEMS * 5)[:items],
        cool_down=("easy walk", "calf stretch", "hip flexor stretch"),
        check_in_url=f"{SITE}/c/{TOKEN[:-1]}{ordinal}",
        uid=f"1b9a4d5e-2026-W45-{ordinal}@ballast.wexenfold.example",
        warm_up_minutes=6,
        cool_down_minutes=4,
        warm_up_slugs=("warm-up-pedal", "warm-up-hinge", "warm-up-squat", "ankle-rock"),
        cool_down_slugs=("cool-down-walk", "cool-down-calf", "cool-down-front-thigh"),
    )


def sheet(sessions: int = 2, items: int = 6, week: Week = WEEK, **changes: object) -> Sheet:
    """A week of that many sessions on Tuesday, Friday and Sunday."""
    days = week_days(week)
    held = tuple(
        session(number, days[day], items=items) for number, day in enumerate((1, 4, 6)[:sessions], 1)
    )
    on = {each.on for each in held}
    strip = tuple(
        StripDay(
            day,
            planned=day in on,
            key_ride=day == days[2],
            race="Skarnock Bank Hill Climb" if day == days[5] else "",
        )
        for day in days
    )
    made = Sheet(
        club="Wexenfold Hill Riders",
        coach_name="Thessa Brockhollin",
        rider_name="Anouk",
        week=week,
        zone="Europe/London",
        sessions=held,
        strip=strip,
        why=(
            "Two sessions this week: the racing months have not begun.",
            "Friday, not Thursday: it keeps 48 hours clear of the race.",
        ),
        next_ride="Wednesday 4 November, 18:00",
        next_race="Skarnock Bank Hill Climb, Saturday 7 November",
        report_pain_url=f"{SITE}/p/{TOKEN}",
        unsubscribe_url=f"{SITE}/u/{TOKEN}",
        my_page_url=f"{SITE}/r/{TOKEN}",
        reply_to="thessa.brockhollin@wexenfold.example",
        emergency_note="In Wexenfold: 112.",
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def hostile_sheet(text: str) -> Sheet:
    """A week in which everything that somebody can type is that text."""
    item = SheetItem(
        "goblet-squat",
        text,
        Part.MAIN,
        text,
        side_line=text,
        tempo=text,
        leave=text,
        change_line=text,
        cues=(text,) * 3,
    )
    base = sheet(2)
    held = tuple(
        replace(each, name=text, venue=text, warm_up=(text,), cool_down=(text,), items=(item, item))
        for each in base.sessions
    )
    strip = tuple(replace(day, race=text) for day in base.strip)
    return replace(
        base,
        club=text,
        coach_name=text,
        rider_name=text,
        sessions=held,
        strip=strip,
        why=(text,),
        next_ride=text,
        next_race=text,
        emergency_note=text,
    )


def moved(original: SheetSession, days: int) -> SheetSession:
    """The same session on another day."""
    return replace(original, on=original.on + timedelta(days=days))
