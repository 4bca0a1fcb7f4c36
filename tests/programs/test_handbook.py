"""The handbook and the sheets, read back as PDF: everything once, in order, with page numbers that are true."""

import io
import re
from collections.abc import Iterator
from functools import cache

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation
from pypdf import PdfReader
from pypdf.generic import Destination

from athletes import access
from programs import handbooks, tasks
from programs.exercises import read_page, read_pages
from programs.handbook import Cover, handbook_pdf, sheet_pdf
from programs.models import Exercise, Handbook
from tests import people

COVER = Cover("Wexenfold Hill Riders", "27 November 2026", "From a mobile, 112 works too.")


@cache
def _made() -> bytes:
    return handbook_pdf(read_pages(), COVER)


@pytest.fixture
def book(db: None) -> PdfReader:
    return PdfReader(io.BytesIO(_made()))


@cache
def _texts() -> tuple[str, ...]:
    return tuple(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(_made())).pages)


def _squeezed(words: str) -> str:
    """Without spaces: where a line is broken, the reader puts one that was not there."""
    return re.sub(r"\s+", "", words)


def _outline(book: PdfReader) -> Iterator[tuple[int, str, int]]:
    """(depth, title, page from 1) of every bookmark, in order."""

    def walk(entries: list, depth: int) -> Iterator[tuple[int, str, int]]:
        for entry in entries:
            if isinstance(entry, Destination):
                yield depth, str(entry.title), book.get_destination_page_number(entry) + 1
            else:
                yield from walk(entry, depth + 1)

    yield from walk(book.outline, 0)


def test_safety_stands_before_everything_but_the_title(book: PdfReader) -> None:
    texts = _texts()
    assert "Exercise handbook" in texts[0]
    assert COVER.club in texts[0]
    for words in (
        "Safety first",
        "physiotherapist or doctor",
        "local emergency number",
        COVER.emergency_note,
    ):
        assert words in texts[1]
    assert "Contents" in texts[2]


def test_every_exercise_has_one_bookmark_under_its_family_in_order(book: PdfReader) -> None:
    found = [(depth, title) for depth, title, _page in _outline(book)]
    expected = [(0, "Safety first"), (0, "Contents")]
    for family, pages in read_pages():
        expected += [(0, family.name), *((1, page.exercise.name) for page in pages)]
    assert found == [*expected, (0, "Index by kit"), (0, "Index by region")]


def test_a_bookmark_leads_to_the_page_with_all_the_words_of_its_exercise(book: PdfReader) -> None:
    """Nothing is cut off: purpose, set-up, cues, faults and notes stand on the one page that the bookmark names."""
    where = {title: page for depth, title, page in _outline(book) if depth == 1}
    for _family, pages in read_pages():
        for page in pages:
            text = _squeezed(_texts()[where[page.exercise.name] - 1])
            said = [page.purpose, *page.set_up, *page.cues, *(words for _region, words in page.notes)]
            said += [words for fault in page.faults for words in fault]
            assert [words for words in said if _squeezed(words) not in text] == [], page.exercise.slug


def test_the_contents_give_the_page_on_which_each_exercise_is(book: PdfReader) -> None:
    first = next(page for _depth, title, page in _outline(book) if title == "Contents")
    last = next(page for depth, title, page in _outline(book) if title == "Squat")
    contents = _squeezed(" ".join(_texts()[first - 1 : last - 1]))
    for depth, title, page in _outline(book):
        if depth == 1:
            assert _squeezed(f"{title}{page}") in contents, title


def test_the_foot_gives_the_number_of_the_page_and_the_warning(book: PdfReader) -> None:
    for number, text in enumerate(_texts(), start=1):
        if number > 1:
            assert "Not medical advice." in text
            assert re.search(rf"\b{number}\b", text)


def test_each_family_opens_with_its_levels_and_what_earns_them(book: PdfReader) -> None:
    where = {title: page for depth, title, page in _outline(book) if depth == 0}
    for family, pages in read_pages():
        text = _squeezed(" ".join(_texts()[where[family.name] - 1 : where[family.name] + 1]))
        assert _squeezed("Levels, and what earns the next") in text
        assert [one.exercise.slug for one in pages if _squeezed(one.exercise.name) not in text] == []


def test_the_index_names_kit_and_regions_with_their_exercises(book: PdfReader) -> None:
    where = {title: page for depth, title, page in _outline(book)}
    index = " ".join(_texts()[where["Index by kit"] - 1 :])
    for exercise in Exercise.objects.all():
        name = _squeezed(f"{exercise.name}{where[exercise.name]}")
        assert _squeezed(index).count(name) >= 1, exercise.slug
    kit, regions = index.split("Index by region")
    assert "Kettlebell:" in kit
    assert "Knee:" in regions
    assert "Goblet squat" in kit[kit.index("Kettlebell:") : kit.index("Dumbbell:")]


def test_figures_are_drawn_and_the_same_library_gives_the_same_bytes(book: PdfReader) -> None:
    where = {title: page for depth, title, page in _outline(book)}
    forms = book.pages[where["Goblet squat"] - 1]["/Resources"]["/XObject"]
    (figure,) = [forms[name] for name in forms if "figure-goblet-squat" in name]
    assert len(figure.get_data()) > 1000
    assert handbook_pdf(read_pages(), COVER) == _made()


def test_headings_are_in_the_language_that_is_asked_for(db: None) -> None:
    with translation.override("fr"):
        text = PdfReader(io.BytesIO(handbook_pdf(read_pages()[:1], COVER)))
    assert text.root_object["/Lang"] == "fr"


