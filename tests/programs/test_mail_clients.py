"""The mail against what clients support (tests/reference/mail_support.py says whose data that is)."""

import re
from typing import Any

import pytest

from tests.programs.examples import sheet
from tests.programs.test_mail import alert, all_new, body, read, tree, week
from tests.reference.mail_support import CLIENTS, support

#: What some main client lacks, and what its reader sees then. Nothing else may be missing anywhere.
GIVES_WAY = {
    "css-at-media-prefers-color-scheme": "the light colours, which read in the dark too",
    "html-meta-color-scheme": "the client's own dark colours, or none",
    "css-overflow-wrap": "a very long name reaches over the edge; the address below a button breaks by word-break",
    "css-word-wrap": "as above; it is the older name of the same",
    "css-word-break": "a long address reaches over the edge of its cell",
    "css-table-layout": "columns as wide as their words",
    "css-box-sizing": "bars of the week two pixels larger",
    "css-height": "bars of the week as high as a line; the words below say the same",
    "html-aria-label": "the marks of the week are not said; the text part says them in words",
    "html-doctype": "the client's own document",
    "html-body": "the page's colour is the client's",
}
#: Values and properties by the name that the data has for them, where it is another.
_NAMES = {
    "border-top": "css-border",
    "border-bottom": "css-border",
    "border-top-color": "css-border",
    "border-bottom-color": "css-border",
    "border-color": "css-border",
    "margin-left": "css-margin",
    "padding-top": "css-padding",
    "padding-left": "css-padding",
    "font-family": "css-font",
}
#: As old as HTML and CSS; the data has no entry for them.
_PLAIN = {"color", "html", "head", "title", "meta", "tbody", "tr", "td", "br", "a", "thead"}
_ELEMENTS = {
    "h1": "html-h1-h6",
    "h2": "html-h1-h6",
    "ul": "html-lists",
    "li": "html-lists",
    "img": "html-img",
}
_ATTRIBUTES = {
    "role": "html-role",
    "aria-label": "html-aria-label",
    "align": "html-align",
    "width": "html-width",
    "height": "html-height",
    "lang": "html-lang",
}


def properties_of(html: str, document: Any) -> set[str]:
    """The CSS properties of style attributes and of the style element."""
    inline = ";".join(element.get("style", "") for element in document.iter())
    sheets = " ".join(element.text or "" for element in document.iter("style"))
    inner = ";".join(re.findall(r"\{([^{}]*)\}", sheets))
    return {part.split(":")[0].strip() for part in f"{inline};{inner}".split(";") if ":" in part}


def features_of(html: str) -> set[str]:
    """Everything of the HTML that the data knows, by its name there, and by its own name what it does not."""
    document = tree(html)
    used = {"html-doctype", "css-unit-px", "css-unit-percent"}
    for name in properties_of(html, document) - _PLAIN:
        used.add(_NAMES.get(name, f"css-{name}"))
    for element in document.iter():
        if element.tag not in _PLAIN:
            used.add(_ELEMENTS.get(element.tag, f"html-{element.tag}"))
        used |= {_ATTRIBUTES[name] for name in element.attrib if name in _ATTRIBUTES}
        if element.get("name") == "color-scheme":
            used.add("html-meta-color-scheme")
    if "prefers-color-scheme" in html:
        used.add("css-at-media-prefers-color-scheme")
    if "!important" in html:
        used.add("css-important")
    if "cid:" in html:
        used.add("image-png")
    if "data:" in html:
        used.add("image-base64")
    return used


def lacking(feature: str) -> list[str]:
    """The main clients that do not support it at all."""
    return [
        " ".join(client) for client, letter in zip(CLIENTS, support()[feature], strict=True) if letter == "n"
    ]


@pytest.fixture(scope="module")
def used() -> set[str]:
    return features_of(body(read(week(all_new(sheet(2)))), "html")) | features_of(
        body(read(alert("Jo").as_bytes()), "html")
    )


def test_every_feature_of_the_mail_is_one_that_was_tested(used: set[str]) -> None:
    assert sorted(used - support().keys()) == []


def test_nothing_in_the_mail_is_missing_in_a_main_client_but_what_may_give_way(used: set[str]) -> None:
    assert {feature: lacking(feature) for feature in used - GIVES_WAY.keys() if lacking(feature)} == {}


def test_what_may_give_way_is_used_and_is_missing_somewhere(used: set[str]) -> None:
    assert used >= GIVES_WAY.keys()
    assert [feature for feature in GIVES_WAY if not lacking(feature)] == []


def test_pictures_are_attached_because_one_in_its_address_is_not_shown_everywhere() -> None:
    assert lacking("image-base64") == ["gmail android", "gmail desktop-webmail", "gmail ios"]
    assert lacking("image-png") == lacking("html-img") == []
