"""The page of a history: the answer, one picture, every run in a table."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re

from analysis.compare.best_run import all_is_cured, answer, best_run
from analysis.compare.history import History
from analysis.compare.history_rows import NOTE, history_notes, history_table
from analysis.report import words
from analysis.report.blocks import Block, Note, Section, Table, Text, Tone
from analysis.report.compared.figure_history import history_chart
from analysis.report.contents import Provenance
from analysis.report.page import provenance_rows, render_sections

_HOW = (
    "The first line is the mean over its passes, background removed; each other line is that one "
    "plus what the run changed: the run as it would be, had it been driven as the first was. A "
    "change is that of the order's mean square over the drone's engine speeds, between its "
    "half-power points in the first run; brackets hold the 95 % interval. The best run is the one "
    "whose loudest drone, left or new, is the quietest, of those in which the worst drone got "
    "clearly quieter."
)
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def render_history(history: History, provenance: Provenance) -> str:
    """Make the whole page; every text of the sessions is escaped."""
    return render_sections(
        what="Exhaust drone history",
        title=f"{provenance.inputs[0]}, run by run",
        sections=history_sections(history),
        sheet=provenance_rows(provenance),
    )


def history_sections(history: History) -> tuple[Section, ...]:
    """Give the answer with the picture and the table, then what to keep in mind."""
    best = best_run(history)
    cured = best is not None and all_is_cured(best)
    tone = Tone.GOOD if cured else Tone.CARE
    blocks: list[Block] = [Note(label="The answer", text=answer(history), tone=tone)]
    chart = history_chart(history)
    if chart is not None:
        blocks.append(chart)
    blocks += [_table(history), Text(text=_HOW, for_engineers=True)]
    return (
        Section(name="answer", title="What became of the drone", blocks=tuple(blocks)),
        *_notes(history),
    )


def _table(history: History) -> Table:
    head, rows = history_table(history)
    return Table(
        caption="Every run, with the change of each drone against the first, and its 95 % interval",
        head=head,
        rows=tuple((name, *map(_whole, cells)) for name, *cells in rows),
    )


def _whole(cell: str) -> str:
    """Keep a date, and an interval, on one line."""
    if _DATE.match(cell):
        return cell.replace("-", "\u2011")
    return words.true_minus(cell).replace(" to ", "\u00a0to\u00a0")


def _notes(history: History) -> tuple[Section, ...]:
    notes = tuple(
        Note(
            label=label if label == NOTE else f"Run '{label}'",
            text=words.true_minus(text),
            tone=Tone.CARE,
        )
        for label, text in history_notes(history)
    )
    if not notes:
        return ()
    return (Section(name="notes", title="What to keep in mind", blocks=notes),)
