"""A history as a table of texts, alike on a terminal and on a page; cells may have more lines."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterator
from datetime import UTC
from itertools import compress

from analysis.compare.best_drive import is_doubtful
from analysis.compare.history import History, HistoryDrive
from analysis.findings import DroneBand
from analysis.verdicts import BandChange, Comparison
from analysis.words.matching import whistle_words
from analysis.words.quantities import rpm
from analysis.words.sentences import sentence

Cells = tuple[str, ...]
NOTE = "Note"


def history_table(history: History) -> tuple[Cells, list[Cells]]:
    """Give the headings, and a row for each drive, the baseline first; no column is empty."""
    baseline, *later = history.drives
    head = ("Drive", "Date (UTC)", "What changed", *map(_place, history.baseline.bands), "New")
    rises = (f"rise {band.rise_db:.0f} dB" for band in history.baseline.bands)
    rows = [(*_beginning(baseline), *rises, ""), *(_row(history, drive) for drive in later)]
    told = [any(column) for column in zip(*rows, strict=True)]
    head, *rows = (tuple(compress(cells, told)) for cells in (head, *rows))
    return head, rows


def history_notes(history: History) -> Iterator[tuple[str, str]]:
    """Give what to keep in mind, as (name of the session or NOTE, sentence)."""
    for doubt in history.warnings:
        yield NOTE, sentence(doubt.message)
    for drive in history.drives:
        if drive.why_not:
            yield drive.name, sentence(f"not compared: {drive.why_not}")
        if drive.comparison is not None:
            yield from ((drive.name, sentence(whistle_words(w))) for w in drive.comparison.whistles)
            for doubt in drive.comparison.warnings:
                yield drive.name, sentence(doubt.message)
    for each in history.left_out:
        yield each.name, sentence(f"left out: {each.why}")


def _row(history: History, drive: HistoryDrive) -> Cells:
    if drive.comparison is None:
        return (*_beginning(drive), *("not compared" for _ in history.baseline.bands), "")
    doubt = "\ngain may differ" if is_doubtful(drive) else ""
    changes = (f"{_change(change)}{doubt}" for change in drive.comparison.changes)
    return (*_beginning(drive), *changes, _new(drive.comparison))


def _beginning(drive: HistoryDrive) -> Cells:
    start = drive.start_time_utc
    date = "not known" if start is None else start.astimezone(UTC).strftime("%Y-%m-%d\n%H:%M")
    return drive.name, date, "; ".join(drive.changed)


def _place(band: DroneBand) -> str:
    return f"{rpm(band.peak_rpm)}\norder {band.engine_order:g}"


def _change(change: BandChange) -> str:
    if not math.isfinite(change.level_change_db):
        return change.verdict.value
    ends = change.ci95_db
    return (
        f"{_signed(change.level_change_db)} dB\n({_signed(ends.low)} to {_signed(ends.high)})\n"
        f"{change.verdict.value}"
    )


def _signed(value_db: float) -> str:
    return f"{round(value_db, 1) + 0.0:+.1f}"  # no minus before zero


def _new(comparison: Comparison) -> str:
    new = [_place(band).replace("\n", ", ") for band in comparison.new_bands]
    new += [f"a tone at {tone.frequency_hz:.0f} Hz" for tone in comparison.whistles]
    return "\n".join(new) or "nothing"
