"""The build sheets that size and report write: the options, and the file they ask for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import math
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from analysis.errors import SizingError
from logger.command import options
from logger.folder.output_file import write_whole

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.branches import Sizing
    from analysis.build.workshop.folds import Room
    from analysis.build.workshop.plan import BuildWishes
    from analysis.exhaust.car import Car

_NAME_LETTERS = 40  # judgement: so much of a name fits at the foot of a sheet


def add_sheet_options(parser: argparse.ArgumentParser) -> None:
    """Add the options; lengths are text with a unit."""
    group = parser.add_argument_group("build sheets", "A PDF to print and to work from.")
    options.add(group, ("--sheets", Path, "FILE.pdf", "write the build sheets"))
    options.add_shared(group, "--paper")
    group.add_argument(
        "--angle", type=float, default=90.0, metavar="DEG", help="branch to pipe, 30 to 90 (90)"
    )
    wall = 'wall of the pipe: "1.65 mm", "16 gauge"'
    options.add(group, ("--wall", str, "LENGTH", wall))
    group.add_argument(
        "--room",
        nargs=2,
        metavar=("OUT", "ALONG"),
        help='box for a bent branch, out from the pipe and along it: "250 mm" "900 mm" '
        "(default: beside and longest_branch of the car file, or else 250 mm out)",
    )
    options.add(group, ("--bend-radius", str, "LENGTH", "of the bends you can buy"))


def sheets_pdf(
    sizing: Sizing | None, wishes: BuildWishes, arguments: argparse.Namespace
) -> bytes | None:
    """Draw the sheets of a sizing; None where nobody asks for them, or none are to be had."""
    from analysis import job

    if arguments.sheets is None or sizing is None or no_sheets(sizing):
        return None
    return job.sheets(sizing, wishes, paper_of(arguments), _made_for(arguments))


def paper_of(arguments: argparse.Namespace) -> Literal["a4", "letter"]:
    """Give the paper that was asked for, or that goes with the units shown."""
    from analysis.words.shown import either

    return "letter" if (arguments.paper or either("a4", "letter", "a4")) == "letter" else "a4"


def _made_for(arguments: argparse.Namespace) -> str:
    """Name the drive, or the car file where there is none, and the day of the sheets."""
    from logger.session.metadata import read_metadata

    name = arguments.car.stem if arguments.car else ""
    if arguments.session is not None:
        name = read_metadata(arguments.session)[0].name
    day = f"{datetime.now().astimezone():%Y-%m-%d}"
    return f"{name[:_NAME_LETTERS]} · {day}" if name else day


def no_sheets(sizing: Sizing | None) -> str:
    """Say why there is nothing to build from; "" where there is."""
    from analysis.size.advice import DO_NOT_CUT, OTHER_WAY, no_room

    if sizing is None:
        return "nothing was sized"
    misfit = no_room(sizing)
    if misfit is None or misfit.code not in DO_NOT_CUT:
        return ""
    if misfit.code == OTHER_WAY:
        return "branches may not cure it, since part of it does not come out of the tail pipe"
    return "no branch that fits the room is sure to cure it"


def write_sheets(pdf: bytes | None, sizing: Sizing | None, arguments: argparse.Namespace) -> str:
    """Write the sheets, if any, and say where they are; "" where none were asked for."""
    if arguments.sheets is None:
        return ""
    if pdf is None:
        old = f" {arguments.sheets} is of an earlier sizing." if arguments.sheets.exists() else ""
        return f"No build sheets: {no_sheets(sizing)}.{old}"
    write_whole(arguments.sheets, pdf, overwrite=arguments.overwrite)
    return f"The build sheets are in {arguments.sheets}; print them without scaling."


def build_wishes(arguments: argparse.Namespace, car: Car | None = None) -> BuildWishes:
    """Read what the builder wants; the car tells the room and the wall where no option does."""
    from analysis.basics.units import parse_length_m
    from analysis.build.workshop.coping import SMALLEST_ANGLE_RAD
    from analysis.build.workshop.plan import BuildWishes
    from analysis.exhaust.tube_stock import parse_wall_m

    if not math.degrees(SMALLEST_ANGLE_RAD) - 1e-6 <= arguments.angle <= 90.0:
        raise SizingError(f"--angle must be 30 to 90 degrees, got {arguments.angle:g}")
    return BuildWishes(
        angle_rad=math.radians(arguments.angle),
        pipe_wall_m=options.wished("--wall", arguments.wall, parse_wall_m) or _wall_of(car),
        room=_room(arguments, car),
        bend_radius_m=options.wished("--bend-radius", arguments.bend_radius, parse_length_m),
    )


def _wall_of(car: Car | None) -> float | None:
    """Give the wall of the car's pipes, where the file tells one and no other."""
    if car is None:
        return None
    courses = (car.sections, *(leg.sections for leg in car.legs))
    walls_m = {part.wall_m for course in courses for part in course if part.kind.takes_branch}
    return walls_m.pop() if len(walls_m) == 1 else None


def _room(arguments: argparse.Namespace, car: Car | None) -> Room:
    """Give the box as typed, or else the car's, or the usual one.

    The last two go as far along the pipe as a branch may be long.
    """
    from analysis.basics.units import parse_length_m
    from analysis.build.workshop.folds import USUAL_ROOM, Room

    if arguments.room:
        out_m, along_m = (options.quantity("--room", t, parse_length_m) for t in arguments.room)
        return Room(reach_m=out_m, run_m=along_m)
    asked_m = options.wished("--longest-branch", arguments.longest_branch, parse_length_m)
    longest_m = asked_m or (car and car.longest_branch_m) or math.inf
    if car is None or car.beside_m is None:
        return replace(USUAL_ROOM, run_m=longest_m)
    return Room(reach_m=car.beside_m, run_m=longest_m)
