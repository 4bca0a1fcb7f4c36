"""The look, held against published rules: contrast, shapes, the content security policy, the wiring of forms.

Sources: WCAG 2.2 (W3C Recommendation, 2023), success criteria 1.4.1, 1.4.3, 1.4.11, 3.3.1 and the definitions of
relative luminance and contrast ratio; CSP Level 3 (W3C) for what an inline style is.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import html5lib
import pytest
from django import forms
from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string

from coaching.specimen import MARKS, SpecimenForm, SpecimenReport

STATIC = settings.BASE_DIR / "coaching" / "static"
TEMPLATES = settings.BASE_DIR / "templates"
SHEETS = sorted((STATIC / "css").glob("*.css"))
SCRIPTS = sorted((STATIC / "js").glob("*.js"))
#: Mail and the card have no style sheet of ours; every other template is a web page or a part of one.
PAGES = sorted(
    path
    for path in TEMPLATES.rglob("*.html")
    if path.relative_to(TEMPLATES).parts[0] not in ("email", "print")
)

TEXT_ON_BACKGROUND = [
    (text, background)
    for text in ("ink", "slate", "plum", "plum-deep", "warm")
    for background in ("paper", "sheet", "plum-wash", "warm-wash")
] + [("paper", "ink"), ("paper", "plum"), ("paper", "plum-deep"), ("ink", "shade")]
OUTLINES = [("edge", "paper"), ("edge", "sheet"), ("plum", "paper"), ("warm", "paper"), ("slate", "shade")]


def without_comments(css: str) -> str:
    return re.sub(r"/\*.*?\*/", "", css, flags=re.DOTALL)


def colours(css: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-fA-F]{6})\b", css))


def schemes() -> dict[str, dict[str, str]]:
    css = without_comments((STATIC / "css" / "ballast.css").read_text())
    light, dark = css.split("@media (prefers-color-scheme: dark)", 1)
    dark = dark[: dark.index("}\n}")]
    paper = without_comments((STATIC / "css" / "print.css").read_text())
    return {"light": colours(light), "dark": colours(dark), "print": colours(paper)}


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_formula_gives_the_two_ends_that_wcag_names() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#6a2c63", "#6a2c63") == pytest.approx(1)


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize(("text", "background"), TEXT_ON_BACKGROUND)
def test_text_stands_out_by_the_4_5_of_wcag_1_4_3(scheme: str, text: str, background: str) -> None:
    values = schemes()[scheme]
    assert contrast(values[text], values[background]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize(("outline", "background"), OUTLINES)
def test_outlines_of_controls_stand_out_by_the_3_of_wcag_1_4_11(
    scheme: str, outline: str, background: str
) -> None:
    values = schemes()[scheme]
    assert contrast(values[outline], values[background]) >= 3


def test_every_colour_is_set_in_every_scheme_and_used_by_name() -> None:
    light, dark, paper = schemes().values()
    assert light.keys() == dark.keys() == paper.keys()
    for sheet in SHEETS:
        rules = re.sub(r"--[\w-]+:[^;]*;", "", without_comments(sheet.read_text()))
        named = set(re.findall(r"var\(--([\w-]+)\)", rules))
        known = set(re.findall(r"--([\w-]+):", (STATIC / "css" / "ballast.css").read_text()))
        assert named <= known, sheet.name
        if sheet.name != "print.css":
            assert not re.findall(r"#[0-9a-fA-F]{3,8}\b", rules), f"{sheet.name} names a colour by its figure"


def sizes_on_phones(css: str) -> Iterator[tuple[str, float]]:
    """Each font size in force below 48rem, in rem. A clamp counts with its least value."""
    css = without_comments(css)
    css = re.sub(r"@media \(min-width: [^{]*\{(?:[^{}]*\{[^{}]*\})*[^{}]*\}", "", css)
    names = "|".join(("font-size", "--small", "--body", "--large", "--heading", "--title", "--figure"))
    for name, value in re.findall(rf"({names}):\s*([^;]+);", css):
        if match := re.match(r"(?:clamp\()?([\d.]+)(rem|px|em|%)", value):
            figure, unit = float(match[1]), match[2]
            yield (
                f"{name}: {value}",
                {"rem": figure, "px": figure / 16, "em": figure, "%": figure / 100}[unit],
            )


def test_no_text_on_a_phone_is_under_16_px() -> None:
    seen = [
        pair for sheet in SHEETS if sheet.name != "print.css" for pair in sizes_on_phones(sheet.read_text())
    ]
    assert ("--small: 1rem", 1.0) in seen
    assert [name for name, size in seen if size < 1] == []


def test_the_font_is_served_from_here_with_its_licence() -> None:
    css = (STATIC / "css" / "ballast.css").read_text()
    files = re.findall(r'url\("\.\./fonts/([^"]+)"\)', css)
    assert files
    for name in files:
        assert (STATIC / "fonts" / name).read_bytes()[:4] == b"wOF2"
    assert "SIL OPEN FONT LICENSE" in (STATIC / "fonts" / "OFL.txt").read_text()


# --- the content security policy --------------------------------------------------------------------------------------


def test_the_policy_allows_no_inline_style_or_script() -> None:
    policy: dict[str, list[str]] = settings.SECURE_CSP
    for directive in ("script-src", "style-src"):
        assert not [source for source in policy[directive] if "unsafe" in source]


@pytest.mark.parametrize("page", PAGES, ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_a_template_holds_nothing_that_the_policy_would_block(page: Path) -> None:
    text = re.sub(r"\{% comment %\}.*?\{% endcomment %\}", "", page.read_text(), flags=re.DOTALL)
    assert not re.search(r"\sstyle\s*=", text), "inline style"
    assert not re.search(r"<style\b", text), "style element"
    assert not re.search(r"<script(?![^>]*\bsrc=)", text), "inline script"
    assert not re.search(r"<[^>]*\son\w+\s*=", text), "inline event handler"
    assert not re.search(r"hx-on|javascript:|js:\{", text), "script in an attribute"


@pytest.mark.parametrize("path", [*PAGES, *SHEETS, *SCRIPTS], ids=lambda path: path.name)
def test_nothing_is_fetched_from_another_host(path: Path) -> None:
    text = path.read_text().replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?:|[\"'(]//\w", text)
    assert "@import" not in text


def test_htmx_may_neither_evaluate_nor_inject_nor_remember() -> None:
    scripts = (TEMPLATES / "components" / "scripts.html").read_text()
    for setting in ('"allowEval":false', '"includeIndicatorStyles":false', '"historyCacheSize":0'):
        assert setting in scripts


def test_every_component_and_frame_says_how_it_is_used() -> None:
    parts = [*(TEMPLATES / "components").glob("*.html"), *TEMPLATES.glob("*.html")]
    assert parts
    assert [part.name for part in parts if "{% comment %}" not in part.read_text()[:80]] == []


# --- marks ------------------------------------------------------------------------------------------------------------


def drawn_marks() -> dict[str, str]:
    text = (TEMPLATES / "components" / "mark.html").read_text()
    return dict(re.findall(r"\{% partialdef ([\w-]+) %\}.*?<svg[^>]*>(.*?)</svg>", text))


def test_no_two_marks_have_the_same_shape() -> None:
    """WCAG 1.4.1: colour is never the only means. The fill is part of a shape, its colour is not."""
    shapes = drawn_marks()
    assert len(set(shapes.values())) == len(shapes)
    assert not [name for name, shape in shapes.items() if re.search(r'(fill|stroke)="#', shape)]


def test_the_specimen_shows_every_mark_beside_a_word() -> None:
    assert {name for name, word in MARKS if word} == drawn_marks().keys()


def test_a_state_is_a_word_with_a_hidden_mark() -> None:
    html = render_to_string("components/state.html", {"mark": "missed", "word": "Missed"})
    assert 'aria-hidden="true"' in html
    assert "Missed" in html


# --- forms ------------------------------------------------------------------------------------------------------------


class KitForm(forms.Form):
    """What the specimen's forms have not: a hidden field, two boxes for one value, an error of the whole form."""

    key = forms.CharField(widget=forms.HiddenInput)
    meets_at = forms.SplitDateTimeField(label="Meets at")
    size = forms.ChoiceField(
        label="Size", choices=[("Small", [("s", "S")]), ("Large", [("l", "L")])], widget=forms.RadioSelect
    )

    def clean(self) -> dict[str, Any]:
        raise forms.ValidationError("The two halves do not fit each other.")


