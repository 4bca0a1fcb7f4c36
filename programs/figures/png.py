"""A drawing as a PNG for mail: grey in sixteen steps on white, drawn large and made smaller, a few kilobytes."""

from functools import lru_cache
from io import BytesIO

from PIL import Image, ImageDraw

from programs.figures.drawing import Drawing, drawn
from programs.figures.shapes import Polygon, Shape, Tone, grown

#: Grey of each tone, 0 black to 255 white.
GREYS = {
    Tone.NEAR: 30,
    Tone.KIT: 30,
    Tone.MOVE: 30,
    Tone.FAR: 128,
    Tone.ROOM: 128,
    Tone.SHADE: 232,
    Tone.HOLLOW: 205,
}
_FINER = 3


@lru_cache(maxsize=512)
def figure_png(slug: str, *, width: int = 240, scale: int = 2) -> bytes | None:
    """The figure `width` wide, in `scale` times as many pixels; None where no pose is written."""
    drawing = drawn(slug)
    return draw_png(drawing, width=width, scale=scale) if drawing else None


def draw_png(drawing: Drawing, *, width: int = 240, scale: int = 2) -> bytes:
    """The drawing as a PNG file."""
    buffer = BytesIO()
    picture = draw_image(drawing, width=width, scale=scale)
    steps = picture.point(lambda grey: grey // 17 * 17)
    steps.quantize(16).save(buffer, "PNG", optimize=True)
    return buffer.getvalue()


def draw_image(drawing: Drawing, *, width: int = 240, scale: int = 2) -> Image.Image:
    """The drawing as a grey picture."""
    unit = width * scale * _FINER / drawing.width
    tall = round(drawing.height * width * scale / drawing.width)
    image = Image.new("L", (width * scale * _FINER, tall * _FINER), 255)
    pen = ImageDraw.Draw(image)
    for shape in drawing.shapes:
        _draw(pen, shape, drawing.height, unit)
    return image.reduce(_FINER)


def _draw(pen: ImageDraw.ImageDraw, shape: Shape, height: float, unit: float) -> None:

    def place(polygons: tuple[Polygon, ...]) -> list[Polygon]:
        return [tuple((x * unit, (height - y) * unit) for x, y in polygon) for polygon in polygons]

    placed = place(shape.polygons)
    if shape.gap and shape.closed and shape.fill:
        far = shape.gap + shape.width / 2
        _fill(pen, place(tuple(grown(one, far) for one in shape.rimmed)), 255)
    elif shape.gap:
        _stroke(pen, placed, shape.closed, (shape.width + 2 * shape.gap) * unit, 255)
    if shape.fill:
        _fill(pen, placed, GREYS[shape.fill])
    if shape.stroke:
        _stroke(pen, placed, shape.closed, shape.width * unit, GREYS[shape.stroke])


def _fill(pen: ImageDraw.ImageDraw, polygons: list[Polygon], grey: int) -> None:
    for polygon in polygons:
        pen.polygon(polygon, fill=grey)


def _stroke(pen: ImageDraw.ImageDraw, polygons: list[Polygon], closed: bool, wide: float, grey: int) -> None:
    half = wide / 2
    for polygon in polygons:
        line = [*polygon, polygon[0]] if closed else list(polygon)
        pen.line(line, fill=grey, width=max(1, round(wide)), joint="curve")
        for x, y in (line[0], line[-1]):
            pen.ellipse((x - half, y - half, x + half, y + half), fill=grey)
