"""Sized and reported without a drive: an engine speed that somebody heard, and the engine."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command_line import BASELINE, CAR, Run, only_document

pytestmark = pytest.mark.usefixtures("done_once")


@pytest.mark.parametrize(
    ("engine", "order"),
    [
        # pulses per turn: cylinders over two turns with four strokes, over one with two
        (("--cylinders", 8), 4.0),
        (("--cylinders", 5), 2.5),
        (("--cylinders", 3, "--stroke-cycle", 2), 3.0),
        (("--cylinders", 8, "--order", 2), 2.0),
        (("--order", 1.5), 1.5),
    ],
)
def test_the_cylinders_give_the_order_and_an_order_wins(
    run: Run, engine: tuple[object, ...], order: float
) -> None:
    document = only_document(run("size", "--rpm", 3000, *engine, "--json"), "size")
    assert document["target"]["engine_order"] == order
    assert document["target"]["peak_hz"] == pytest.approx(3000 * order / 60.0, abs=0.01)
    assert document["warnings"][0]["code"] == "by_ear"


def test_a_car_file_gives_the_order_too(run: Run, tmp_path: Path) -> None:
    car = tmp_path / "car.toml"
    car.write_text("[engine]\ncylinders = 6\n", encoding="utf-8")
    document = only_document(run("size", "--rpm", 2240, "--car", car, "--json"), "size")
    assert document["target"]["engine_order"] == 3.0


def test_a_page_without_a_drive_says_that_it_is_by_ear(run: Run, tmp_path: Path) -> None:
    page, sheets = tmp_path / "ear.html", tmp_path / "ear.pdf"
    result = run(
        *("report", "--rpm", 2000, "--cylinders", 8, "--pipe-diameter", "2.37 in"),
        *("--out", page, "--sheets", sheets),
    )
    assert (result.status, result.err) == (0, "")
    text = page.read_text(encoding="utf-8")
    assert "a drone at 2,000" in text
    assert "By ear" in text
    assert "1,900 to 2,100" in text
    assert "cautions" in text
    assert sheets.read_bytes().startswith(b"%PDF")


def test_the_car_that_the_session_keeps_is_taken_and_named(run: Run) -> None:
    kept = run("size", BASELINE)
    typed = run("size", BASELINE, "--car", CAR)
    (*same, kept_line, _), (*same_too, typed_line, _) = (
        each.out.splitlines() for each in (kept, typed)
    )
    car = "(6 cylinders, 4-stroke, exhaust of 4.02 m (158 in))."
    assert kept_line == f"Car: as baseline keeps it {car}"
    assert typed_line == f"Car: {CAR} {car}"
    assert same == same_too
