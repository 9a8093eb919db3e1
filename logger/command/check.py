"""``check``: what could record here, tried; or calibrate the microphone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from logger.command import options
from logger.screen.terminal import OurConsole, show

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from logger.check.check import CheckRequest

NAME = "check"
WHAT = "list microphones and serial ports, try each chosen one; or calibrate"
CALIBRATOR_DB = (94, 114)  # the two levels of IEC 60942, from memory
# judgement: quiet, a clap and quiet again need 6 s; beyond two minutes is a recording.
_SECONDS = 10.0
_MOST_SECONDS = 120.0


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add what to try, and the calibration."""
    options.add_shared(parser, "--microphone", "--channels", "--rpm")
    of_four = "number of cylinders (four-stroke), for --rpm pulse:2"
    options.add(parser, ("--cylinders", options.cylinder_count, "N", of_four))
    long = f"how long to try each device (default: {_SECONDS:g}, at most {_MOST_SECONDS:g})"
    parser.add_argument("--seconds", **options.takes(options.seconds, "N", long, default=_SECONDS))
    parser.add_argument(
        "--calibrate",
        type=int,
        choices=CALIBRATOR_DB,
        help="measure a sound calibrator of so many dB at 1 kHz instead",
    )
    options.add(parser, ("--out", Path, "FILE", "calibration file to write, with --calibrate"))
    options.add_shared(parser, "--overwrite", "--json")


def run(arguments: argparse.Namespace) -> int:
    """Try what is there, or calibrate, and tell."""
    from logger.check.check import calibrate, calibration_text, check_devices, failures_as_error

    request = check_request(arguments)
    console = OurConsole(stderr=True)
    if arguments.calibrate is not None:
        calibration = calibrate(
            request,
            arguments.calibrate,
            arguments.out,
            console,
            overwrite=arguments.overwrite,
        )
        show(calibration_text(calibration, arguments.out))
        return options.DONE
    result = check_devices(request, console)
    options.give(arguments, result.document(), result.text)
    if result.failures:
        raise failures_as_error(result.failures)
    sources = [word for source in request.rpm for word in ("--rpm", source)]
    microphone = () if request.microphone is None else ("--microphone", request.microphone)
    options.say_next(arguments, "record", "--out", "monday", *sources, *microphone)
    return options.DONE


def check_request(arguments: argparse.Namespace) -> CheckRequest:
    """Take the options together."""
    from logger.check.check import CheckRequest

    if (arguments.calibrate is None) != (arguments.out is None):
        raise options.UsageError(
            "--calibrate and --out belong together: pipenote check --calibrate 94 --out mic.json"
        )
    if arguments.calibrate is not None and arguments.rpm:
        raise options.UsageError("--calibrate tries the microphone only; leave --rpm out")
    if arguments.seconds > _MOST_SECONDS:
        raise options.UsageError(
            f"--seconds {arguments.seconds:g} is too long to wait; give at most {_MOST_SECONDS:g}"
        )
    return CheckRequest(
        microphone=arguments.microphone,
        channels=arguments.channels,
        rpm=tuple(arguments.rpm or ()),
        cylinders=arguments.cylinders,
        seconds=arguments.seconds,
    )
