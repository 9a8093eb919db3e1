"""``record``: a drive, sound and rpm, into a session folder."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from logger.command import options
from logger.command.drives import engine_as_told
from logger.screen.terminal import OurConsole, drop_output

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from logger.record import RecordingRequest

NAME = "record"
WHAT = "log a drive, sound and rpm, into a session folder"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add where the session goes, and what a recording needs."""
    out = options.takes(Path, "DIR", "session folder to make; it must not exist", required=True)
    parser.add_argument("--out", **out)
    options.add_shared(parser, *options.ENGINE, "--microphone", "--channels", "--tail-channel")
    calibrated = "from pipenote check --calibrate; levels become dB SPL"
    options.add(parser, ("--calibration", Path, "FILE", calibrated))
    options.add_shared(parser, "--microphone-response", "--rpm")
    long = "stop after so long (default: at Ctrl-C)"
    options.add(parser, ("--seconds", options.seconds, "N", long))
    parser.add_argument("--plain", action="store_true", help="print lines, no live display")
    remote = "folder through which another program watches and steers, as the desk does"
    options.add(parser, ("--remote", Path, "FOLDER", remote))


def run(arguments: argparse.Namespace) -> int:
    """Record until it is stopped, and say where the drive is."""
    from logger.screen.stop_signals import stop_signals

    with stop_signals() as stopped:  # before all else: what is called from C loses a Ctrl-C
        from logger.record import record, saved_lines

        recorded = record(_request(arguments), OurConsole(stderr=True), stopped)
        status = options.INTERRUPTED if stopped() else options.DONE
        try:
            print(*saved_lines(recorded), sep="\n")
            options.say_next(arguments, "find", recorded.session)
        except OSError:  # the window was closed; the drive is saved all the same
            drop_output()
        return status


def _request(arguments: argparse.Namespace) -> RecordingRequest:
    from analysis.exhaust.car import parse_car, read_car_table
    from logger.record import RecordingRequest

    car = None if arguments.car is None else read_car_table(arguments.car)
    engine = engine_as_told(arguments, None if car is None else parse_car(car))
    return RecordingRequest(
        out=arguments.out,
        car=car,
        cylinders=None if engine is None else engine.cylinders,
        stroke_cycle=4 if engine is None else engine.stroke_cycle,
        microphone=arguments.microphone,
        channels=arguments.channels,
        tail_channel=arguments.tail_channel,
        calibration=arguments.calibration,
        response=arguments.microphone_response,
        rpm=tuple(arguments.rpm or ()),
        seconds=arguments.seconds,
        plain=arguments.plain,
        remote=arguments.remote,
    )
