"""How the handbook and the sheet of one exercise are set: styles, a rail, a figure that flows with the text."""

from collections.abc import Sequence

from reportlab.graphics import renderPDF
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from programs.figures import draw_on_canvas
from programs.figures.drawing import Drawing, drawn
from programs.figures.pdf import draw_pdf
from programs.typesetting import BOLD, INK, TEXT, composed, markup

RULE, SLATE = HexColor("#bdbdbd"), HexColor("#3d3d3d")


def style(
    size: float, *, bold: bool = False, before: float = 0, after: float = 0, indent: float = 0
) -> ParagraphStyle:
    """A style of the handbook's face at that many points."""
    return ParagraphStyle(
        f"{size}{bold}{before}{after}{indent}",
        fontName=BOLD if bold else TEXT,
        fontSize=size,
        leading=round(size * 1.25, 1),
        textColor=INK,
        spaceBefore=before,
        spaceAfter=after,
        leftIndent=indent,
        splitLongWords=1,
    )


def line(text: str, manner: ParagraphStyle, *, lead: str = "") -> Paragraph:
    """The text as a paragraph; nothing in it is markup. `lead` stands before it in bold."""
    words = markup(composed(text))
    if lead:
        words = f'<font name="{BOLD}">{markup(composed(lead))}</font> {words}'
    return Paragraph(words, manner)


def numbered(lines: Sequence[str], manner: ParagraphStyle) -> list[Flowable]:
    """The lines with a number before each."""
    return [line(text, manner, lead=f"{number}.") for number, text in enumerate(lines, start=1)]


class Figure(Flowable):
    """The figure of an exercise, as wide as its place allows and no higher than `most`; nothing where none is drawn.

    A shipped figure is written once into the file; `own` is a club's own, drawn where it stands.
    """

    def __init__(self, slug: str, width: float, most: float, own: Drawing | None = None) -> None:
        super().__init__()
        self._slug, self._most = slug, most
        self._wanted = width
        self._own = own
        self.width = self.height = 0.0

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """How much room it takes."""
        drawing = self._own or drawn(self._slug)
        if drawing is None:
            return 0, 0
        self.width = min(self._wanted, width, self._most * drawing.width / drawing.height)
        self.height = self.width * drawing.height / drawing.width
        return self.width, self.height

    def draw(self) -> None:
        """It stands where the page has put it."""
        if not self.height:
            return
        if self._own is not None:
            renderPDF.draw(draw_pdf(self._own, width=self.width), self.canv, 0, 0)
        else:
            draw_on_canvas(self.canv, self._slug, 0, self.height, self.width)


class Rail(Flowable):
    """The levels of a family as a vertical rail, hardest on top: (level, name, what earns the next) easiest first.

    A family too high for what is left of the page goes on over the page.
    """

    _MARK = 18.0

    def __init__(self, rungs: Sequence[tuple[int, str, str]], level_word: str) -> None:
        super().__init__()
        self._rungs, self._word = list(rungs), level_word
        self._name, self._said = style(10.5, bold=True), style(9.5)
        self._placed: list[tuple[float, Paragraph, Paragraph | None]] = []

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """How much room the rungs take."""
        self._placed, down = [], 0.0
        for level, name, earned in reversed(self._rungs):
            name_line = line(name, self._name, lead=self._word.format(number=level))
            _w, high = name_line.wrap(width - self._MARK, height)
            earned_line = line(earned, self._said) if earned else None
            more = earned_line.wrap(width - self._MARK, height)[1] if earned_line else 0
            self._placed.append((down, name_line, earned_line))
            down += high + more + 5
        self.width, self.height = width, down
        return width, down

    def split(self, width: float, height: float) -> list[Flowable]:
        """As many of the hardest as have room, then the others."""
        self.wrap(width, height)
        fit = [at for at, _name, _earned in self._placed if at < height - 40]
        if len(fit) < 2 or len(fit) == len(self._placed):
            return []
        cut = len(self._rungs) - len(fit) + 1
        return [Rail(self._rungs[cut:], self._word), Rail(self._rungs[:cut], self._word)]

    def draw(self) -> None:
        """A line with a short tick at each level."""
        canvas: Canvas = self.canv
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.2)
        for place, (down, name, earned) in enumerate(self._placed):
            top = self.height - down
            tick = top - 7
            canvas.line(2, tick, 10, tick)
            if place + 1 < len(self._placed):
                canvas.line(6, tick, 6, self.height - self._placed[place + 1][0] - 7)
            name.drawOn(canvas, self._MARK, top - name.height)
            if earned:
                earned.drawOn(canvas, self._MARK, top - name.height - earned.height)
