"""The folder that the desk stands on: its drives, car files and reports, by name.

A name that a browser sends is looked up among those that are there, never joined to a path.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import html
import json
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from logger.errors import LoggerError
from logger.folder.atomic import replace_file
from logger.folder.names import METADATA_FILE, TELEMETRY_FILE
from logger.session import Session
from logger.shelf import read_shelf

TOLD_FILE = "told.json"  # beside files in the inbox: what was told of them
BETWEEN = " against "  # in the name of a comparison: the drive after, and the one before
HIDDEN = ".desk"  # a shelf leaves hidden folders out
UNITS = ("both", "metric", "inch")  # as --units takes them; the first where nobody chose
_REPORTS, _UNITS, _TOLD = "reports", "units.json", "told"
_SET_ASIDE = ", of "  # in the name of a report's copy: before the day and time it was of
_WRITTEN_TOGETHER_S = 30.0  # judgement: one command writes both, within seconds of each other
_HEAD_BYTES = 4_000  # judgement: a page of ours describes itself in its first thousand
_LONGEST_NOTE = 80  # judgement: a line of the list; histories show it too
_NAME = re.compile(r"\w[\w .()+-]{0,78}[\w)]|\w")
# names that Windows keeps for itself, whatever follows a point
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
_DESCRIPTION = re.compile(r'<meta name="description" content="([^"]*)">')
_NOT_IN_A_FILE_NAME = re.compile(r"[^\w .()+-]")


class NameRefusedError(LoggerError):
    """A name that is taken, or that no file system of ours may have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveOnDesk:
    """One drive as the desk lists it.

    Attributes
    ----------
    name : str
        Of its folder.
    note : str
        What its owner calls it, where that differs.
    duration_s : float or None
        None where there is no sound.
    found : mapping or None
        What ``find --json`` said of it, if it was asked since the drive last changed.
    """

    name: str
    path: Path
    note: str
    start: datetime | None
    duration_s: float | None
    has_rpm: bool
    has_car: bool
    cylinders: int | None
    trouble: tuple[str, ...]
    found: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelves:
    """All that is in the folder, drives and reports newest first.

    ``unreadable`` is (name, why); ``in_short`` says for a report what it comes to, where that is
    known.
    """

    drives: tuple[DriveOnDesk, ...]
    unreadable: tuple[tuple[str, str], ...]
    cars: tuple[str, ...]
    reports: tuple[str, ...]
    in_short: Mapping[str, str]

    def drive(self, name: str) -> DriveOnDesk | None:
        """Give the drive of this name, if there is one."""
        return next((each for each in self.drives if each.name == name), None)

    def set_aside_of(self, name: str) -> dict[str, str]:
        """Name the reports of a drive that others were kept in the place of, by day and time."""
        start = f"{name}{_SET_ASIDE}"
        pages = (each for each in self.reports if each.endswith(".html"))
        return {
            each.removesuffix(".html").removeprefix(start): each
            for each in pages
            if each.startswith(start)
        }

    def verdict_of(self, name: str) -> str | None:
        """Name the newest page that compares this drive with one before or after the work.

        None where there is none, or where a branch was sized for the drive again since then.
        """
        for report in self.reports:
            if report == report_name(name):
                return None
            if name in report.removesuffix(".html").split(BETWEEN):
                return report
        return None


