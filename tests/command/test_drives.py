"""How the commands read a session and the car of it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
import json
import shutil
from pathlib import Path

import pytest

from analysis.exhaust import car
from logger.command.drives import both_found_in, found_in
from logger.command.options import engine_speed, known_speed
from tests.command_line import CAR, OLD_LEVELS

_ASKED = ("car", "cylinders", "stroke_cycle", "channel", "idle_rpm")


def test_the_car_file_is_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Or it could be saved anew in between, and one answer rest on two cars."""
    read: list[Path] = []
    really = car.read_car

    def counted(path: Path) -> car.Car:
        read.append(path)
        return really(path)

    monkeypatch.setattr(car, "read_car", counted)
    asked = argparse.Namespace(**dict.fromkeys(_ASKED) | {"car": Path(CAR)})
    _, told = found_in(Path(OLD_LEVELS), asked)
    assert told == really(Path(CAR))
    assert read == [Path(CAR)]


def test_the_car_of_the_later_drive_counts_where_the_first_has_none(tmp_path: Path) -> None:
    """Many describe their car only when the first drive is done."""
    bare = tmp_path / "bare"
    shutil.copytree(OLD_LEVELS, bare)
    told = json.loads((bare / "session.json").read_text(encoding="utf-8"))
    del told["car"]
    (bare / "session.json").write_text(json.dumps(told), encoding="utf-8")
    asked = argparse.Namespace(**dict.fromkeys(_ASKED), rpm_at=())
    later = Path(OLD_LEVELS)
    _, _, car_known, keeper = both_found_in(bare, later, asked)
    assert (keeper, car_known is None) == (later, False)
    assert both_found_in(later, bare, asked)[3] == later
    assert both_found_in(bare, bare, asked)[2:] == (None, bare)


@pytest.mark.parametrize(
    ("text", "known"),
    [("35=2900", (35.0, 2900.0)), ("1:35=2900", (95.0, 2900.0)), ("0.5= 800", (0.5, 800.0))],
)
def test_an_rpm_at_a_moment_is_read(text: str, known: tuple[float, float]) -> None:
    assert known_speed(text) == known


@pytest.mark.parametrize(
    "text", ["", "=", "35", "35=", "=2900", "a=2900", "-3=2900", "35=nan", "35=20", "1:2:3=2900"]
)
def test_what_is_no_rpm_at_a_moment_is_refused(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError):
        known_speed(text)


@pytest.mark.parametrize("text", ["", "idle", "nan", "inf", "-800", "90", "90000"])
def test_what_is_no_engine_speed_is_refused(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError):
        engine_speed(text)
