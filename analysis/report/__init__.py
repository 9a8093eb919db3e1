"""The report: one self-contained HTML page from the results of find, size and compare.

Takes findings, a sizing, a comparison or a history (``contents.ReportContents``).
Gives one file that opens in any browser.
Knows nothing of how a result came about.

Model first (``sections``: texts, numbers, figures as frozen blocks), then templates, then the file.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from pathlib import Path

from analysis.compare.history import History
from analysis.report.compared.history_page import render_history
from analysis.report.contents import Provenance, ReportContents
from analysis.report.page import render_page
from analysis.report.writing import ReportError, refuse_existing, write_whole

__all__ = ["Provenance", "ReportContents", "ReportError", "write_history", "write_report"]


def write_report(out: Path, contents: ReportContents, *, overwrite: bool = False) -> None:
    """Write the page to ``out``.

    Raises
    ------
    ReportError
        ``out`` exists and ``overwrite`` is not set, or it cannot be written.
    """
    refuse_existing(out, overwrite=overwrite)
    write_whole(out, render_page(contents).encode("utf-8"), overwrite=overwrite)


def write_history(
    out: Path, history: History, provenance: Provenance, *, overwrite: bool = False
) -> None:
    """Write the page of a history to ``out``.

    Raises
    ------
    ReportError
        As :func:`write_report`.
    """
    refuse_existing(out, overwrite=overwrite)
    write_whole(out, render_history(history, provenance).encode("utf-8"), overwrite=overwrite)
