"""The card, read back with pypdf."""

import hashlib
import io
import os
import re
import subprocess
import sys
from dataclasses import replace

import pypdf
import pytest
from reportlab.lib.pagesizes import A4, LETTER

from programs import documents
from programs.card import SMALLEST, balance
from programs.documents import card_pdf
from programs.figures import figure_png
from programs.figures.drawing import WIDTH
from programs.figures.pdf import _FINER
from programs.figures.reading import read_poses
from programs.sheet import Sheet, one_line
from programs.typesetting import _dark_runs, markup, space
from tests.programs.examples import HOSTILE, ITEMS, TOKEN, hostile_sheet, session, sheet


def read(made: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(made), strict=True)


def text_of(made: bytes) -> str:
    """All text of the card with white space made single."""
    return " ".join(" ".join(page.extract_text() for page in read(made).pages).split())


def sizes_of(page: pypdf.PageObject) -> set[float]:
    sizes: set[float] = set()

    def visit(text: str, _cm: list[float], tm: list[float], _font: object, size: float) -> None:
        if text.strip():
            sizes.add(round(size * abs(tm[3]), 2))

    page.extract_text(visitor_text=visit)
    return sizes


def links_of(made: bytes) -> list[str]:
    return [note.get_object()["/A"]["/URI"] for page in read(made).pages for note in page.get("/Annots", [])]


@pytest.mark.parametrize("sessions", [1, 2, 3])
@pytest.mark.parametrize("items", [5, 6])
def test_one_a4_page_holds_three_sessions_of_six(sessions: int, items: int) -> None:
    assert len(read(card_pdf(sheet(sessions, items))).pages) == 1


def test_one_page_holds_them_even_when_each_warms_up_in_its_own_way() -> None:
    made = sheet(3, 6)
    own = tuple(
        replace(
            each,
            warm_up=(f"{each.ordinal} rounds of easy spin", *each.warm_up[1:]),
            cool_down=each.cool_down[::-1],
        )
        if each.ordinal != 2
        else each
        for each in made.sessions
    )
    assert len(read(card_pdf(replace(made, sessions=own))).pages) == 1


@pytest.mark.parametrize(("sessions", "items"), [(1, 4), (2, 6), (3, 6), (3, 9)])
def test_no_letter_is_smaller_than_eleven_points(sessions: int, items: int) -> None:
    for page in read(card_pdf(sheet(sessions, items))).pages:
        assert min(sizes_of(page)) >= SMALLEST == 11


def test_what_cannot_fit_at_eleven_points_takes_more_pages_and_says_so() -> None:
    made = card_pdf(sheet(3, 9))
    count = len(read(made).pages)
    assert count > 1
    assert f"Page {count} of {count}" in text_of(made)
    assert all("If it hurts" in page.extract_text() for page in read(made).pages)


def test_a_short_week_is_set_larger_than_a_full_one() -> None:
    def body(made: bytes) -> float:
        return max(sizes_of(read(made).pages[0]) - {20.0})

    assert body(card_pdf(sheet(1, 4))) > body(card_pdf(sheet(3, 6)))


def test_the_card_says_who_when_where_and_what() -> None:
    text = text_of(card_pdf(sheet(3, 6)))
    for words in (
        "Wexenfold Hill Riders",
        "Anouk: strength",
        "2 to 8 November 2026",
        "1. Tuesday 3 November, 18:30",
        "3. Sunday 8 November, 18:30",
        "Strength A, 45 minutes, Home.",
        "Warm up, 6 min: easy spin or brisk walk",
        "Cool down, 4 min",
        "Next race: Skarnock Bank Hill Climb",
        "open bar: strength",
        "In Wexenfold: 112.",
    ):
        assert words in text
    for item in ITEMS:
        assert text.count(item.line.split(",")[0]) >= 3
        assert text.count(item.name) == 3


def test_the_card_says_what_to_do_if_it_hurts() -> None:
    text = text_of(card_pdf(replace(sheet(3, 6), pain_limit=3)))
    for words in (
        "above 3 out of 10",
        "stop and call the local emergency number",
        "physiotherapist or doctor",
        "not medical advice",
        "Chest pain, fainting",
    ):
        assert words in text


def test_tempo_and_what_to_leave_stand_on_the_tightest_card_too() -> None:
    """What is said once at the top is what most exercises share; what differs stays beside its exercise."""
    text = text_of(card_pdf(sheet(3, 6)))
    assert "Unless it says otherwise: lower 3 s, pause 1 s, lift 2 s, leave 3 good reps." in text
    assert text.count("Lower 3 s, lift 2 s. Leave 2 good reps.") == 3
    assert text.count("Lower 3 s, pause 1 s, lift 1 s.") == 3


def test_each_session_has_a_code_and_a_link_to_its_check_in() -> None:
    made = sheet(3, 6)
    wanted = [each.check_in_url for each in made.sessions] + [made.report_pain_url]
    assert sorted(links_of(card_pdf(made))) == sorted(wanted)
    assert all(TOKEN[:-1] in link for link in wanted)


