"""``find``: the drone of a drive."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from logger.command import options
from logger.command.drives import found_in

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.findings import Findings

NAME = "find"
WHAT = "find the drone: rpm, frequency, width, and what makes it"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the session, and how it is read and shown."""
    options.add_shared(parser, "session", *options.DRIVE, "--units", "--rpm-at", "--json")


def run(arguments: argparse.Namespace) -> int:
    """Find and tell."""
    findings, _ = found_in(arguments.session, arguments, rpm_at=arguments.rpm_at)
    tell(findings, arguments)
    if _can_be_cured(findings):
        options.say_next(arguments, "size", *arguments.typed[1:])  # it takes the same options
    return options.DONE


def tell(findings: Findings, arguments: argparse.Namespace) -> None:
    """Print what was found."""
    from analysis.answers.documents import find_document
    from logger.command.tables.find import find_text

    options.give(arguments, find_document(findings), find_text(findings))


def _can_be_cured(findings: Findings) -> bool:
    """Tell whether there is a drone that a branch may cure."""
    from analysis.findings import LockedTo

    may = (band.locked_to != LockedTo.ROAD for band in findings.bands)
    return not findings.withheld and any(may)
