"""Which drive the next step is about, and what it says of it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest

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


def shelves(
    *newest_first: DriveOnDesk,
    reports: tuple[str, ...] = (),
    in_short: Mapping[str, str] | None = None,
) -> Shelves:
    told = dict.fromkeys(reports, "") | dict(in_short or {})
    return Shelves(
        drives=newest_first, unreadable=(), cars=("car.toml",), reports=reports, in_short=told
    )


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


PROOF = "friday against monday.html"
BOTH = (drive("friday", 5, None), drive("monday", 1, DRONE))
CURED = {PROOF: "cured: 22 dB quieter"}


@pytest.mark.parametrize("asked", BOTH, ids=lambda each: each.name)
def test_both_drives_of_a_proof_say_what_came_of_it(asked: DriveOnDesk) -> None:
    """The baseline of a cure still told its owner to build it, and drive again."""
    step = next_step(shelves(*BOTH, reports=(PROOF, "monday.html"), in_short=CURED), asked)
    assert step.sentence.endswith("from before the work. Cured: 22 dB quieter.")
    assert step.link == "/prove?shown=friday%20against%20monday.html"


def test_what_is_sized_again_after_a_proof_is_to_be_built() -> None:
    step = next_step(shelves(*BOTH, reports=("monday.html", PROOF), in_short=CURED), BOTH[1])
    assert step.sentence.startswith("The branch is")


def test_a_page_that_does_not_say_what_it_comes_to_is_led_to_all_the_same() -> None:
    step = next_step(shelves(*BOTH, reports=(PROOF, "monday.html")), BOTH[1])
    assert step.sentence == "“friday” is compared with “monday”, from before the work."


def test_what_the_answer_wants_checked_first_is_said_beside_it() -> None:
    """The box said to build what the answer below it asked to check first."""
    check = {"monday.html": "check this"}
    step = next_step(shelves(BOTH[1], reports=("monday.html",), in_short=check))
    assert step.sentence.startswith("The branch is sized, but check this: the answer")
