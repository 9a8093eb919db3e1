"""A history as text for a terminal: the answer, a row for each drive, then the doubts."""
# SPDX-License-Identifier: GPL-2.0-or-later

from rich.console import Group, RenderableType
from rich.text import Text

from analysis.answers.history_answer import history_answer
from analysis.answers.history_rows import Cells, history_notes, history_table
from analysis.compare.history import History
from logger.command.tables.layout import Fitting, labelled
from logger.screen.terminal import headed

_WIDEST_COLUMN = 22  # judgement: four such columns fit on 100 characters; longer names are cut


def history_text(history: History) -> RenderableType:
    """Lay the history out; where the terminal is too narrow for the table, in lines."""
    head, rows = history_table(history)
    table = headed("", head, rows, is_tight=True)
    for column in table.columns:
        column.max_width = _WIDEST_COLUMN
    lines = labelled((row[0], _line(head, row)) for row in rows)
    notes = labelled(history_notes(history))
    return Group(Text(history_answer(history)), Fitting(table, lines), notes)


def _line(head: Cells, row: Cells) -> str:
    _, date, *cells = row
    told = [f"{name}: {cell}" for name, cell in zip(head[2:], cells, strict=True) if cell]
    return "; ".join((date, *told)).replace("\n", ", ")
