"""Exercise figures: drawn from joint angles, as SVG, on a PDF page and as PNG, and what twenty of them weigh.

The floor of drawing is as many lines written out raw: each point of the finished outlines formatted as a step of an SVG
path, with no body, no perspective and no hull behind it. That of a PDF page is
the page without them.
"""

import gzip
import io
from statistics import median

import pytest
from reportlab.pdfgen.canvas import Canvas

from programs.figures import draw_on_canvas
from programs.figures.drawing import Drawing, draw, drawn
from programs.figures.png import draw_png
from programs.figures.reading import read_poses
from programs.figures.svg import draw_svg
from tests.benchmarks.figures import note, seconds_of

pytestmark = pytest.mark.bench
FIGURES = 20


def write_lines(drawing: Drawing) -> str:
    """The drawing's outlines as paths, each point by itself."""
    return "".join(
        f'<path d="M{" ".join(f"{round(10 * x)} {round(10 * y)}" for x, y in polygon)}"/>'
        for shape in drawing.shapes
        for polygon in shape.polygons
    )


def test_a_figure_drawn() -> None:
    poses = list(read_poses().values())
    drawings = [draw(pose) for pose in poses]
    taken = [
        seconds_of([lambda p=pose: draw_svg(draw(p), "a"), lambda d=one: write_lines(d)], times=5)  # type: ignore[misc]
        for pose, one in zip(poses, drawings, strict=True)
    ]
    figure, floor = (1000 * median(times) for times in zip(*taken, strict=True))
    note(f"figure, drawn and as SVG, median of {len(poses)}", figure=figure, floor=floor, unit="ms")
    again = seconds_of([lambda: [draw_svg(one, "a") for one in drawings]], times=3)[0] / len(drawings)
    note("figure, as SVG once drawn", figure=1000 * again, unit="ms")
    picture = seconds_of([lambda: [draw_png(one) for one in drawings[:FIGURES]]], times=2)[0] / FIGURES
    note("figure, as PNG, once a process", figure=1000 * picture, unit="ms")
    assert figure > floor


def test_figures_on_a_page() -> None:
    slugs = sorted(read_poses())[:FIGURES]

    def set_page(again: int) -> bytes:
        buffer = io.BytesIO()
        canvas = Canvas(buffer, invariant=1, pageCompression=1)
        for _ in range(again):
            for number, slug in enumerate(slugs):
                draw_on_canvas(canvas, slug, 20 + 90 * (number % 5), 800 - 90 * (number // 5), 85)
        canvas.save()
        return buffer.getvalue()

    once, twice, empty = seconds_of([lambda: set_page(1), lambda: set_page(2), lambda: set_page(0)], times=9)
    note(f"PDF page of {FIGURES} figures", figure=1000 * once, floor=1000 * empty, unit="ms")
    note(f"PDF page of {FIGURES} figures, each twice", figure=1000 * twice, floor=1000 * once, unit="ms")
    note(f"PDF page of {FIGURES} figures, kB", figure=len(set_page(1)) / 1000)


def test_what_twenty_figures_weigh() -> None:
    page = "".join(draw_svg(one, "A figure") for one in map(drawn, sorted(read_poses())[:FIGURES]) if one)
    note(f"{FIGURES} figures in a web page, kB", figure=len(page) / 1000)
    note(f"{FIGURES} figures in a web page, compressed, kB", figure=len(gzip.compress(page.encode())) / 1000)
