"""Exercise figures computed from joint angles: one pose file, three outputs.

`figure_svg(slug, title, description)` for pages, `figure_png(slug)` for mail, `figure_pdf(slug)` for the card. Pure: no
Django, no database, no clock. Poses stand in `fixtures/poses/`, whose README says how to write one.
"""

from programs.figures.pdf import draw_on_canvas, figure_pdf
from programs.figures.png import figure_png
from programs.figures.svg import figure_svg

__all__ = ["draw_on_canvas", "figure_pdf", "figure_png", "figure_svg"]
