"""A drawing as an inline SVG element.

It is complete without a style sheet (presentation attributes, `currentColor`); the classes `figure-near`, `figure-far`
and so on let a style sheet say the colours of paper and of the far side, in light and in dark. No style attribute.
"""

from html import escape
from itertools import pairwise

from programs.figures.drawing import Drawing, drawn
from programs.figures.shapes import Polygon, Shape, Tone

#: What each tone is where no style sheet says otherwise: dark on white.
PAPER = "#ffffff"
COLOURS = {
    Tone.NEAR: "currentColor",
    Tone.KIT: "currentColor",
    Tone.MOVE: "currentColor",
    Tone.FAR: "#857c88",
    Tone.ROOM: "#857c88",
    Tone.SHADE: "#ece7df",
    Tone.HOLLOW: "#cdc6cf",
}


class Markup(str):
    """Text that is markup already: templates that know `__html__` do not escape it again."""

    __slots__ = ()

    def __html__(self) -> str:
        return str(self)


def figure_svg(slug: str, title: str, description: str = "") -> Markup | None:
    """The figure of the exercise as an SVG element, or None where no pose is written.

    `title` and `description` are what a screen reader says, in the reader's language; they are escaped here.
    """
    drawing = drawn(slug)
    return draw_svg(drawing, title, description) if drawing else None


def draw_svg(drawing: Drawing, title: str, description: str = "") -> Markup:
    """The drawing as an SVG element, y downwards, in tenths of a unit to keep it short.

    Its title and description need no ids: a page may hold the same figure twice.
    """
    shapes = "".join(_shape(shape, drawing.height) for shape in drawing.shapes)
    described = f"<desc>{escape(description)}</desc>" if description else ""
    return Markup(
        f'<svg class="exercise-figure" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'viewBox="0 0 {drawing.width:g} {drawing.height:g}" width="{drawing.width:g}" height="{drawing.height:g}">'
        f"<title>{escape(title)}</title>{described}"
        f'<g transform="scale(.1)" stroke-linejoin="round" stroke-linecap="round">{shapes}</g></svg>'
    )


def _shape(shape: Shape, height: float) -> str:
    """The rim of paper is a stroke painted under the fill, or a path of its own under an outline."""

    paths: dict[int, str] = {}

    def path(polygons: tuple[Polygon, ...]) -> str:
        for polygon in polygons:
            if id(polygon) not in paths:
                paths[id(polygon)] = _path(polygon, height, shape.closed)
        return "".join([paths[id(polygon)] for polygon in polygons])

    wide = round(10 * (shape.width + 2 * shape.gap))
    rim = f'stroke="{PAPER}" stroke-width="{wide}"'
    if shape.fill and not shape.stroke:
        fill = f'fill="{COLOURS[shape.fill]}"'
        if not shape.gap:
            return f'<path class="figure-{shape.fill}" {fill} d="{path(shape.polygons)}"/>'
        rimmed = set(map(id, shape.rimmed))
        bare = tuple(one for one in shape.polygons if id(one) not in rimmed)
        root = f'<path class="figure-{shape.fill}" {fill} d="{path(bare)}"/>' if bare else ""
        kind = f"figure-{shape.fill} figure-rim"
        return f'<path class="{kind}" {fill} {rim} paint-order="stroke" d="{path(shape.rimmed)}"/>{root}'
    outline = path(shape.polygons)
    tone = shape.stroke or Tone.KIT
    inside = f'class="figure-{shape.fill} ' if shape.fill else 'class="'
    filled = f'fill="{COLOURS[shape.fill]}"' if shape.fill else 'fill="none"'
    under = f'<path class="figure-rim" fill="none" {rim} d="{outline}"/>' if shape.gap else ""
    line = f'stroke="{COLOURS[tone]}" stroke-width="{round(10 * shape.width)}"'
    return f'{under}<path {inside}figure-line-{tone}" {filled} {line} d="{outline}"/>'


def _path(polygon: Polygon, height: float, closed: bool) -> str:
    """One outline, in whole tenths, each point from the one before."""
    points = [(round(10 * x), round(10 * (height - y))) for x, y in polygon]
    steps = [f"{bx - ax} {by - ay}" for (ax, ay), (bx, by) in pairwise(points) if ax != bx or ay != by]
    return f"M{points[0][0]} {points[0][1]}l{' '.join(steps).replace(' -', '-')}{'z' if closed else ''}"