@pytest.mark.parametrize("part", range(4))
def test_every_exercise_fits_on_one_sheet_with_everything_on_it(db: None, part: int) -> None:
    for exercise in Exercise.objects.order_by("slug")[part::8]:
        page = read_page(exercise)
        sheet = PdfReader(io.BytesIO(sheet_pdf(page, COVER)))
        assert len(sheet.pages) == 1, exercise.slug
        text = _squeezed(sheet.pages[0].extract_text())
        steps = [one.words for one in (*page.harder, *page.easier, *page.instead)]
        said = [exercise.name, page.purpose, *page.set_up, *page.cues, *steps, "This is not medical advice."]
        assert [words for words in said if _squeezed(words) not in text] == []


# --- made by a worker -------------------------------------------------------------------------------------------------


@pytest.fixture
def who(db: None) -> people.People:
    return people.wexenfold()


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The library's first family stands for all of it; which lengths were drawn."""
    drawn: list[int] = []

    def draw(pages: list, cover: Cover, note: object) -> bytes:
        drawn.append(len(pages))
        return b"%PDF of " + cover.club.encode()

    monkeypatch.setattr(handbooks, "handbook_pdf", draw)
    return drawn


def test_asking_twice_makes_one_and_a_worker_makes_it_once(who: people.People, quick: list[int]) -> None:
    with access.within(who.club):
        for _time in range(2):
            handbooks.want(club=who.club, language="en-gb", by=who.coach, now=people.NOW)
        assert Handbook.objects.count() == 1
    assert tasks.make_handbooks() == 1
    assert tasks.make_handbooks() == 0
    assert len(quick) == 1
    with access.within(who.club):
        row = Handbook.objects.get()
        assert bytes(row.pdf) == b"%PDF of Wexenfold Hill Riders"
        assert row.made_at


def test_a_handbook_that_fails_says_why_and_stops_no_other(
    who: people.People, monkeypatch: pytest.MonkeyPatch
) -> None:
    others = people.strangers()
    for club, coach in ((who.club, who.coach), (others.club, others.coach)):
        with access.within(club):
            handbooks.want(club=club, language="en-gb", by=coach, now=people.NOW)

    def draw(pages: list, cover: Cover, note: object) -> bytes:
        if cover.club == who.club.name:
            raise RuntimeError("no room on the disk")
        return b"%PDF"

    monkeypatch.setattr(handbooks, "handbook_pdf", draw)
    assert tasks.make_handbooks() == 1
    client = Client()
    client.force_login(who.coach.user)
    page = client.get(reverse("handbook")).content.decode()
    assert "no room on the disk" in page
    with access.within(who.club):
        assert not handbooks.want(club=who.club, language="en-gb", by=who.coach, now=people.NOW).fault


def test_what_another_worker_holds_is_left_until_its_lease_is_over(
    who: people.People, quick: list[int]
) -> None:
    with access.within(who.club):
        row = handbooks.want(club=who.club, language="en-gb", by=who.coach, now=people.NOW)
        Handbook.objects.filter(pk=row.pk).update(claimed_at=people.NOW)
    assert handbooks.make_due(clock=lambda: people.NOW + handbooks.LEASE / 2) == 0
    assert handbooks.make_due(clock=lambda: people.NOW + handbooks.LEASE * 2) == 1


def test_a_changed_library_or_name_needs_a_new_handbook(who: people.People) -> None:
    with access.within(who.club):
        before = handbooks.digest_of(who.club)
        assert handbooks.digest_of(who.club) == before
        who.club.name = "Wexenfold Hill Climbers"
        assert handbooks.digest_of(who.club) != before


def test_the_page_asks_shows_progress_and_offers_the_file(who: people.People, quick: list[int]) -> None:
    client = Client()
    client.force_login(who.assistant.user)
    home = reverse("handbook")
    assert "Make the handbook" in client.get(home).content.decode()
    assert client.get(reverse("handbook-file")).status_code == 404
    asked = client.post(home, {"language": "fr"})
    assert asked.headers["Location"] == f"{home}?language=fr"
    waiting = client.get(asked.headers["Location"]).content.decode()
    assert "waiting for a worker" in waiting
    assert 'hx-trigger="load delay:2s"' in waiting
    with access.within(who.club):
        Handbook.objects.update(total=141, done=40)
    assert (
        '<progress id="drawn-bar" value="40" max="141"' in client.get(f"{home}?language=fr").content.decode()
    )
    tasks.make_handbooks()
    htmx = {"HX-Request": "true"}
    part = client.get(reverse("handbook-progress"), {"language": "fr"}, headers=htmx).content.decode()
    assert "<html" not in part
    assert "Open the handbook" in part
    assert "hx-get" not in part
    file = client.get(reverse("handbook-file"), {"language": "fr"})
    assert file.content.startswith(b"%PDF")
    assert 'filename="exercise-handbook-fr.pdf"' in file.headers["Content-Disposition"]
    assert client.post(home, {"language": "tlh"}).status_code == 404


def test_a_sheet_is_one_press_from_its_exercise(who: people.People) -> None:
    client = Client()
    client.force_login(who.assistant.user)
    page = client.get(reverse("exercise", args=["goblet-squat"])).content.decode()
    address = reverse("exercise-sheet", args=["goblet-squat"])
    assert f'href="{address}"' in page
    assert client.get(address).headers["Content-Type"] == "application/pdf"
    assert client.get(reverse("exercise-sheet", args=["no-such-exercise"])).status_code == 404