BROKEN_FORMS = [
    pytest.param(SpecimenForm({"begins_on": "yesterday"}), id="plain"),
    pytest.param(SpecimenReport({"reps_1": "-3"}, prefix="report"), id="choices"),
    pytest.param(KitForm({}), id="parts"),
]


def parse(html: str) -> Any:
    return html5lib.parse(html, treebuilder="etree", namespaceHTMLElements=False)


@pytest.mark.parametrize("form", BROKEN_FORMS)
def test_each_listed_error_leads_to_a_control_of_its_field(form: forms.Form) -> None:
    tree = parse(str(form))
    controls = {
        element.get("id"): element.get("name")
        for tag in ("input", "select", "textarea")
        for element in tree.iter(tag)
    }
    links = [element.get("href") for element in tree.iter("a")]
    wrong = [
        name for name in form.errors if name != "__all__" and name in {f.name for f in form.visible_fields()}
    ]
    assert len(links) >= len(wrong) > 0
    for name, link in zip(wrong, links, strict=True):
        assert controls[link.removeprefix("#")].startswith(form.add_prefix(name))


@pytest.mark.parametrize("form", BROKEN_FORMS)
def test_what_describes_a_field_is_in_the_page(form: forms.Form) -> None:
    """WCAG 3.3.1 and 1.3.1: the error is tied to its field."""
    tree = parse(str(form))
    ids = [element.get("id") for element in tree.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    described = " ".join(element.get("aria-describedby") or "" for element in tree.iter()).split()
    assert described
    assert set(described) <= set(ids)


def test_an_error_of_the_whole_form_and_of_a_hidden_field_is_listed() -> None:
    html = str(KitForm({}))
    listed = html[html.index('class="errors"') : html.index('class="form-fields"')]
    assert "The two halves do not fit each other." in listed
    assert "This field is required." in re.sub(r"<a .*?</a>", "", listed)


def test_a_form_without_errors_lists_none() -> None:
    assert 'class="errors"' not in str(SpecimenForm())
    assert 'class="errors"' not in str(SpecimenForm({"name": "Masters", "begins_on": "2026-11-23"}))


def test_what_was_typed_comes_back_with_the_errors() -> None:
    html = str(SpecimenForm({"begins_on": "yesterday", "note": "Bring <towels>"}))
    assert 'value="yesterday"' in html
    assert "Bring &lt;towels&gt;" in html


def test_a_scale_leads_with_its_figure() -> None:
    html = str(SpecimenReport(prefix="report")["effort"])
    assert html.count('class="choice-figure"') == 11
    assert re.search(r'class="choice-figure">10</span>\s*<span>nothing left', html)


def test_a_formset_lists_the_errors_of_all_its_forms() -> None:
    squads = forms.formset_factory(SpecimenForm, extra=0)
    formset = squads(
        {"form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "2", "form-0-name": "Masters", "form-1-name": ""}
    )
    tree = parse(str(formset))
    assert [element.get("href") for element in tree.iter("a")] == [
        "#id_form-0-begins_on",
        "#id_form-1-name",
        "#id_form-1-begins_on",
    ]


# --- error pages ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "500"])
def test_an_error_page_comes_out_of_nothing_and_gives_nothing_away(name: str) -> None:
    html = render_to_string(f"{name}.html")
    told = render_to_string(
        f"{name}.html",
        {"exception": "Rider 7 of another club", "request_path": "/riders/7", "reason": "bad key"},
    )
    assert html == told
    assert "<h1>" in html
    assert "not medical advice" in html


def test_every_static_file_that_a_frame_names_is_there() -> None:
    html = render_to_string("rider_base.html")
    names = re.findall(rf'(?:href|src)="/?{re.escape(settings.STATIC_URL.strip("/"))}/([^"]+)"', html)
    assert {"css/ballast.css", "js/stepper.js", "mark.svg"} <= set(names)
    assert [name for name in names if not finders.find(name)] == []
