"""The command-line options of the build sheets, and the file they ask for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import SizingError

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.branches import Sizing
    from analysis.build.workshop.folds import Room

_PAPER = ("a4", "letter")


def add_sheet_options(parser: argparse.ArgumentParser) -> None:
    """Add the options; lengths are text with a unit."""
    sheets = parser.add_argument_group("build sheets", "A PDF to print and to work from.")
    sheets.add_argument("--sheets", type=Path, metavar="FILE.pdf", help="write the build sheets")
    sheets.add_argument("--paper", choices=_PAPER, default="a4", help="in the printer (a4)")
    sheets.add_argument(
        "--angle", type=float, default=90.0, metavar="DEG", help="branch to pipe, 30 to 90 (90)"
    )
    sheets.add_argument("--wall", metavar="LENGTH", help='wall of the pipe: "1.65 mm"')
    sheets.add_argument(
        "--room",
        nargs=2,
        metavar=("OUT", "ALONG"),
        help='box for a bent branch, out from the pipe and along it: "200 mm" "900 mm"',
    )
    sheets.add_argument("--bend-radius", metavar="LENGTH", help="of the bends you can buy")


def refuse_sheets(options: argparse.Namespace) -> None:
    """Refuse a file that cannot be written, before any work is done.

    Raises
    ------
    ReportError
        It is a folder, or exists and ``--overwrite`` is not given.
    """
    from analysis.report.writing import refuse_existing

    if options.sheets is not None:
        refuse_existing(options.sheets, overwrite=options.overwrite)


def write_sheets(sizing: Sizing, options: argparse.Namespace) -> None:
    """Write the sheets of a sizing, where ``--sheets`` asks for them.

    Raises
    ------
    AnalysisError
        A length or angle that cannot be, a branch that does not fold into the room, or a file that
        cannot be written.
    """
    from analysis.basics.units import parse_length_m
    from analysis.build.sheets import PAPERS, build_sheets
    from analysis.build.workshop.plan import BuildWishes, plan_build
    from analysis.report.writing import write_whole

    if options.sheets is None:
        return
    wall, radius = options.wall, options.bend_radius
    wishes = BuildWishes(
        angle_rad=_angle_rad(options.angle),
        pipe_wall_m=parse_length_m(wall) if wall else None,
        room=_room(options.room),
        bend_radius_m=parse_length_m(radius) if radius else None,
    )
    pdf = build_sheets(plan_build(sizing, wishes), PAPERS[options.paper])
    write_whole(options.sheets, pdf, overwrite=options.overwrite)


def sheets_of_report(sizing: Sizing | None, options: argparse.Namespace) -> str:
    """Write the sheets where a report is to have some, and say so in a line; "" when not asked."""
    if options.sheets is None:
        return ""
    if sizing is None:
        return "No build sheets: nothing was sized.\n"
    write_sheets(sizing, options)
    return f"The build sheets are in {options.sheets}; print them without scaling.\n"


def _angle_rad(degrees: float) -> float:
    if not math.isfinite(degrees):
        raise SizingError(f"--angle must be 30 to 90 degrees, got {degrees:g}")
    return math.radians(degrees)


def _room(sides: list[str] | None) -> Room | None:
    from analysis.basics.units import parse_length_m
    from analysis.build.workshop.folds import Room

    if sides is None:
        return None
    return Room(reach_m=parse_length_m(sides[0]), run_m=parse_length_m(sides[1]))