def test_a_session_without_a_link_has_no_code() -> None:
    made = replace(
        sheet(1), sessions=(replace(session(1, sheet(1).days[1]), check_in_url=""),), report_pain_url=""
    )
    assert links_of(card_pdf(made)) == []


def test_runs_of_a_code_cover_exactly_its_dark_modules() -> None:
    row = [1, 1, 0, 1, 0, 0, 1, 1, 1]
    assert _dark_runs(row) == [(0, 2), (3, 1), (6, 3)]
    assert _dark_runs([0, 0]) == []


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert card_pdf(sheet(3, 6)) == card_pdf(sheet(3, 6))
    assert card_pdf(sheet(3, 6)) != card_pdf(sheet(3, 5))


def test_pain_never_reaches_the_card() -> None:
    calm = sheet(2)
    sore = replace(calm, strip=tuple(replace(day, pain=7) for day in calm.strip))
    assert card_pdf(sore) == card_pdf(calm)


def test_every_font_is_embedded() -> None:
    for page in read(card_pdf(hostile_sheet(HOSTILE[9]))).pages:
        fonts = page["/Resources"]["/Font"].values()
        used = [font.get_object() for font in fonts if "Helvetica" not in str(font.get_object()["/BaseFont"])]
        assert len(used) >= 3
        for font in used:
            assert "/FontFile2" in font["/FontDescriptor"].get_object()


def test_the_base_font_that_every_pdf_declares_writes_nothing() -> None:
    names: set[str] = set()

    def visit(
        text: str, _cm: list[float], _tm: list[float], font: dict[str, str] | None, _size: float
    ) -> None:
        if text.strip() and font:
            names.add(font["/BaseFont"])

    for page in read(card_pdf(hostile_sheet(HOSTILE[9]))).pages:
        page.extract_text(visitor_text=visit)
    assert names
    assert all("Atkinson" in name or "Noto" in name for name in names)


def test_accented_names_are_set_in_the_cards_own_face() -> None:
    text = text_of(card_pdf(replace(sheet(1), rider_name="Łukasz Ñandú", club="Çiğköfte Øystein Ștefan")))
    assert "Łukasz Ñandú: strength" in text
    assert "Çiğköfte Øystein Ștefan" in text


def test_a_letter_that_no_font_has_becomes_a_mark_and_nothing_is_lost_around_it() -> None:
    assert markup("Jo \N{BICYCLE}") == "Jo ?"
    assert markup("Ẵn") in ('<font name="BallastOther">Ẵ</font>n', "Ẵn", "An")


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_stays_text_on_the_card(text: str) -> None:
    made = card_pdf(hostile_sheet(text))
    assert read(made).pages
    assert "If it hurts" in text_of(made)
    if text.isascii() and len(text) < 40:
        assert one_line(text) in text_of(made)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_is_drawn_over_the_edge_or_over_something_else(text: str, paper: str) -> None:
    made = replace(hostile_sheet(text), paper=paper)
    _width, height = documents._paper(made)
    assert all(documents._slack(page, height) >= 0 for page in documents._fit(made))


@pytest.mark.parametrize(("paper", "size"), [("A4", A4), ("Letter", LETTER)])
def test_the_card_is_cut_to_the_riders_paper(paper: str, size: tuple[float, float]) -> None:
    box = read(card_pdf(replace(sheet(2), paper=paper))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.01)


def test_a_card_that_replaces_another_says_so() -> None:
    words = "Use this, not the earlier card."
    assert words in text_of(card_pdf(replace(sheet(2), supersedes=True)))
    assert words not in text_of(card_pdf(sheet(2)))


def test_a_week_without_sessions_says_so() -> None:
    text = text_of(card_pdf(sheet(0)))
    assert "No strength sessions this week." in text
    assert "A split box" not in text


def test_exercises_are_split_so_that_the_columns_are_even() -> None:
    def heights(made: Sheet) -> tuple[int, int]:
        pieces = [space(item.sets) for item in made.sessions[0].items]
        left, right = balance(pieces)
        return len(left), len(right)

    assert heights(sheet(1, 5)) == (3, 2)
    assert heights(sheet(1, 1)) == (1, 0)


def test_the_document_names_its_language_and_title() -> None:
    reader = read(card_pdf(sheet(2)))
    assert reader.metadata is not None
    assert reader.metadata.title == "Anouk: strength, 2 to 8 November 2026"
    assert reader.trailer["/Root"]["/Lang"] == "en-gb"


# --- figures ----------------------------------------------------------------------------------------------------------


