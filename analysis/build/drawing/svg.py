"""The shapes of a drawing as inline SVG.

reportlab's own SVG writer will not do within a page: its ids stand twice where two drawings do, its
fonts are not ones a browser knows, and its black does not follow the page's ink.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from html import escape

from reportlab.graphics.shapes import Circle, Group, PolyLine, Rect, Shape, String
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth

from analysis.build.drawing.pen import Area


def as_svg(group: Group, area: Area, label: str) -> str:
    """Give what lies in an area; every word in it is escaped, and ``label`` is read aloud."""
    shapes = "".join(_inside(group))
    box = f"0 0 {area.width * mm:.1f} {area.height * mm:.1f}"
    up = f"matrix(1 0 0 -1 {-area.left * mm:.2f} {area.top * mm:.2f})"
    return (
        f'<svg viewBox="{box}" class="drawing" role="img" aria-label="{escape(label)}" '
        f'xmlns="http://www.w3.org/2000/svg"><g transform="{up}">{shapes}</g></svg>'
    )


def svg_file(group: Group, area: Area, label: str) -> str:
    """Give the same as a file of its own, in black on white: it has no page to take ink from."""
    drawn = as_svg(group, area, label)
    size = f'width="{area.width:.1f}mm" height="{area.height:.1f}mm"'
    font = 'font-family="Helvetica, Arial, sans-serif"'
    sheet = '<rect width="100%" height="100%" fill="#fff"/>'
    # no text within can hold these, as its quotes are escaped
    for pages_own, own in (
        ('"currentColor"', '"#000"'),
        ('"var(--sheet)"', '"#fff"'),
        ("<svg ", f"<svg {size} {font} "),
        ("><g ", f">{sheet}<g "),
    ):
        drawn = drawn.replace(pages_own, own, 1 if own.startswith((">", "<")) else -1)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn}\n'


def _inside(group: Group) -> Iterator[str]:
    for shape in group.contents:
        if isinstance(shape, Group):
            numbers = " ".join(f"{value:.4f}" for value in shape.transform)
            yield f'<g transform="matrix({numbers})">{"".join(_inside(shape))}</g>'
        elif isinstance(shape, String) and shape.text:
            weight = ' font-weight="700"' if shape.fontName.endswith("Bold") else ""
            width = stringWidth(shape.text, shape.fontName, shape.fontSize)
            yield (
                f'<text x="{shape.x:.2f}" y="{-shape.y:.2f}" transform="scale(1 -1)" '
                f'text-anchor="{shape.textAnchor}" font-size="{shape.fontSize:g}"{weight} '
                # whatever font the browser has, the words take the room they have on paper
                f'textLength="{width:.2f}" lengthAdjust="spacingAndGlyphs">'
                f"{escape(shape.text)}</text>"
            )
        elif not isinstance(shape, String):
            yield f"<{_outline(shape)}{_paint(shape)}/>"


def _outline(shape: Shape) -> str:
    if isinstance(shape, Circle):
        return f'circle cx="{shape.cx:.2f}" cy="{shape.cy:.2f}" r="{shape.r:.2f}"'
    if isinstance(shape, Rect):
        place = f'x="{shape.x:.2f}" y="{shape.y:.2f}"'
        return f'rect {place} width="{shape.width:.2f}" height="{shape.height:.2f}"'
    name = "polyline" if isinstance(shape, PolyLine) else "polygon"
    return f'{name} points="{_numbers(shape.points)}"'


def _paint(shape: Shape) -> str:
    """Ink is the page's; a grey is thinner ink, and white the page's own ground."""
    fill, stroke = getattr(shape, "fillColor", None), shape.strokeColor
    if fill is None:
        paint = ' fill="none"'
    elif fill.red == 1.0:
        paint = ' fill="var(--sheet)"'
    else:
        paint = f' fill="currentColor" fill-opacity="{1.0 - fill.red:.2f}"'
    if stroke is None:
        return paint
    paint += f' stroke="currentColor" stroke-opacity="{1.0 - stroke.red:.2f}"'
    paint += f' stroke-width="{shape.strokeWidth:.2f}"'
    dash = shape.strokeDashArray
    return f'{paint} stroke-dasharray="{_numbers(dash)}"' if dash else paint


def _numbers(values: Sequence[float]) -> str:
    return " ".join(f"{value:.2f}" for value in values)
