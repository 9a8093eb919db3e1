"""``compare``: did it work, and what to trim."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import CarError
from logger.command import options
from logger.command.built import add_built_option, told_as_built, welded_on
from logger.command.drives import both_found_in, car_line, refuse_unlike
from logger.command.sizing import add_sizing_options, compare_with_bar, size_wishes
from logger.folder.output_file import refuse_out, write_text

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.verdicts import Comparison

NAME = "compare"
WHAT = "did it work? the post-fix drive against the baseline"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the two sessions, what was built and by what wishes, and the new car file."""
    options.add(
        parser,
        ("baseline", Path, "BASELINE", "session before the work"),
        ("postfix", Path, "POSTFIX", "session after the work"),
    )
    add_sizing_options(parser)
    add_built_option(parser)
    again = "write the car file again, with the gas temperature found in the branch"
    options.add(parser, ("--write-car", Path, "NEW.toml", again))
    options.add_shared(parser, "--overwrite", *options.DRIVE, "--units", "--rpm-at", "--json")


def run(arguments: argparse.Namespace) -> int:
    """Compare and tell."""
    if arguments.write_car is not None and arguments.car is None:
        raise CarError("--write-car needs the car file to start from; give it with --car")
    inputs = (arguments.baseline, arguments.postfix, arguments.car)
    refuse_out(arguments.write_car, inputs=inputs, overwrite=arguments.overwrite)
    refuse_unlike(arguments.baseline, arguments.postfix, arguments)
    wishes, _ = size_wishes(arguments), told_as_built(arguments)
    baseline, postfix, car, keeper = both_found_in(arguments.baseline, arguments.postfix, arguments)
    built = welded_on(arguments.baseline, baseline, car, wishes, arguments)
    comparison = compare_with_bar(baseline, postfix, built.welded, car, built.wishes)
    tell(comparison, arguments)
    options.say(arguments, car_line(keeper, arguments, car))
    options.say(arguments, built.said)
    if arguments.write_car is None:  # report takes every other option
        options.say_next(arguments, "report", *arguments.typed[1:])
    return options.DONE


def tell(comparison: Comparison, arguments: argparse.Namespace) -> None:
    """Print what the comparison says, and write the car file again where that is asked for."""
    from analysis.answers.documents import comparison_document
    from logger.command.tables.compare import compare_text

    options.give(arguments, comparison_document(comparison), compare_text(comparison))
    written = _write_car(comparison, arguments)
    print("" if arguments.json else written, end="")


def _write_car(comparison: Comparison, arguments: argparse.Namespace) -> str:
    """Write the car file where ``--write-car`` asks for it, and say so; "" when not asked."""
    from analysis.compare.trim.gas_found import car_file_value, gas_found
    from analysis.exhaust.car_edit import KEY, with_branch_gas
    from analysis.exhaust.car_toml import decoded

    out, car = arguments.write_car, arguments.car
    if out is None:
        return ""
    gas_k = gas_found(comparison)
    if gas_k is None:
        return f"{out} is not written: these drives tell no gas temperature.\n"
    text = with_branch_gas(decoded(car.read_bytes()), car_file_value(gas_k))
    write_text(out, text, overwrite=arguments.overwrite)
    return f'{out} says {KEY} = "{car_file_value(gas_k)}" now.\n'
