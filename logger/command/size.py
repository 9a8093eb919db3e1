"""``size``: the branches to build."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import SizingError
from logger.command import options
from logger.command.drives import found_in, told_car
from logger.command.sheets import add_sheet_options, write_sheets
from logger.command.sizing import add_sizing_options, size_wishes, size_with_bar
from logger.folder.output_file import refuse_out
from logger.screen.terminal import progress_bar

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.branches import Sizing

NAME = "size"
WHAT = "size one or two closed side branches"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add a session or another way to name a drone, what is wished, and the sheets."""
    parser.add_argument("session", type=Path, nargs="?", metavar="SESSION", help="session folder")
    parser.add_argument("--rpm", type=float, metavar="N", help="engine speed of the drone")
    parser.add_argument(
        "--order",
        type=float,
        metavar="N",
        help="with --rpm: pulses per revolution, half the cylinders of a four-stroke engine",
    )
    parser.add_argument("--hz", type=float, metavar="N", help="frequency of the drone")
    add_sizing_options(parser)
    add_sheet_options(parser)
    options.add_shared(parser, "--overwrite", *options.DRIVE, "--rpm-at", "--json")


def run(arguments: argparse.Namespace) -> int:
    """Size and tell."""
    refuse_out(arguments.sheets, overwrite=arguments.overwrite)
    tell(_sizing(arguments), arguments)
    return options.DONE


def tell(sizing: Sizing | None, arguments: argparse.Namespace) -> None:
    """Write the sheets where they are asked for, and print what was sized."""
    from analysis.answers.documents import no_drone_document
    from analysis.answers.sizing_document import sizing_document
    from logger.command.tables.size import size_text

    if sizing is None:
        why = f"{arguments.session} holds no drone that a branch could cure, so nothing is sized."
        options.give(arguments, no_drone_document(why), why)
        return
    write_sheets(sizing, arguments)
    options.give(arguments, sizing_document(sizing), size_text(sizing))


def _sizing(arguments: argparse.Namespace) -> Sizing | None:
    from analysis import job

    frequency_hz = _asked_frequency_hz(arguments)
    wishes = size_wishes(arguments)
    if frequency_hz is None:
        findings, car = found_in(arguments.session, arguments, rpm_at=arguments.rpm_at)
        return size_with_bar(findings, car, wishes)
    car = told_car(arguments)
    with progress_bar("sizing") as progress:
        return job.size_frequency(frequency_hz, arguments.order, car, wishes, progress=progress)


def _asked_frequency_hz(arguments: argparse.Namespace) -> float | None:
    """From ``--hz`` or from ``--rpm`` and ``--order``; None when a session is given."""
    rpm, order, hz = arguments.rpm, arguments.order, arguments.hz
    by_rpm = rpm is not None and order is not None
    ways = (arguments.session is not None, by_rpm, hz is not None)
    if ways.count(True) != 1 or (rpm is None) != (order is None):
        raise SizingError(
            "size needs one of: a session, --rpm with --order, or --hz; "
            "for example: pipenote size --rpm 2000 --order 4"
        )
    if by_rpm and not (rpm > 0.0 and order > 0.0):
        raise SizingError(f"--rpm and --order must be more than zero, got {rpm:g} and {order:g}")
    return float(rpm * order / 60.0) if by_rpm else hz
