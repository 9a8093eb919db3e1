"""Command-line options of ``check``, and what they ask for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path

from logger.check.request import CheckRequest
from logger.command import options
from logger.errors import LoggerError

CALIBRATOR_DB = (94, 114)
_SECONDS = 10.0
_MOST_SECONDS = 120.0


class CheckOptionError(LoggerError):
    """Options of ``check`` that do not go together."""


def add_check_options(parser: argparse.ArgumentParser) -> None:
    """Add what to try, and the calibration."""
    options.add_microphone_option(parser)
    parser.add_argument(
        "--channels",
        type=options.channel_list,
        metavar="1,2",
        help="channels of the microphone to try (default: the first two)",
    )
    options.add_source_option(parser)
    parser.add_argument(
        "--cylinders",
        type=options.cylinder_count,
        metavar="N",
        help="number of cylinders (four-stroke), for --rpm pulse:2",
    )
    parser.add_argument(
        "--seconds",
        type=options.seconds,
        default=_SECONDS,
        metavar="N",
        help=f"how long to try each device (default: {_SECONDS:g}, at most {_MOST_SECONDS:g})",
    )
    parser.add_argument(
        "--calibrate",
        type=int,
        choices=CALIBRATOR_DB,
        help="measure a sound calibrator of so many dB at 1 kHz instead",
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="calibration file to write, with --calibrate"
    )
    options.add_overwrite_option(parser)


def check_request(arguments: argparse.Namespace) -> CheckRequest:
    """Take the options together.

    Raises
    ------
    CheckOptionError
        They do not go together.
    """
    if (arguments.calibrate is None) != (arguments.out is None):
        raise CheckOptionError(
            "--calibrate and --out belong together: pipenote check --calibrate 94 --out mic.json"
        )
    if arguments.calibrate is not None and arguments.rpm:
        raise CheckOptionError("--calibrate tries the microphone only; leave --rpm out")
    if arguments.seconds > _MOST_SECONDS:
        raise CheckOptionError(
            f"--seconds {arguments.seconds:g} is too long to wait; give at most {_MOST_SECONDS:g}"
        )
    return CheckRequest(
        microphone=arguments.microphone,
        channels=arguments.channels,
        rpm=tuple(arguments.rpm or ()),
        cylinders=arguments.cylinders,
        seconds=arguments.seconds,
    )
