"""Figures as SVG, PDF and PNG: valid, described, light, and the same each time."""

import gzip
import time
import xml.etree.ElementTree as ET
from io import BytesIO

import pytest
from django.template import Context, Template
from PIL import Image
from pypdf import PdfReader
from reportlab.graphics import renderPDF
from reportlab.pdfgen.canvas import Canvas

from programs.figures import draw_on_canvas, figure_pdf, figure_png, figure_svg
from programs.figures.__main__ import main
from programs.figures.drawing import WIDTH, draw
from programs.figures.png import draw_image, draw_png
from programs.figures.reading import read_poses
from programs.figures.shapes import Tone, bounds, capsule, circle, grown, hull
from programs.figures.svg import draw_svg

POSES = read_poses()
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("slug", sorted(POSES))
def test_the_svg_is_valid_described_and_has_no_style(slug: str) -> None:
    markup = figure_svg(slug, "Squat & <more>", "Start, then finish")
    assert markup is not None
    root = ET.fromstring(markup)
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None and title.text == "Squat & <more>"
    assert description is not None and description.text == "Start, then finish"
    assert root[0] is title
    assert all(element.get("id") is None for element in root.iter())
    assert root.get("role") == "img"
    for element in root.iter():
        assert element.get("style") is None
        assert element.tag in {f"{SVG}{name}" for name in ("svg", "title", "desc", "g", "path")}


@pytest.mark.parametrize("slug", sorted(POSES))
def test_everything_stays_on_its_sheet(slug: str) -> None:
    drawing = draw(POSES[slug])
    left, bottom, right, top = bounds(list(drawing.shapes))
    assert left >= -1 and bottom >= -1
    assert right <= WIDTH + 1 and top <= drawing.height + 1
    assert drawing.height <= 250


@pytest.mark.parametrize("slug", sorted(POSES))
def test_the_same_pose_is_drawn_the_same(slug: str) -> None:
    one, two = draw(POSES[slug]), draw(POSES[slug])
    assert draw_svg(one, "a") == draw_svg(two, "a")


def test_the_png_is_the_same_each_time_and_small_enough_for_mail() -> None:
    for slug in ("squat", "warm-up-pedal"):
        drawing = draw(POSES[slug])
        first = draw_png(drawing)
        assert first == draw_png(drawing)
        assert len(first) < 15_000
        picture = Image.open(BytesIO(first))
        assert picture.format == "PNG"
        assert picture.width == 480


def test_near_and_far_side_can_be_told_apart_in_grey() -> None:
    picture = draw_image(draw(POSES["split-squat"]), width=240, scale=1)
    greys = {grey for grey, count in enumerate(picture.histogram()) if count > 60}
    assert min(greys) < 60
    assert any(110 < grey < 150 for grey in greys)
    assert max(greys) == 255


def test_the_pdf_holds_the_figure_as_lines_and_not_as_a_picture() -> None:
    graphic = figure_pdf("squat", width=85)
    assert graphic is not None
    buffer = BytesIO()
    canvas = Canvas(buffer, invariant=1, pageCompression=0)
    renderPDF.draw(graphic, canvas, 50, 600)
    height = draw_on_canvas(canvas, "squat", 50, 500, 85)
    assert height == pytest.approx(graphic.height)
    canvas.save()
    page = PdfReader(BytesIO(buffer.getvalue())).pages[0]
    assert len(page.images) == 0
    drawn = page.get_contents()
    assert drawn is not None
    assert drawn.get_data().count(b" l") > 500


def test_an_exercise_without_a_pose_has_no_figure() -> None:
    assert figure_svg("no-such-exercise", "x") is None
    assert figure_png("no-such-exercise") is None
    assert figure_pdf("no-such-exercise") is None
    assert draw_on_canvas(Canvas(BytesIO()), "no-such-exercise", 0, 0, 85) == 0


def test_a_template_takes_the_figure_as_markup_and_its_title_as_text() -> None:
    page = Template("{{ figure }}").render(Context({"figure": figure_svg("squat", "<b>Squat</b>")}))
    assert page.startswith("<svg ")
    assert "&lt;b&gt;Squat&lt;/b&gt;" in page


def test_drawing_a_figure_takes_less_than_ten_milliseconds() -> None:
    """The processor's own time, the median of all, so that a busy machine does not matter."""
    taken = []
    for pose in POSES.values():
        started = time.process_time()
        draw_svg(draw(pose), "a")
        taken.append(time.process_time() - started)
    assert sorted(taken)[len(taken) // 2] < 0.010


def test_a_page_of_the_twenty_heaviest_figures_is_under_150_kb_on_the_way() -> None:
    every = sorted((draw_svg(draw(pose), "A figure of an exercise") for pose in POSES.values()), key=len)
    page = "".join(f"<li>{one}</li>" for one in every[-20:])
    assert len(gzip.compress(page.encode(), 6)) < 150_000


def test_sheets_are_written_for_every_family(tmp_path: object) -> None:
    assert main(["--into", str(tmp_path)]) == 0
    assert main(["squat", "--into", str(tmp_path)]) == 0
    written = {path.name for path in tmp_path.iterdir()}  # type: ignore[attr-defined]
    assert {"squat.png", "squat-small.png", "some.png"} <= written


def test_start_and_finish_stand_apart_and_a_hold_alone() -> None:
    assert draw(POSES["squat"]).positions == 2
    assert draw(POSES["wall-sit"]).positions == 1


def test_an_arrow_shows_the_way_of_a_movement() -> None:
    assert any(shape.fill is Tone.MOVE for shape in draw(POSES["squat"]).shapes)
    assert not any(shape.fill is Tone.MOVE for shape in draw(POSES["wall-sit"]).shapes)


def test_outlines_are_whole() -> None:
    assert hull([(0, 0), (2, 0), (2, 2), (0, 2), (1, 1)]) == ((0, 0), (2, 0), (2, 2), (0, 2))
    left, bottom, right, top = (
        min(x for x, _ in capsule((0, 0), 2, (10, 0), 1)),
        min(y for _, y in capsule((0, 0), 2, (10, 0), 1)),
        max(x for x, _ in capsule((0, 0), 2, (10, 0), 1)),
        max(y for _, y in capsule((0, 0), 2, (10, 0), 1)),
    )
    assert (left, bottom, right, top) == pytest.approx((-2, -2, 11, 2), abs=0.1)
    far = [(x * x + y * y) ** 0.5 for x, y in grown(circle((0, 0), 5), 1.5)]
    assert far == pytest.approx([6.5] * 20, abs=0.1)
