"""JSON document of ``history``; its schema is ``schemas/history.schema.json``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.answers.documents import (
    SCHEMA_VERSION,
    band_object,
    comparison_document,
    doubt_objects,
)
from analysis.answers.history_answer import history_answer
from analysis.answers.json_values import Json, plain
from analysis.compare.best_drive import best_drive
from analysis.compare.history import History, HistoryDrive


def history_document(history: History) -> dict[str, Json]:
    """Give what ``history --json`` prints, as plain data."""
    best = best_drive(history)
    return {
        "schema": SCHEMA_VERSION,
        "answer": history_answer(history),
        "baseline": history.drives[0].name,
        "best": None if best is None else best.name,
        "drone_bands": [band_object(band) for band in history.baseline.bands],
        # older than the word drive: scripts rely on the key
        "runs": [_drive(drive) for drive in history.drives],
        "left_out": plain(history.left_out),
        "warnings": doubt_objects(history.warnings),
    }


def _drive(drive: HistoryDrive) -> dict[str, Json]:
    start, comparison = drive.start_time_utc, drive.comparison
    document = {} if comparison is None else comparison_document(comparison)
    return {
        "name": drive.name,
        "start_time_utc": None if start is None else start.isoformat(),
        "changed": [*drive.changed],
        "why_not": drive.why_not or None,
        "bands": document.get("bands", []),
        "new_bands": document.get("new_bands", []),
        "whistles": document.get("whistles", []),
        "warnings": document.get("warnings", []),
    }