class DeskFolder:
    """One folder of sessions and car files."""

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()

    def look(self) -> Shelves:
        """Read what is there now: other programs may change it at any moment.

        Raises
        ------
        SessionError
            The folder cannot be read.
        """
        shelf = read_shelf(self.path)
        # newest first; what does not know its time comes last
        drives = sorted(
            (self._listed(each.session, each.note) for each in shelf.sessions),
            key=lambda drive: drive.start or datetime.min.replace(tzinfo=UTC),
            reverse=True,
        )
        reports = _newest_first(self.path / _REPORTS)
        return Shelves(
            drives=tuple(drives),
            unreadable=shelf.unreadable,
            cars=tuple(sorted(file.name for file in self.path.glob("*.toml") if file.is_file())),
            reports=reports,
            in_short={name: _in_short(self.path / _REPORTS / name) for name in reports},
        )

    def found_file(self, drive: str) -> Path:
        """Where the desk keeps what was found in a drive that is there."""
        return self.path / HIDDEN / "found" / f"{drive}.json"

    def units(self) -> str:
        """Give what lengths are shown in, as ``--units`` takes it."""
        told = read_document(self.hidden(_UNITS)) or {}
        return told["units"] if told.get("units") in UNITS else UNITS[0]

    def set_units(self, units: str) -> None:
        """Show lengths in these from now on; what is none of them changes nothing."""
        if units in UNITS:
            self.hidden(_UNITS).parent.mkdir(exist_ok=True)
            replace_file(self.hidden(_UNITS), (json.dumps({"units": units}).encode(),))

    def imported_file(self, drive: str) -> Path:
        """Where the desk keeps how the files of a drive were understood."""
        return self.path / HIDDEN / "imported" / f"{drive}.json"

    def hidden(self, name: str) -> Path:
        """Where the desk keeps something of its own that is of no drive."""
        return self.path / HIDDEN / name

    def report_file(self, name: str) -> Path:
        """Where a report of ours goes; ``name`` is of drives that are there."""
        folder = self.path / _REPORTS
        folder.mkdir(exist_ok=True)
        return folder / name

    def set_aside(self, name: str) -> None:
        """Keep a copy of a report that is about to be written anew, under its day and time."""
        report = self.report(name)
        if report is not None:
            until = datetime.fromtimestamp(report.stat().st_mtime).strftime("%Y-%m-%d %H%M%S")
            shutil.copy2(report, report.with_stem(f"{report.stem}{_SET_ASIDE}{until}"))

    def sheets_of(self, report: str) -> str | None:
        """Name the sheets written with a report; None where the last sizing gave none."""
        page, sheets = self.report(report), self.report(f"{report.removesuffix('.html')}.pdf")
        if page is None or sheets is None:
            return None
        older_s = page.stat().st_mtime - sheets.stat().st_mtime
        return sheets.name if older_s < _WRITTEN_TOGETHER_S else None

    def report(self, name: str) -> Path | None:
        """Give the report of this name, if there is one."""
        folder = self.path / _REPORTS
        return folder / name if name in _files_in(folder) else None

    def car(self, name: str) -> Path | None:
        """Give the car file of this name, if there is one."""
        return self.path / name if name in self.look().cars else None

    def inbox(self) -> Path:
        """Give the folder for files that a browser brings."""
        folder = self.path / HIDDEN / "inbox"
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    def inbox_of(self, drive: str) -> str:
        """Name the folder in the inbox that holds a drive's files still; "" for none."""
        for folder in sorted((self.path / HIDDEN / "inbox").glob("*/")):
            told = read_document(folder / TOLD_FILE)
            if told is not None and told.get("name") == drive:
                return folder.name
        return ""

    def free_path(self, name: str) -> Path:
        """Give the path of a new drive or file.

        Raises
        ------
        NameRefusedError
            It is taken, or no name for a file.
        """
        name = name.strip()
        if not _NAME.fullmatch(name) or _RESERVED.fullmatch(name):
            raise NameRefusedError(
                "a name has letters, digits, spaces, points and -+(), 80 at most, and begins with "
                "a letter or digit"
            )
        path = self.path / name
        if path.exists() or path.is_symlink():
            raise NameRefusedError(
                f"there is something called {name!r} already; choose another name"
            )
        return path

    def rename(self, drive: DriveOnDesk, name: str) -> None:
        """Give a drive's folder another name; its finding and its reports go with it.

        Raises
        ------
        NameRefusedError
            The name is taken or cannot be.
        """
        path = self.free_path(name)
        drive.path.rename(path)
        for of in (self.found_file, self.imported_file):
            if of(drive.name).exists():
                of(drive.name).replace(of(name))
        for folder in (self.path / _REPORTS, self.hidden(_TOLD)):
            for file in _files_in(folder):
                renamed = _with_drive(file, drive.name, name)
                if renamed != file:
                    (folder / file).replace(folder / renamed)

    def note(self, drive: DriveOnDesk, note: str) -> None:
        """Set what its owner calls a drive; all else in its session.json stays as it is.

        Raises
        ------
        NameRefusedError
            It is too long.
        """
        if len(note) > _LONGEST_NOTE:
            raise NameRefusedError(f"a note has {_LONGEST_NOTE} signs at most")
        file = drive.path / METADATA_FILE
        metadata = json.loads(file.read_bytes())
        metadata["name"] = note or drive.name
        text = json.dumps(metadata, ensure_ascii=False, indent=2)
        replace_file(file, (f"{text}\n".encode(),))

    def bin(self, drive: DriveOnDesk) -> Path:
        """Move a drive out of sight; nothing is deleted. Gives where it is now."""
        stamp = datetime.now(UTC).strftime("%Y-%m-%d %H%M%S")
        bin_folder = self.path / HIDDEN / "bin"
        bin_folder.mkdir(parents=True, exist_ok=True)
        target = bin_folder / f"{drive.name}, {stamp}"
        shutil.move(drive.path, target)
        self.found_file(drive.name).unlink(missing_ok=True)
        return target

    def _listed(self, session: Session, note: str) -> DriveOnDesk:
        metadata, rate = session.metadata, session.sample_rate_hz
        return DriveOnDesk(
            name=session.path.name,
            path=session.path,
            note=note,
            start=metadata.start_time_utc,
            duration_s=None if rate is None else session.frame_count / rate,
            has_rpm="rpm" in session.telemetry,
            has_car=metadata.car is not None,
            cylinders=metadata.cylinders,
            trouble=tuple(each.message for each in metadata.trouble),
            found=_still_true(self.found_file(session.path.name), session.path),
        )


