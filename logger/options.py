"""Command-line options that commands share."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import math
import re
from pathlib import Path
from typing import NoReturn

MOST_CYLINDERS = 16
_LEAST_S = 0.1
_WHOLE = re.compile(r"[0-9]{1,9}")


class OneLineParser(argparse.ArgumentParser):
    """Tells a usage error in one line, with exit status 2."""

    def error(self, message: str) -> NoReturn:
        """Leave with the message."""
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def add_out_option(parser: argparse.ArgumentParser, metavar: str, what: str) -> None:
    """Add where the result goes."""
    parser.add_argument("--out", type=Path, required=True, metavar=metavar, help=what)


def add_overwrite_option(parser: argparse.ArgumentParser) -> None:
    """Add the leave to replace a result."""
    parser.add_argument("--overwrite", action="store_true", help="replace what is there")


def add_demo_options(parser: argparse.ArgumentParser) -> None:
    """Add where the demo writes to."""
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("pipenote-demo"),
        metavar="DIR",
        help="folder for the report (default: pipenote-demo)",
    )
    add_overwrite_option(parser)


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


def channel_list(text: str) -> tuple[int, ...]:
    """Read channels such as ``1,2``, each once."""
    return tuple(sorted({whole_number(part.strip()) for part in text.split(",")}))


def cylinder_count(text: str) -> int:
    """Read a number of cylinders, 1 to 16."""
    count = whole_number(text)
    if count > MOST_CYLINDERS:
        raise argparse.ArgumentTypeError(f"{text!r} must be 1 to {MOST_CYLINDERS} cylinders")
    return count
