"""Command-line options that commands share."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import NoReturn

from logger.software import own_version

Command = tuple[
    str,
    Callable[[argparse.Namespace], int],
    Callable[[argparse.ArgumentParser], None],
    str,
]
_CAUTION = (
    "Drive by the law, not by the rev counter, and let a second person watch the log. Never run "
    "an engine indoors."
)
MOST_CYLINDERS = 16
_LEAST_S = 0.1
_WHOLE = re.compile(r"[0-9]{1,9}")


class OneLineParser(argparse.ArgumentParser):
    """Tells a usage error in one line, with exit status 2."""

    def error(self, message: str) -> NoReturn:
        """Leave with the message."""
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def command_parser(commands: Iterable[Command]) -> OneLineParser:
    """Make the parser of all commands: name, what runs it, what adds its options, what it does."""
    parser = OneLineParser(
        prog="pipenote",
        description="Find the drone of a home-built exhaust, size the side branch that cures it, "
        "and prove that it worked.",
        epilog="Help on one command: pipenote COMMAND --help. " + _CAUTION,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"pipenote {own_version()}")
    group = parser.add_subparsers(metavar="COMMAND", required=True)
    for name, run, add_options, what in commands:
        command = group.add_parser(name, help=what, description=what, allow_abbrev=False)
        command.set_defaults(run=run)
        add_options(command)
    return parser


def add_session(parser: argparse.ArgumentParser) -> None:
    """Add one session, and how it is read and shown."""
    parser.add_argument("session", type=Path, metavar="SESSION", help="session folder")
    add_drive_options(parser)
    add_json_option(parser)


def add_out_option(parser: argparse.ArgumentParser, metavar: str, what: str) -> None:
    """Add where the result goes."""
    parser.add_argument("--out", type=Path, required=True, metavar=metavar, help=what)


def add_overwrite_option(parser: argparse.ArgumentParser) -> None:
    """Add the leave to replace a result."""
    parser.add_argument("--overwrite", action="store_true", help="replace what is there")


def add_json_option(parser: argparse.ArgumentParser) -> None:
    """Add the form for scripts."""
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def add_car_options(parser: argparse.ArgumentParser) -> None:
    """Add what tells about the engine."""
    parser.add_argument("--car", type=Path, metavar="FILE", help="car file (TOML)")
    parser.add_argument(
        "--cylinders", type=cylinder_count, metavar="N", help="number of cylinders (four-stroke)"
    )


def add_drive_options(parser: argparse.ArgumentParser) -> None:
    """Add how a session is read."""
    add_car_options(parser)
    parser.add_argument(
        "--channel",
        type=whole_number,
        metavar="N",
        help="channel of the sound (default: the first that is no ignition pickup)",
    )


def add_microphone_option(parser: argparse.ArgumentParser) -> None:
    """Add the choice of the microphone."""
    parser.add_argument(
        "--microphone", metavar="NAME_OR_INDEX", help="as pipenote check lists them"
    )


def add_source_option(parser: argparse.ArgumentParser) -> None:
    """Add where rpm and road speed come from."""
    parser.add_argument(
        "--rpm",
        action="append",
        metavar="SOURCE",
        help="obd:auto, obd:PORT, pulse:CHANNEL, serial:PORT, gps:PORT, replay:SESSION or none "
        "(the default); may be given more than once",
    )


def seconds(text: str) -> float:
    """Read a time that something can be recorded in."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not _LEAST_S <= value < math.inf:
        raise argparse.ArgumentTypeError(
            f"{text!r} must be a number of seconds, {_LEAST_S:g} or more"
        )
    return value


def whole_number(text: str) -> int:
    """Read a whole number from 1 up."""
    if not _WHOLE.fullmatch(text) or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text[:20]!r} must be a whole number from 1 up")
    return int(text)


def moment(text: str) -> datetime:
    """Read a date and time by ISO 8601; without an offset it is the local time of this computer."""
    try:
        value = datetime.fromisoformat(text)
        return value.astimezone(UTC)  # years 1 and 9999 may fall out of range
    except (ValueError, OverflowError, OSError) as error:
        raise argparse.ArgumentTypeError(
            f"{text[:40]!r} must be a date and time such as '2024-06-08 10:05'"
        ) from error


def channel_list(text: str) -> tuple[int, ...]:
    """Read channels such as ``1,2``, each once."""
    return tuple(sorted({whole_number(part.strip()) for part in text.split(",")}))


def cylinder_count(text: str) -> int:
    """Read a number of cylinders, 1 to 16."""
    count = whole_number(text)
    if count > MOST_CYLINDERS:
        raise argparse.ArgumentTypeError(f"{text!r} must be 1 to {MOST_CYLINDERS} cylinders")
    return count
