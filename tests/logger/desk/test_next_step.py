"""Which drive the next step is about, and what it says of it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from logger.desk.folder import DriveOnDesk, Shelves
from logger.desk.next_step import next_step

DRONE: Mapping[str, object] = {"drone_bands": [{}]}
QUIET: Mapping[str, object] = {"drone_bands": []}


def drive(name: str, day: int, found: Mapping[str, object] | None) -> DriveOnDesk:
    return DriveOnDesk(
        name=name,
        path=Path(name),
        note="",
        start=datetime(2024, 6, day, tzinfo=UTC),
        duration_s=60.0,
        has_rpm=True,
        has_car=True,
        cylinders=6,
        trouble=(),
        found=found,
    )


def shelves(*newest_first: DriveOnDesk, reports: tuple[str, ...] = ()) -> Shelves:
    return Shelves(drives=newest_first, unreadable=(), cars=("car.toml",), reports=reports)


def test_the_drive_with_the_drone_counts_before_a_newer_one_without() -> None:
    step = next_step(shelves(drive("tuesday", 2, QUIET), drive("monday", 1, DRONE)))
    assert step.sentence.startswith("The drone of “monday” is known.")
    assert step.link == "/drives/monday#size"


def test_a_drive_asked_for_is_the_one_that_is_told_of() -> None:
    quiet, loud = drive("tuesday", 2, QUIET), drive("monday", 1, DRONE)
    assert "in “tuesday”" in next_step(shelves(quiet, loud), quiet).sentence


def test_what_was_built_was_sized_for_the_first_drive_as_the_page_that_proves_it_takes_it() -> None:
    """The second drive was sized again on the way; the baseline is still the first."""
    drives = (drive("friday", 5, None), drive("tuesday", 2, DRONE), drive("monday", 1, DRONE))
    step = next_step(shelves(*drives, reports=("monday.html", "tuesday.html")))
    assert step.sentence.startswith(
        "A branch was sized for “monday”, and “friday” was driven after it"
    )