def figures_on(made: bytes) -> list[tuple[int, str, float]]:
    """Every figure that is drawn: its page, its exercise, and how many points a sheet of its own is wide there."""
    found: list[tuple[int, str, float]] = []
    for number, page in enumerate(read(made).pages):

        def visit(
            operator: bytes, operands: list[object], cm: list[float], _tm: object, number: int = number
        ) -> None:
            name = str(operands[0]) if operator == b"Do" else ""
            if "figure-" in name:
                found.append((number, name.partition("figure-")[2], round(cm[0] * _FINER * WIDTH, 1)))

        page.extract_text(visitor_operand_before=visit)
    return found


def with_items(made: Sheet, *, new: bool, own: bool = False) -> Sheet:
    """The same week, its exercises all new or all known; with `own`, each session has others."""
    slugs = sorted(read_poses())
    sessions = tuple(
        replace(
            session,
            items=tuple(
                replace(item, new=new, slug=slugs[session.ordinal * 10 + number] if own else item.slug)
                for number, item in enumerate(session.items)
            ),
        )
        for session in made.sessions
    )
    return replace(made, sessions=sessions)


@pytest.mark.parametrize(("sessions", "items"), [(1, 4), (1, 6), (2, 4), (2, 5), (2, 6), (3, 4)])
def test_every_exercise_has_its_figure_beside_its_target_on_one_page(sessions: int, items: int) -> None:
    made = sheet(sessions, items)
    wanted = sorted(item.slug for session in made.sessions for item in session.items)
    drawn = [(slug, wide) for _page, slug, wide in figures_on(card_pdf(made)) if wide > 50]
    assert sorted(slug for slug, _wide in drawn) == wanted
    assert all(62 <= wide <= 85 for _slug, wide in drawn)
    assert len(read(card_pdf(made)).pages) == 1


def test_a_short_week_shows_warm_up_and_cool_down_small_and_in_order() -> None:
    (session,) = sheet(1, 4).sessions
    drawn = figures_on(card_pdf(sheet(1, 4)))
    small = [slug for _page, slug, wide in drawn if wide < 50]
    assert tuple(small) == (*session.warm_up_slugs, *session.cool_down_slugs)
    assert not [slug for _page, slug, wide in figures_on(card_pdf(sheet(3, 6))) if wide < 50]


def test_a_row_of_small_figures_is_whole_or_not_there() -> None:
    made = sheet(1, 4)
    odd = replace(made.sessions[0], warm_up_slugs=("warm-up-pedal", "no-such-exercise"))
    small = [slug for _page, slug, wide in figures_on(card_pdf(replace(made, sessions=(odd,)))) if wide < 50]
    assert tuple(small) == made.sessions[0].cool_down_slugs


def test_a_figure_is_written_once_however_often_it_stands_there() -> None:
    made = card_pdf(sheet(2, 6))
    assert len(figures_on(made)) == 12
    assert len(read(made).pages[0]["/Resources"]["/XObject"]) == 6


def test_a_full_week_keeps_to_one_page_with_the_figures_of_what_is_new() -> None:
    made = card_pdf(sheet(3, 6))
    assert [slug for _page, slug, _wide in figures_on(made)] == ["split-squat"]
    assert len(read(made).pages) == 1


def test_a_week_of_new_exercises_takes_a_second_page_rather_than_hide_one() -> None:
    made = with_items(sheet(3, 6), new=True, own=True)
    drawn = figures_on(card_pdf(made))
    wanted = {item.slug for session in made.sessions for item in session.items}
    assert {slug for _page, slug, _wide in drawn} >= wanted
    assert len(read(card_pdf(made)).pages) == 2
    assert len(read(card_pdf(with_items(made, new=False))).pages) == 1


def test_figures_are_lines_in_ink_and_greys_that_copy() -> None:
    page = read(card_pdf(sheet(2))).pages[0]
    assert len(page.images) == 0
    for form in page["/Resources"]["/XObject"].values():
        drawn = form.get_object().get_data().decode("ascii")
        for colour in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)", drawn):
            parts = [float(part) for part in colour]
            assert max(parts) - min(parts) < 0.06


def test_another_process_sets_the_same_card() -> None:
    """Nothing hangs on the order of sets or on what was set before."""
    code = (
        "import hashlib, django; django.setup();"
        "from programs.documents import card_pdf; from programs.figures import figure_png;"
        "from tests.programs.examples import sheet;"
        "print(hashlib.sha256(card_pdf(sheet(2)) + figure_png('split-squat')).hexdigest())"
    )
    here = hashlib.sha256(card_pdf(sheet(2)) + (figure_png("split-squat") or b"")).hexdigest()
    there = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONHASHSEED": "7"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert there.stdout.strip() == here


def test_words_stand_in_the_order_in_which_they_are_read() -> None:
    text = text_of(card_pdf(sheet(1, 4)))
    places = [
        text.index(words) for words in ("Warm up, 6 min", "1 Goblet squat", "3 x 8 at 12 kg", "Cool down")
    ]
    assert places == sorted(places)
    assert "easy spin or brisk walk; hip hinge with a stick; squat to a chair; ankle rocks." in text
