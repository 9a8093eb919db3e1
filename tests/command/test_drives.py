"""How the commands read a session and the car of it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
from pathlib import Path

import pytest

from analysis.exhaust import car
from logger.command.drives import found_in
from tests.command_line import CAR, OLD_LEVELS


def test_the_car_file_is_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Or it could be saved anew in between, and one answer rest on two cars."""
    read: list[Path] = []
    really = car.read_car

    def counted(path: Path) -> car.Car:
        read.append(path)
        return really(path)

    monkeypatch.setattr(car, "read_car", counted)
    asked = argparse.Namespace(car=Path(CAR), cylinders=None, channel=None)
    _, told = found_in(Path(OLD_LEVELS), asked)
    assert told == really(Path(CAR))
    assert read == [Path(CAR)]
