"""``size``: the branches to build."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from logger.command import options
from logger.command.built import add_keep_option, keep, refuse_keep
from logger.command.drives import car_line, found_in, refuse_missing, told_car
from logger.command.known_drone import add_known_drone, sized_without_drive
from logger.command.sheets import (
    add_sheet_options,
    build_wishes,
    no_sheets,
    sheets_pdf,
    write_sheets,
)
from logger.command.sizing import add_sizing_options, size_wishes, size_with_bar
from logger.folder.output_file import refuse_out

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.branches import Sizing
    from analysis.build.workshop.plan import BuildWishes

NAME = "size"
_SHEETS = ("--sheets", "build.pdf")
WHAT = "size one or two closed side branches"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add a session or another way to name a drone, what is wished, and the sheets."""
    session = options.takes(Path, "SESSION", "session folder")
    parser.add_argument("session", nargs="?", **session)
    add_known_drone(parser)
    add_sizing_options(parser)
    add_keep_option(parser)
    add_sheet_options(parser)
    parser.add_argument(
        "--full", action="store_true", help="print everything: costs, assumptions, notes"
    )
    options.add_shared(parser, "--overwrite", *options.DRIVE, "--units", "--rpm-at", "--json")


def run(arguments: argparse.Namespace) -> int:
    """Size and tell."""
    inputs = (arguments.session, arguments.car)
    refuse_out(arguments.sheets, inputs=inputs, overwrite=arguments.overwrite)
    refuse_missing(arguments.session)
    build_wishes(arguments)  # a slip in them is told before the work
    refuse_keep(arguments)
    known = sized_without_drive(arguments, NAME)
    if known is not None:
        tell(known, build_wishes(arguments, told_car(arguments)), arguments)
        return options.DONE
    wishes = size_wishes(arguments)
    findings, car = found_in(arguments.session, arguments, rpm_at=arguments.rpm_at)
    sizing = size_with_bar(findings, car, wishes)
    build = build_wishes(arguments, car)
    tell(sizing, build, arguments)
    options.say(arguments, car_line(arguments.session, arguments, car))
    options.say(arguments, keep(sizing, build, arguments))
    if sizing is None:  # find tells why
        told = () if arguments.cylinders is None else ("--cylinders", arguments.cylinders)
        options.say_next(arguments, "find", arguments.session, *told)
    has_place = sizing is not None and sizing.by_thumb is None
    if has_place and not (no_sheets(sizing) or arguments.keep or arguments.sheets):
        from logger.session.kept_sizing import is_kept

        keeps = () if is_kept(arguments.session) else ("--keep",)
        words = (word for word in arguments.typed[1:] if word != "--full")
        options.say_next(arguments, "report", *words, *keeps, *_SHEETS)
    return options.DONE


def tell(sizing: Sizing | None, build: BuildWishes, arguments: argparse.Namespace) -> None:
    """Write the sheets where they are asked for, and print what was sized."""
    from analysis.answers.documents import no_drone_document
    from analysis.answers.sizing_document import sizing_document
    from logger.command.tables.size import short_text, size_text

    if sizing is None:
        why = f"{arguments.session} holds no drone that a branch could cure, so nothing is sized."
        options.give(arguments, no_drone_document(why), why)
        return
    sheets = write_sheets(sheets_pdf(sizing, build, arguments), sizing, arguments)
    text = size_text if arguments.full else short_text
    told = text(sizing, build)
    options.give(arguments, sizing_document(sizing, build), told)
    options.say(arguments, sheets)
