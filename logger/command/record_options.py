"""Command-line options of ``record``, and what they ask for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from logger.command import options
from logger.software import own_version

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from logger.record import RecordingRequest


def add_record_options(parser: argparse.ArgumentParser) -> None:
    """Add where the session goes, and what a recording needs."""
    options.add_out_option(parser, "DIR", "session folder to make; it must not exist")
    options.add_car_options(parser)
    options.add_microphone_option(parser)
    parser.add_argument(
        "--channels",
        type=options.channel_list,
        metavar="1,2",
        help="channels of the microphone to record (default: the first two)",
    )
    parser.add_argument(
        "--calibration",
        type=Path,
        metavar="FILE",
        help="from pipenote check --calibrate; levels become dB SPL",
    )
    parser.add_argument(
        "--microphone-response",
        type=Path,
        metavar="FILE",
        help="Hz and dB per line: what the microphone shows too much",
    )
    options.add_source_option(parser)
    parser.add_argument(
        "--seconds",
        type=options.seconds,
        metavar="N",
        help="stop after so long (default: at Ctrl-C)",
    )
    parser.add_argument("--plain", action="store_true", help="print lines, no live display")


def record_request(
    arguments: argparse.Namespace,
    *,
    car: Mapping[str, object] | None,
    cylinders: int | None,
    stroke_cycle: int,
) -> RecordingRequest:
    """Take the options together with what is known of the engine."""
    from logger.record import RecordingRequest

    return RecordingRequest(
        out=arguments.out,
        car=car,
        cylinders=cylinders,
        stroke_cycle=stroke_cycle,
        microphone=arguments.microphone,
        channels=arguments.channels,
        calibration=arguments.calibration,
        response=arguments.microphone_response,
        rpm=tuple(arguments.rpm or ()),
        seconds=arguments.seconds,
        plain=arguments.plain,
        software_version=own_version(),
    )
