"""The reports and sheets on the desk, by name, and what the form said when each was made."""
# SPDX-License-Identifier: GPL-2.0-or-later

import html
import re
import shutil
from datetime import datetime
from pathlib import Path

from logger.desk.kept_files import read_document, texts_in

BETWEEN = " against "  # in the name of a comparison: the drive after, and the one before
SET_ASIDE = ", of "  # in the name of a report's copy: before the day and time it was of
_WRITTEN_TOGETHER_S = 30.0  # judgement: one command writes both, within seconds of each other
_HEAD_BYTES = 4_000  # judgement: a page of ours describes itself in its first thousand
_DESCRIPTION = re.compile(r'<meta name="description" content="([^"]*)">')


class ReportShelf:
    """Reports lie in a folder that people see, what was told of them in a hidden one."""

    def __init__(self, reports: Path, told: Path) -> None:
        self._reports = reports
        self._told = told

    def newest_first(self) -> tuple[str, ...]:
        """Name all that is there."""
        names = sorted(_files_in(self._reports))
        return tuple(sorted(names, key=lambda name: -(self._reports / name).stat().st_mtime_ns))

    def get(self, name: str) -> Path | None:
        """Give the report of this name, if there is one."""
        return self._reports / name if name in _files_in(self._reports) else None

    def file(self, name: str) -> Path:
        """Where a report of ours goes; ``name`` is of drives that are there."""
        self._reports.mkdir(exist_ok=True)
        return self._reports / name

    def told_file(self, report: str) -> Path:
        """Where the desk keeps what the form said when a report was made."""
        return self._told / f"{report.removesuffix('.html')}.json"

    def told_of(self, report: str) -> dict[str, str]:
        """Give what the form said when a report was made; empty where nobody knows."""
        return texts_in(read_document(self.told_file(report)))

    def in_short(self, name: str) -> str:
        """Read what a page of ours says of itself; "" where it says nothing."""
        if not name.endswith(".html"):
            return ""
        with (self._reports / name).open("rb") as page:
            head = page.read(_HEAD_BYTES).decode("utf-8", "replace")
        told = _DESCRIPTION.search(head)
        return "" if told is None else html.unescape(told[1])

    def sheets_of(self, report: str) -> str | None:
        """Name the sheets written with a report; None where the last sizing gave none."""
        page, sheets = self.get(report), self.get(f"{report.removesuffix('.html')}.pdf")
        if page is None or sheets is None:
            return None
        older_s = page.stat().st_mtime - sheets.stat().st_mtime
        return sheets.name if older_s < _WRITTEN_TOGETHER_S else None

    def set_aside(self, name: str) -> None:
        """Keep a copy of a report that is about to be written anew, under its day and time."""
        report = self.get(name)
        if report is not None:
            until = datetime.fromtimestamp(report.stat().st_mtime).strftime("%Y-%m-%d %H%M%S")
            shutil.copy2(report, report.with_stem(f"{report.stem}{SET_ASIDE}{until}"))

    def rename_drive(self, old: str, new: str) -> None:
        """Give the reports of a drive its new name."""
        for folder in (self._reports, self._told):
            for file in _files_in(folder):
                if (renamed := _with_drive(file, old, new)) != file:
                    (folder / file).replace(folder / renamed)


def report_name(drive: str, *, tried: bool = False) -> str:
    """Name the report of a drive; of a plan that is only tried, beside one that is kept.

    No drive has a comma in its name.
    """
    return f"{drive}, tried.html" if tried else f"{drive}.html"


def _with_drive(report: str, old: str, new: str) -> str:
    """Name a report of a drive anew; of two drives, that drive's part of the name."""
    stem, point, ending = report.rpartition(".")
    drives = stem.split(BETWEEN)
    name, comma, rest = drives[0].partition(",")
    if len(drives) == 1:
        return f"{new}{comma}{rest}{point}{ending}" if name == old else report
    return f"{BETWEEN.join(new if each == old else each for each in drives)}{point}{ending}"


def _files_in(folder: Path) -> tuple[str, ...]:
    if not folder.is_dir():
        return ()
    return tuple(each.name for each in folder.iterdir() if each.is_file())
