"""Every sentence that a person reads can be translated.

Two guards. The pages are asked for with a translation that wraps each text in brackets: a word outside brackets that is
no data was never given to the translator. And each template is read as written, so that branches which no page above
happens to take are held as well.
"""

import re
from collections.abc import Callable, Iterator
from email import message_from_bytes, policy
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from string import Formatter
from typing import Any

import pytest
from django.conf import settings
from django.db import models
from django.template.base import Lexer, TokenType
from django.utils import translation
from django.utils.translation import gettext, gettext_lazy, ngettext, pgettext, trans_real

from athletes import access
from athletes.models import Delivery
from athletes.notices import CONSENTS
from coaching.desk import figures
from programs import letters, wording
from tests.pages import CAUGHT, GET, LINK, POST, Page, Visitors, catch_a_mail, go, pages
from tests.world import WORLD_NOW, Season, World, built_world, project_models

__all__ = ["built_world"]

OPENS, CLOSES = "\u27e6", "\u27e7"
#: What is the same in every language: the name, units, formats, what stands for a missing value.
SAME_EVERYWHERE = {
    "Ballast",
    "kg",
    "lb",
    "min",
    "s",
    "h",
    "x",
    "A4",
    "Letter",
    "CSV",
    "XLSX",
    "PDF",
    "UTF",
    "ics",
    "csv",
}
#: Attributes that are read to or by people.
READ_ALOUD = {"alt", "title", "aria-label", "aria-description", "aria-valuetext", "placeholder", "label"}
#: Pages that are not ours to translate: the mails that the demo caught, as they were sent, and a machine's "ok".
AS_THEY_CAME = {"caught-message", "caught-part", "mailbox", "healthz", "stop-mail"}
WORD = re.compile(r"[^\W\d_]+")
#: The number of a rule, as the rules are numbered everywhere.
RULE = re.compile(r"\b[A-Z]{1,2}\d{1,2}\b")
#: How codes are stored, as opposed to what a person wrote.
CODE = re.compile(r"[a-z0-9_:-]+")
#: Documents in which people wrote words: the reviewed library, and roster files.
WRITTEN_IN_JSON = {
    ("ClubExercise", "document"),
    ("Exercise", "document"),
    ("ShippedExercise", "document"),
    ("RosterImport", "rows"),
    ("RosterImport", "headings"),
}


# --- pages ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bracketed() -> Iterator[None]:
    """Whatever goes through the translator comes back in brackets."""
    originals = {name: getattr(trans_real, name) for name in ("gettext", "ngettext", "pgettext", "npgettext")}

    def wrap(original: Callable[..., str]) -> Callable[..., str]:
        def translated(*arguments: Any) -> str:
            text = original(*arguments)
            return f"{OPENS}{text}{CLOSES}" if text else text

        return translated

    with pytest.MonkeyPatch.context() as patch:
        for name, original in originals.items():
            patch.setattr(translation._trans, name, wrap(original), raising=False)
        yield


class Brackets:
    """Reads text piece by piece and keeps what stands outside all brackets, which may be nested and span pieces."""

    def __init__(self) -> None:
        self._depth = 0

    def outside(self, text: str) -> str:
        kept = []
        for character in text:
            self._depth += (character == OPENS) - (character == CLOSES)
            if self._depth == 0 and character != CLOSES:
                kept.append(character)
        return "".join(kept)


class Words(HTMLParser):
    """The text of a page that stands outside brackets, with that of the attributes which people read.

    The names of time zones are the standard's own (the IANA database), in whatever language.
    """

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._silent = 0
        self._brackets = Brackets()

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        names = dict(attributes)
        if tag in ("script", "style") or (tag == "select" and (names.get("name") or "").endswith("zone")):
            self._silent += 1
        if self._silent:
            return
        read = READ_ALOUD | ({"value"} if tag == "input" and names.get("type") == "submit" else set())
        self.texts += [Brackets().outside(value) for name, value in attributes if name in read and value]

    def handle_endtag(self, tag: str) -> None:
        if self._silent and tag in ("script", "style", "select"):
            self._silent -= 1

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.texts.append(self._brackets.outside(data))


def texts_of(html: str) -> list[str]:
    """What of a page stands outside brackets."""
    words = Words()
    words.feed(html)
    return words.texts


def data_of(season: Season) -> list[str]:
    """What people called things: every text in the rows of a club and of the library, the longest first.

    Codes are left out, so that a page which shows one as it is stored is found.
    """
    found: set[str] = set()
    with access.within(season.club):
        for model in project_models():
            for field in model._meta.local_concrete_fields:
                is_text = isinstance(field, models.CharField | models.TextField) and not field.choices
                if is_text or (model.__name__, field.name) in WRITTEN_IN_JSON:
                    for value in model._base_manager.values_list(field.attname, flat=True):
                        found |= set(_strings(value))
    return sorted(
        (text for text in found if WORD.search(text) and not CODE.fullmatch(text)), key=len, reverse=True
    )


def _strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield " ".join(value.split())
    elif isinstance(value, dict):
        for each in value.values():
            yield from _strings(each)
    elif isinstance(value, list):
        for each in value:
            yield from _strings(each)


#: Examples of how kit and times are typed: the notation that the roster reads, which is the same for everybody.
NOTATION = re.compile(
    r"(?:\d+ )?(?:adjustable )?(?:kettlebell|dumbbells?|barbell|band|vest|chair)\b[\w .,;]*"
    r"|(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun|morning)\b[\w .,;:-]*"
)


