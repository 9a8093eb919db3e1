"""The option that writes the gas temperature found into a copy of the car file."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import CarError

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.verdicts import Comparison


def add_car_options(parser: argparse.ArgumentParser) -> None:
    """Add the option."""
    parser.add_argument(
        "--write-car",
        type=Path,
        metavar="NEW.toml",
        help="write the car file again, with the gas temperature found in the branch",
    )


def refuse_car(options: argparse.Namespace) -> None:
    """Refuse a file that cannot be written, before any work is done.

    Raises
    ------
    CarError
        There is no car file to start from.
    ReportError
        It is a folder, or exists and ``--overwrite`` is not given.
    """
    from analysis.report.writing import refuse_existing

    if options.write_car is None:
        return
    if options.car is None:
        raise CarError("--write-car needs the car file to start from; give it with --car")
    refuse_existing(options.write_car, overwrite=options.overwrite)


def write_car(comparison: Comparison, options: argparse.Namespace) -> str:
    """Write the car file where ``--write-car`` asks for it, and say so; "" when not asked.

    Raises
    ------
    AnalysisError
        The car file cannot be edited, or the new one not written.
    """
    from analysis.compare.trim.gas_found import car_file_value, gas_found
    from analysis.exhaust.car_edit import KEY, with_branch_gas
    from analysis.report.writing import write_whole

    if options.write_car is None:
        return ""
    gas_k = gas_found(comparison)
    if gas_k is None:
        return f"{options.write_car} is not written: these drives tell no gas temperature.\n"
    car: Path = options.car
    text = with_branch_gas(car.read_bytes().decode("utf-8-sig"), car_file_value(gas_k))
    write_whole(options.write_car, text.encode("utf-8"), overwrite=options.overwrite)
    return f'{options.write_car} says {KEY} = "{car_file_value(gas_k)}" now.\n'
