"""What the car of a form says already, to stand in the fields that may say it otherwise."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Mapping
from pathlib import Path

from analysis.describe.stretches import courses_of
from analysis.errors import CarError
from analysis.exhaust.car import ROTARY, Car, parse_car, read_car
from analysis.words.lengths import diameter, length
from logger.desk.folder import DeskFolder
from logger.errors import SessionError
from logger.session.metadata import read_metadata


def car_says(
    folder: DeskFolder, chosen: str | None, kept_with: Path | None = None
) -> dict[str, str]:
    """Give what the car of a form says, by field; nothing where there is none.

    That is the one that was chosen. Where none is, "", it is the one kept with a drive; where
    nobody chose yet, None, else the first of the folder, as the form's own choice has it. What a
    field shows names it: without script it stays when another is chosen.
    """
    try:
        name, car = _car(folder, chosen, kept_with)
    except (CarError, SessionError, OSError):  # told where it is used
        return {}
    return {} if car is None else {field: f"{said}, says {name}" for field, said in _said(car)}


def _car(folder: DeskFolder, chosen: str | None, kept_with: Path | None) -> tuple[str, Car | None]:
    kept: Mapping[str, object] | None = None
    if not chosen and kept_with is not None:
        kept = read_metadata(kept_with)[0].car
    if kept is not None:
        return "the car kept with it", parse_car(kept)
    name = next(iter(folder.look().cars), "") if chosen is None else chosen
    file = folder.car(name)
    return name, None if file is None else read_car(file)


def _said(car: Car) -> Iterator[tuple[str, str]]:
    if car.layout != ROTARY:  # its rotors are kept as other cylinders
        yield "cylinders", str(car.engine.cylinders)
    if car.longest_branch_m is not None:
        yield "longest", length(car.longest_branch_m)
        yield "room_along", length(car.longest_branch_m)
    if car.beside_m is not None:
        yield "room_out", length(car.beside_m)
    pipes = [
        each.section
        for course in courses_of(car)
        for each in course.stretches
        if each.section.kind.takes_branch
    ]
    if len(bores_m := {pipe.inner_diameter_m for pipe in pipes}) == 1:
        yield "pipe", diameter(bores_m.pop())
    if len(walls_m := {pipe.wall_m for pipe in pipes if pipe.wall_m is not None}) == 1:
        yield "wall", length(walls_m.pop())