def report_name(drive: str, *, tried: bool = False) -> str:
    """Name the report of a drive; of a plan that is only tried, beside one that is kept.

    No drive has a comma in its name.
    """
    return f"{drive}, tried.html" if tried else f"{drive}.html"


def told_name(report: str) -> str:
    """Name the hidden file that keeps what the form said when a report was made."""
    return f"{_TOLD}/{report.removesuffix('.html')}.json"


def safe_file_name(name: str) -> str:
    """Make a name that a browser gave fit for a folder of ours; its ending stays."""
    last = re.split(r"[/\\]", name)[-1]
    kept = _NOT_IN_A_FILE_NAME.sub("_", last).strip(" .")[-80:]
    return kept if kept and not _RESERVED.fullmatch(kept) else f"file {kept}"


def read_document(file: Path) -> Mapping[str, Any] | None:
    """Read what a command said; None where there is nothing whole."""
    try:
        document = json.loads(file.read_bytes())
    except (OSError, ValueError):
        return None
    return document if isinstance(document, dict) else None


def texts_in(found: object) -> dict[str, str]:
    """Give the texts of a part of a document, by name; none where it is no such part."""
    if not isinstance(found, Mapping):
        return {}
    return {str(key): told for key, told in found.items() if isinstance(told, str)}


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


def _newest_first(folder: Path) -> tuple[str, ...]:
    names = sorted(_files_in(folder))
    return tuple(sorted(names, key=lambda name: -(folder / name).stat().st_mtime_ns))


def _in_short(report: Path) -> str:
    """Read what a page of ours says of itself; "" where it says nothing."""
    if report.suffix != ".html":
        return ""
    with report.open("rb") as page:
        head = page.read(_HEAD_BYTES).decode("utf-8", "replace")
    told = _DESCRIPTION.search(head)
    return "" if told is None else html.unescape(told[1])


def _still_true(found: Path, session: Path) -> Mapping[str, Any] | None:
    try:
        made_at = found.stat().st_mtime
        changed_at = max(
            (session / name).stat().st_mtime
            for name in (METADATA_FILE, TELEMETRY_FILE)
            if (session / name).exists()
        )
    except (OSError, ValueError):
        return None
    return None if made_at < changed_at else read_document(found)
