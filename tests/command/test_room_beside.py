"""Room and wall, told once in the car file: branches are bent into the one, cut for the other."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from pathlib import Path

import pytest

from tests.analysis.build.sheets.printed import Printed
from tests.analysis.report.sized_examples import sizing
from tests.command_line import Run

CAR = """
[engine]
cylinders = 6

[room]
longest_branch = "1.1 m"
beside = "250 mm"
"""


def car_file(folder: Path, text: str) -> Path:
    path = folder / "car.toml"
    path.write_text(text, encoding="utf-8")
    return path


def sheets(run: Run, folder: Path, text: str, *words: str) -> str:
    """Words of the sheets for one drone and a car file of this text."""
    out = folder / "build.pdf"
    asked = ("size", "--rpm", "2200", "--branches", "1", "--sheets", out, "--overwrite", *words)
    result = run(*asked, "--car", car_file(folder, text))
    assert (result.status, result.err) == (0, "")
    return Printed(out.read_bytes()).text


def test_a_branch_is_bent_into_the_room_of_the_car_file(run: Run, tmp_path: Path) -> None:
    printed = sheets(run, tmp_path, CAR)
    assert "bend 90°" in printed
    assert ", 1100 mm (43 5/16 in)" in printed
    assert "few cars" not in printed


def test_the_page_without_a_drive_has_the_same_bend(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "ear.html"
    car = car_file(tmp_path, CAR)
    assert run("report", "--rpm", "2200", "--car", car, "--out", out).status == 0
    assert "bend 90°" in out.read_text(encoding="utf-8")


def test_a_branch_may_be_as_long_as_it_takes(run: Run, tmp_path: Path) -> None:
    printed = sheets(run, tmp_path, CAR.replace('longest_branch = "1.1 m"', ""))
    assert "bend 90°" in printed
    assert "Room: 250 mm (9 27/32 in) out from the pipe's outside." in printed


def test_what_is_typed_counts_before_the_car_file(run: Run, tmp_path: Path) -> None:
    assert "bend 90°" not in sheets(run, tmp_path, CAR, "--room", "1.5 m", "300 mm")
    assert ", 900 mm" in sheets(run, tmp_path, CAR, "--longest-branch", "900 mm")


def test_too_little_room_is_refused_by_its_name(run: Run, tmp_path: Path) -> None:
    car = car_file(tmp_path, CAR.replace("250 mm", "60 mm"))
    sheets = tmp_path / "build.pdf"
    result = run("size", "--rpm", "2200", "--car", car, "--sheets", sheets)
    assert (result.status, result.out) == (2, "")
    assert "does not fold into 60 mm (2 3/8 in) x 1100 mm (43 5/16 in)" in result.err
    assert "beside in the car file" in result.err
    assert not sheets.exists()


def test_a_wall_told_in_the_car_file_is_that_of_the_sheets(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody is asked to measure again what the car file tells."""
    # the branch hardly hangs on it, and both exhausts would be fitted
    monkeypatch.setattr("analysis.size.size.size_branches", lambda *_, **__: sizing())
    pipe = 'kind = "pipe"\nlength = "4 m"\noutside_diameter = "2.5 in"\n'
    course = f"\n[[exhaust.section]]\n{pipe}"
    assert "Wall ASSUMED" in sheets(run, tmp_path, CAR + course)
    printed = sheets(run, tmp_path, f'{CAR}{course}wall = "14 gauge"\n')
    assert "Wall as given" in printed
    assert "wall 2.11 mm" in printed  # 0.083 in: Birmingham wire gauge, from memory