def untranslated(texts: list[str], data: list[str]) -> list[str]:
    """What is left of the texts without what was translated, what is data, and what is the same everywhere."""
    found = []
    for text in texts:
        left = RULE.sub(" ", " ".join(text.split()))
        if not set(WORD.findall(left)) <= SAME_EVERYWHERE:
            for each in data:
                if each in left:
                    left = re.sub(rf"(?<!\w){re.escape(each)}(?!\w)", " ", left)
        if not set(WORD.findall(left)) <= SAME_EVERYWHERE:
            found.append(left.strip())
    return [left for left in found if not NOTATION.fullmatch(left)]


@pytest.fixture(scope="module")
def data(built_world: World) -> list[str]:
    return [*data_of(built_world.ours), CAUGHT, *CONSENTS]


@pytest.fixture(scope="module")
def answers(
    built_world: World, bracketed: None, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[[Page], list[str]]]:
    """The pages of an address, by GET and in answer to an empty form."""
    visitors = Visitors(built_world)
    folder = tmp_path_factory.mktemp("mailbox")
    catch_a_mail(folder)

    @cache
    def ask(page: Page) -> list[str]:
        client = visitors(LINK if page.purposes else "owner", page)
        found = [go(client, page, method, built_world.ours) for method in (GET, POST)]
        return [one.content.decode() for one in found if one.get("Content-Type", "").startswith("text/html")]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "MAILBOX", str(folder))
        yield ask


@pytest.mark.parametrize("page", [page for page in pages() if page.name not in AS_THEY_CAME], ids=str)
def test_every_word_of_a_page_went_through_the_translator(
    answers: Callable[[Page], list[str]], data: list[str], page: Page
) -> None:
    for html in answers(page):
        left = untranslated(texts_of(html), data)
        assert not left, "\n".join(left)


def test_every_word_of_a_weekly_mail_went_through_the_translator(
    built_world: World, bracketed: None, data: list[str]
) -> None:
    season = built_world.ours
    with access.within(season.club):
        delivery = Delivery.objects.select_related("rider", "coach").get(
            rider=season.people.rider, payload__plan=season.sent.pk
        )
        message = message_from_bytes(
            letters.make(delivery=delivery, message_id="<1@ballast.example>", now=WORLD_NOW),
            policy=policy.default,
        )
    texts = [Brackets().outside(message["Subject"])]
    for part in message.walk():
        if part.get_content_type() == "text/plain":
            texts += Brackets().outside(re.sub(r"https?://\S+", "", part.get_content())).splitlines()
        elif part.get_content_type() == "text/html":
            texts += texts_of(re.sub(r">https?://[^<]*<", "><", part.get_content()))
    assert len(texts) > 20
    left = untranslated(texts, data)
    assert not left, "\n".join(left)


def test_a_word_that_was_never_marked_would_be_noticed(bracketed: None) -> None:
    html = (
        f'<h1 title="Riders">{gettext("Riders")} Okeldene</h1><p>{ngettext("one rider", "many riders", 2)}, 12 kg</p>'
        f"<p>{pgettext('a day', 'May')} {gettext_lazy('Desk')} Save</p><script>var text</script>"
    )
    assert untranslated(texts_of(html), ["Okeldene"]) == ["Riders", "Save"]


def test_every_figure_of_a_reason_has_a_name_and_a_member_of_a_vocabulary_its_words(bracketed: None) -> None:
    used = {name for text in wording.catalogue().values() for _, name, *_ in Formatter().parse(text) if name}
    assert len(used) > 50
    assert sorted(used - figures.NAMES.keys()) == []
    assert figures.value_of("region", "knee", {}) == f"{OPENS}knee{CLOSES}"
    assert figures.value_of("region", "elsewhere", {}) == "elsewhere"


# --- templates --------------------------------------------------------------------------------------------------------

TEMPLATES: Path = settings.BASE_DIR / "templates"
#: People on the page that shows the components.
INVENTED = ["Callum Dreebeck", "Brenna Cawdlow"]
#: The parts of a template between these tags are given to the translator, or to nobody.
TRANSLATED = {"blocktranslate": "endblocktranslate", "blocktrans": "endblocktrans", "comment": "endcomment"}


def unmarked(source: str) -> list[str]:
    """Words that a template holds outside of anything that is translated."""
    kept, until = [], ""
    for token in Lexer(source).tokenize():
        name = token.contents.split()[0] if token.contents.split() else ""
        if token.token_type == TokenType.BLOCK and until:
            until = "" if name == until else until
        elif token.token_type == TokenType.BLOCK:
            until = TRANSLATED.get(name, "")
            kept.append(" ")
        elif token.token_type == TokenType.TEXT and not until:
            kept.append(token.contents)
        elif token.token_type == TokenType.VAR:
            kept.append(" ")
    return untranslated(texts_of("".join(kept)), INVENTED)


@pytest.mark.parametrize(
    "path", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: str(path.relative_to(TEMPLATES))
)
def test_every_word_of_a_template_is_marked(path: Path) -> None:
    left = unmarked(path.read_text())
    assert not left, "\n".join(left)


@pytest.mark.parametrize(
    "path", sorted(TEMPLATES.rglob("*.txt")), ids=lambda path: str(path.relative_to(TEMPLATES))
)
def test_every_word_of_a_text_template_is_marked(path: Path) -> None:
    assert unmarked(path.read_text()) == []


def test_a_template_with_a_bare_word_would_be_noticed() -> None:
    source = (
        '{% load i18n %}{% comment %}Why{% endcomment %}<p title="Close">{% translate "Riders" %} Save {{ name }}</p>'
        "{% blocktranslate %}Hello {{ name }}{% endblocktranslate %}<b>12 kg</b>{# note #}"
    )
    assert unmarked(source) == ["Close", "Save"]
