"""A drawing as an inline SVG element.

It is complete without a style sheet (presentation attributes, `currentColor`); the classes `figure-near`, `figure-far` and so
on let a style sheet say the colours of paper and of the far side, in light and in dark. There is no style attribute.
"""

from html import escape

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
    """The drawing as an SVG element, y downwards, in tenths of a unit to keep it short."""
    shapes = "".join(_shape(shape, drawing.height) for shape in drawing.shapes)
    key = f"figure-{drawing.slug}"
    desc = f'<desc id="{key}-desc">{escape(description)}</desc>' if description else ""
    described = f' aria-describedby="{key}-desc"' if description else ""
    return Markup(
        f'<svg class="figure" xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{key}-title"{described} '
        f'viewBox="0 0 {drawing.width:g} {drawing.height:g}" width="{drawing.width:g}" height="{drawing.height:g}">'
        f'<title id="{key}-title">{escape(title)}</title>{desc}'
        f'<g transform="scale(.1)" stroke-linejoin="round" stroke-linecap="round">{shapes}</g></svg>'
    )


def _shape(shape: Shape, height: float) -> str:
    path = "".join(_path(polygon, height, shape.closed) for polygon in shape.polygons)
    parts: list[str] = []
    if shape.gap:
        wide = round(10 * (shape.width + 2 * shape.gap))
        fill = f'fill="{PAPER}"' if shape.fill else 'fill="none"'
        kind = "figure-gap" if shape.fill else "figure-rim"
        rim = "".join(_path(polygon, height, shape.closed) for polygon in shape.rimmed)
        parts.append(f'<path class="{kind}" {fill} stroke="{PAPER}" stroke-width="{wide}" d="{rim}"/>')
    said = ""
    if shape.fill:
        said = f'class="figure-{shape.fill}" fill="{COLOURS[shape.fill]}"'
    if shape.stroke:
        line = f'stroke="{COLOURS[shape.stroke]}" stroke-width="{round(10 * shape.width)}"'
        said = f"{said} {line}" if said else f'class="figure-line-{shape.stroke}" fill="none" {line}'
    parts.append(f'<path {said} d="{path}"/>')
    return "".join(parts)


def _path(polygon: Polygon, height: float, closed: bool) -> str:
    """One outline, in whole tenths, each point from the one before."""
    points = [(round(10 * x), round(10 * (height - y))) for x, y in polygon]
    said = [f"M{points[0][0]} {points[0][1]}l"]
    steps = []
    for (ax, ay), (bx, by) in zip(points, points[1:], strict=False):
        if (ax, ay) != (bx, by):
            steps.append(f"{bx - ax} {by - ay}")
    return said[0] + " ".join(steps).replace(" -", "-") + ("z" if closed else "")
