"""What size, compare and report are told of the branches: the options, and the wishes they make."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING

from analysis.errors import QuantityError
from logger.command.options import add, wished
from logger.screen.terminal import progress_bar

if TYPE_CHECKING:  # loaded where they are used, so that every --help is quick
    from analysis.branches import Sizing
    from analysis.compare.trim.built import WeldedOn
    from analysis.exhaust.car import Car
    from analysis.findings import Findings
    from analysis.size.wishes import DroneWidth, SizeWishes
    from analysis.verdicts import Comparison

_WIDTH = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(hz|rpm|%)\s*", re.IGNORECASE)


def add_sizing_options(parser: argparse.ArgumentParser) -> None:
    """Add the options; lengths and temperatures are text with a unit."""
    what = "number of the drone to cure, as find lists them (default: all of one order)"
    add(parser, ("--band", int, "N", what))
    parser.add_argument(
        "--branches",
        type=int,
        choices=(1, 2),
        help="number of branches (default: pipenote chooses)",
    )
    stock = "(default: inch, or metric with --units metric)"
    add(
        parser,
        ("--pipe-diameter", str, "LENGTH", 'inner diameter of the pipe: "2.37 in"'),
        ("--gas-temperature", str, "RANGE", 'gas in the branch: "120..220 degC"'),
        ("--pipe-gas-temperature", str, "RANGE", 'gas in the pipe there: "250..400 degC"'),
        ("--longest-branch", str, "LENGTH", 'room for a branch: "1.1 m"'),
        ("--tube", str, "TUBE", f'inch, metric, or one size: "2.25 in x 0.065 in" {stock}'),
    )
    parser.add_argument("--no-can", action="store_true", help="plain tube only, no can on a neck")
    width = 'width of the drone, 3 dB below its peak: "17 Hz" or "340 rpm"'
    add(parser, ("--width", str, "WIDTH", width))


def size_wishes(arguments: argparse.Namespace) -> SizeWishes:
    """Read the options."""
    from analysis.basics.units import parse_length_m, parse_temperature_range_k
    from analysis.exhaust.tube_stock import tubes_called
    from analysis.size.wishes import SizeWishes

    # as the shop sells that shows these units
    stock = "metric" if arguments.units == "metric" else "inch"
    pipe_gas = arguments.pipe_gas_temperature
    return SizeWishes(
        band=arguments.band,
        branch_count=arguments.branches,
        cans=not arguments.no_can,
        tubes=tubes_called(arguments.tube or stock),
        pipe_inner_diameter_m=wished("--pipe-diameter", arguments.pipe_diameter, parse_length_m),
        longest_branch_m=wished("--longest-branch", arguments.longest_branch, parse_length_m),
        branch_gas_k=wished(
            "--gas-temperature", arguments.gas_temperature, parse_temperature_range_k
        ),
        branch_gas_said_by="as --gas-temperature says",
        pipe_gas_k=wished("--pipe-gas-temperature", pipe_gas, parse_temperature_range_k),
        width=_width(arguments.width) if arguments.width else None,
    )


def size_with_bar(findings: Findings, car: Car | None, wishes: SizeWishes) -> Sizing | None:
    """Size for a drive, and show how far it is."""
    with progress_bar("sizing") as progress:
        from analysis import job

        return job.size(findings, car, wishes, progress=progress)


def compare_with_bar(
    baseline: Findings,
    postfix: Findings,
    built: WeldedOn,
    car: Car | None,
    wishes: SizeWishes,
) -> Comparison:
    """Compare two drives, and show how far it is."""
    with progress_bar("comparing") as progress:
        from analysis import job

        return job.compare(baseline, postfix, built, car, wishes, progress=progress)


def _width(text: str) -> DroneWidth:
    from analysis.size.wishes import DroneWidth, WidthUnit

    match = _WIDTH.fullmatch(text)
    if match is None:
        raise QuantityError(f"width {text!r} must be like '17 Hz', '340 rpm' or '15 %'")
    units = {unit.value.lower(): unit for unit in WidthUnit}
    return DroneWidth(value=float(match[1]), unit=units[match[2].lower()])
