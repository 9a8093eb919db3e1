"""Plain tables with wrapped cells."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.build.drawing.pen import FAINT, Pen, line_mm, wrapped
from analysis.words.lengths import decimal_inches, thirty_seconds
from analysis.words.shown import either

# judgement: layout, moves no answer.
_SIZE_PT = 8.5
_PAD_MM = 1.0


def draw_table(
    pen: Pen,
    left: float,
    top: float,
    widths: Sequence[float],
    rows: Sequence[Sequence[str]],
    *,
    headed: bool = False,
) -> float:
    """Rows under each other; first column bold, and the first row too when ``headed``.

    Returns the y below the table.
    """
    right = left + sum(widths)
    pen.line(left, top, right, top, FAINT)
    for index, row in enumerate(rows):
        heading = headed and index == 0
        cells = [
            wrapped(cell, width - 2.0 * _PAD_MM, _SIZE_PT, bold=heading or column == 0)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        height = max(1, *(len(lines) for lines in cells)) * line_mm(_SIZE_PT) + _PAD_MM
        x = left
        for column, (cell, width) in enumerate(zip(row, widths, strict=True)):
            bold = heading or column == 0
            pen.paragraph(
                x + _PAD_MM, top - _PAD_MM / 2.0, width - 2.0 * _PAD_MM, cell, _SIZE_PT, bold=bold
            )
            x += width
        top -= height
        pen.line(left, top, right, top, FAINT)
    return top


def length_heads() -> tuple[str, ...]:
    """Heads of the columns of lengths: mm, inches, inches as on a tape, or those of them shown."""
    metric, inch = "mm", "in;tape, in"
    return tuple(either(metric, inch, f"{metric};{inch}").split(";"))


def piece_row(number: int, what: str, length_m: float, note: str) -> tuple[str, ...]:
    """Row of the cut list: number, what, the length under each of `length_heads`, how to cut."""
    metric = f"{1e3 * length_m:.1f}"
    inch = f"{decimal_inches(length_m)};{thirty_seconds(length_m)}".replace(" in", "")
    lengths = either(metric, inch, f"{metric};{inch}").split(";")
    return (f"{number}", what, *lengths, note)
