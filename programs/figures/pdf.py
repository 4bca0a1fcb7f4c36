"""A drawing on a PDF page, with ReportLab: straight on a canvas, or as a Drawing that flows with text."""

from dataclasses import replace

from reportlab.graphics.shapes import Drawing as Graphic
from reportlab.graphics.shapes import Group, Path
from reportlab.lib.colors import Color, HexColor
from reportlab.pdfgen.canvas import Canvas

from programs.figures.drawing import Drawing, drawn
from programs.figures.shapes import Shape, Tone

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
    canvas.saveState()
    canvas.translate(x, top - height)
    canvas.scale(scale, scale)
    canvas.setLineJoin(1)
    canvas.setLineCap(1)
    for shape in drawing.shapes:
        if shape.gap:
            rim = replace(shape, polygons=shape.rimmed)
            _ink(canvas, rim, PAPER if shape.fill else None, PAPER, shape.width + 2 * shape.gap)
        fill = COLOURS[shape.fill] if shape.fill else None
        stroke = COLOURS[shape.stroke] if shape.stroke else None
        _ink(canvas, shape, fill, stroke, shape.width)
    canvas.restoreState()
    return height


def _ink(canvas: Canvas, shape: Shape, fill: Color | None, stroke: Color | None, width: float) -> None:
    path = canvas.beginPath()
    for polygon in shape.polygons:
        path.moveTo(*polygon[0])
        for point in polygon[1:]:
            path.lineTo(*point)
        if shape.closed:
            path.close()
    if fill:
        canvas.setFillColor(fill)
    if stroke:
        canvas.setStrokeColor(stroke)
        canvas.setLineWidth(width)
    canvas.drawPath(path, stroke=1 if stroke else 0, fill=1 if fill else 0, fillMode=1)
