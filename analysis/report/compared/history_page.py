"""The page of a history: the answer, one picture, every drive in a table."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re

from analysis.answers.history_answer import history_answer
from analysis.answers.history_rows import NOTE, history_notes, history_table
from analysis.compare.best_drive import all_is_cured, best_drive
from analysis.compare.history import History
from analysis.report.blocks import Block, Note, Section, Table, Text, Tone
from analysis.report.compared.figure_history import history_chart
from analysis.report.contents import Provenance
from analysis.report.page import provenance_rows, render_sections

_HOW = (
    "The baseline's line is the mean over its sweeps, background removed. Each later line is the "
    "baseline's plus the measured change, as if the drive had been driven as the baseline was. A "
    "change is that of the order's mean square over the drone, 3 dB down from its peak, in the "
    "baseline; brackets give the 95 % interval. Of the drives in which the worst drone got clearly "
    "quieter, the best is the one whose loudest drone, old or new, is the quietest."
)
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def render_history(history: History, provenance: Provenance) -> str:
    """Make the whole page; every text of the sessions is escaped."""
    return render_sections(
        what="Exhaust drone history",
        title=f"{provenance.inputs[0]}, drive by drive",
        sections=history_sections(history),
        sheet=provenance_rows(provenance),
    )


def history_sections(history: History) -> tuple[Section, ...]:
    """Give the answer with the picture and the table, then what to keep in mind."""
    best = best_drive(history)
    cured = best is not None and all_is_cured(best)
    tone = Tone.GOOD if cured else Tone.CARE
    blocks: list[Block] = [Note(label="The answer", text=history_answer(history), tone=tone)]
    chart = history_chart(history)
    if chart is not None:
        blocks.append(chart)
    notes = tuple(
        Note(label=label if label == NOTE else f"Drive '{label}'", text=text, tone=Tone.CARE)
        for label, text in history_notes(history)
    )
    blocks += [_table(history), Text(text=_HOW, for_engineers=True)]
    return (
        Section(name="answer", title="What became of the drone", blocks=tuple(blocks)),
        *([Section(name="notes", title="What to keep in mind", blocks=notes)] if notes else []),
    )


def _table(history: History) -> Table:
    head, rows = history_table(history)
    return Table(
        caption="Every drive: the change of each drone against the baseline, and its 95 % interval",
        head=head,
        rows=tuple((name, *map(_whole, cells)) for name, *cells in rows),
    )


def _whole(cell: str) -> str:
    """Keep a date, and an interval, on one line."""
    if _DATE.match(cell):
        return cell.replace("-", "\u2011")
    return cell.replace(" to ", "\u00a0to\u00a0")
