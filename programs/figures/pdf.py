"""A drawing on a PDF page, with ReportLab: straight on a canvas, or as a Drawing that flows with text.

On a canvas each figure is a form: written once a file, however often it stands in it, and computed and compressed once
a process. The same figure always gives the same bytes.
"""

import zlib
from dataclasses import replace
from functools import lru_cache

from reportlab.graphics.shapes import Drawing as Graphic
from reportlab.graphics.shapes import Group, Path
from reportlab.lib.colors import Color, HexColor
from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFName, PDFStream
from reportlab.pdfgen.canvas import Canvas

from programs.figures.drawing import Drawing, drawn
from programs.figures.shapes import Polygon, Shape, Tone

#: Ink and greys that stay apart on a black and white printer.
INK, GREY, LIGHT, PAPER = HexColor("#1f1a24"), HexColor("#857c88"), HexColor("#e9e6e4"), HexColor("#ffffff")
COLOURS = {
    Tone.NEAR: INK,
    Tone.KIT: INK,
    Tone.MOVE: INK,
    Tone.FAR: GREY,
    Tone.ROOM: GREY,
    Tone.SHADE: LIGHT,
    Tone.HOLLOW: HexColor("#cdc9c9"),
}


def figure_pdf(slug: str, *, width: float = 85.0) -> Graphic | None:
    """The figure as a ReportLab drawing that many points wide (85 are 30 mm); None where no pose is written."""
    drawing = drawn(slug)
    return draw_pdf(drawing, width=width) if drawing else None


def draw_pdf(drawing: Drawing, *, width: float = 85.0) -> Graphic:
    """The drawing as a ReportLab drawing."""
    scale = width / drawing.width
    group = Group(*[path for shape in drawing.shapes for path in _paths(shape)])
    group.scale(scale, scale)
    graphic = Graphic(width, drawing.height * scale)
    graphic.add(group)
    return graphic


def _paths(shape: Shape) -> list[Path]:
    made: list[Path] = []
    if shape.gap:
        rim = replace(shape, polygons=shape.rimmed)
        made.append(_path(rim, PAPER if shape.fill else None, PAPER, shape.width + 2 * shape.gap))
    fill = COLOURS[shape.fill] if shape.fill else None
    stroke = COLOURS[shape.stroke] if shape.stroke else None
    made.append(_path(shape, fill, stroke, shape.width))
    return made


def _path(shape: Shape, fill: Color | None, stroke: Color | None, width: float) -> Path:
    path = Path(
        fillColor=fill, strokeColor=stroke, strokeWidth=width, strokeLineJoin=1, strokeLineCap=1, fillMode=1
    )
    for polygon in shape.polygons:
        path.moveTo(*polygon[0])
        for point in polygon[1:]:
            path.lineTo(*point)
        if shape.closed:
            path.closePath()
    return path


def draw_on_canvas(canvas: Canvas, slug: str, x: float, top: float, width: float) -> float:
    """The figure stands on the page, its upper left corner there; how high it is, in points (0: no pose)."""
    drawing = drawn(slug)
    if drawing is None:
        return 0.0
    scale = width / drawing.width
    height = drawing.height * scale
    name = f"figure-{slug}"
    if not canvas.hasForm(name):
        _make_form(canvas, name, drawing)
    canvas.saveState()
    canvas.translate(x, top - height)
    canvas.scale(scale / _FINER, scale / _FINER)
    canvas.doForm(name)
    canvas.restoreState()
    return height


#: A form is written in whole numbers, so many to a unit: at a width of 30 mm each is a thirtieth of a millimetre.
_FINER = 4
#: Lines may reach so far beyond the sheet, in units.
_BEYOND = 2


def _make_form(canvas: Canvas, name: str, drawing: Drawing) -> None:
    content = PDFStream(PDFDictionary({"Filter": PDFName("FlateDecode")}), _content(drawing))
    edge = _BEYOND * _FINER
    canvas.beginForm(
        name,
        -edge,
        -edge,
        round(drawing.width * _FINER) + edge,
        round(drawing.height * _FINER) + edge,
    )
    canvas.endForm(Contents=content, Resources=PDFDictionary())


@lru_cache(maxsize=512)
def _content(drawing: Drawing) -> bytes:
    """What draws the figure, compressed."""
    lines = ["1 j 1 J"]
    for shape in drawing.shapes:
        if shape.gap:
            rim = replace(shape, polygons=shape.rimmed)
            lines += _ink(rim, PAPER if shape.fill else None, PAPER, shape.width + 2 * shape.gap)
        fill = COLOURS[shape.fill] if shape.fill else None
        stroke = COLOURS[shape.stroke] if shape.stroke else None
        lines += _ink(shape, fill, stroke, shape.width)
    return zlib.compress("\n".join(lines).encode("ascii"), 9)


def _ink(shape: Shape, fill: Color | None, stroke: Color | None, width: float) -> list[str]:
    lines = []
    if fill:
        lines.append(f"{_rgb(fill)} rg")
    if stroke:
        lines.append(f"{_rgb(stroke)} RG {round(width * _FINER)} w")
    lines += [_outline(polygon, shape.closed) for polygon in shape.polygons]
    lines.append("B" if fill and stroke else "f" if fill else "S")
    return lines


def _rgb(colour: Color) -> str:
    return " ".join(f"{part:.3f}" for part in colour.rgb())


def _outline(polygon: Polygon, closed: bool) -> str:
    """The outline in whole numbers, without the points that do not bend it."""
    points: list[tuple[int, int]] = []
    for x, y in polygon:
        point = (round(x * _FINER), round(y * _FINER))
        while len(points) > 1 and _is_straight(points[-2], points[-1], point):
            points.pop()
        if not points or point != points[-1]:
            points.append(point)
    first, *others = (f"{x} {y}" for x, y in points)
    return f"{first} m " + "".join(f"{other} l " for other in others) + ("h" if closed else "")


def _is_straight(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> bool:
    """Whether the way from a over b to c has no bend."""
    return (b[0] - a[0]) * (c[1] - b[1]) == (b[1] - a[1]) * (c[0] - b[0])
