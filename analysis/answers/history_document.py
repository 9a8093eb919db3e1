"""JSON document of ``history``; its schema is ``schemas/history.schema.json``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.answers.documents import (
    SCHEMA_VERSION,
    band_object,
    comparison_document,
    doubt_objects,
)
from analysis.answers.json_values import Json
from analysis.compare.best_run import answer, best_run
from analysis.compare.history import History, Run


def history_document(history: History) -> dict[str, Json]:
    """Give what ``history --json`` prints, as plain data."""
    best = best_run(history)
    return {
        "schema": SCHEMA_VERSION,
        "answer": answer(history),
        "baseline": history.runs[0].name,
        "best": None if best is None else best.name,
        "drone_bands": [band_object(band) for band in history.baseline.bands],
        "runs": [_run(run) for run in history.runs],
        "left_out": [{"name": each.name, "why": each.why} for each in history.left_out],
        "warnings": doubt_objects(history.warnings),
    }


def _run(run: Run) -> dict[str, Json]:
    start, comparison = run.start_time_utc, run.comparison
    document = {} if comparison is None else comparison_document(comparison)
    return {
        "name": run.name,
        "start_time_utc": None if start is None else start.isoformat(),
        "changed": [*run.changed],
        "why_not": run.why_not or None,
        "bands": document.get("bands", []),
        "new_bands": document.get("new_bands", []),
        "whistles": document.get("whistles", []),
        "warnings": document.get("warnings", []),
    }
