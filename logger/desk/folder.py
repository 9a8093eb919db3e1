"""The folder that the desk stands on: its drives and car files, by name.

A name that a browser sends is looked up among those that are there, never joined to a path.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from logger.desk.inbox import Inbox
from logger.desk.kept_files import keep_document, read_document
from logger.desk.report_shelf import BETWEEN, SET_ASIDE, ReportShelf, report_name
from logger.errors import LoggerError
from logger.folder.atomic import replace_file
from logger.folder.names import METADATA_FILE, TELEMETRY_FILE
from logger.session import Session
from logger.shelf import read_shelf

HIDDEN = ".desk"  # a shelf leaves hidden folders out
UNITS = ("both", "metric", "inch")  # as --units takes them; the first where nobody chose
_UNITS = "units.json"
_LONGEST_NOTE = 80  # judgement: a line of the list; histories show it too
_NAME = re.compile(r"\w[\w .()+-]{0,78}[\w)]|\w")
# names that Windows keeps for itself, whatever follows a point
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
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
        start = f"{name}{SET_ASIDE}"
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
    """One folder of sessions and car files, with the reports and the inbox that belong to it."""

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        self.reports = ReportShelf(self.path / "reports", self.hidden("told"))
        self.inbox = Inbox(self.hidden("inbox"))

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
        reports = self.reports.newest_first()
        return Shelves(
            drives=tuple(drives),
            unreadable=shelf.unreadable,
            cars=tuple(sorted(file.name for file in self.path.glob("*.toml") if file.is_file())),
            reports=reports,
            in_short={name: self.reports.in_short(name) for name in reports},
        )

    def found_file(self, drive: str) -> Path:
        """Where the desk keeps what was found in a drive that is there."""
        return self.hidden("found") / f"{drive}.json"

    def units(self) -> str:
        """Give what lengths are shown in, as ``--units`` takes it."""
        told = read_document(self.hidden(_UNITS)) or {}
        return told["units"] if told.get("units") in UNITS else UNITS[0]

    def set_units(self, units: str) -> None:
        """Show lengths in these from now on; what is none of them changes nothing."""
        if units in UNITS:
            keep_document(self.hidden(_UNITS), {"units": units})

    def imported_file(self, drive: str) -> Path:
        """Where the desk keeps how the files of a drive were understood."""
        return self.hidden("imported") / f"{drive}.json"

    def hidden(self, name: str) -> Path:
        """Where the desk keeps something of its own that is of no drive."""
        return self.path / HIDDEN / name

    def car(self, name: str) -> Path | None:
        """Give the car file of this name, if there is one."""
        return self.path / name if name in self.look().cars else None

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
        self.reports.rename_drive(drive.name, name)

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
        bin_folder = self.hidden("bin")
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


def safe_file_name(name: str) -> str:
    """Make a name that a browser gave fit for a folder of ours; its ending stays."""
    last = re.split(r"[/\\]", name)[-1]
    kept = _NOT_IN_A_FILE_NAME.sub("_", last).strip(" .")[-80:]
    return kept if kept and not _RESERVED.fullmatch(kept) else f"file {kept}"


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
