"""The command-line options of sizing, and what each changes in a request."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import re
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.errors import QuantityError, SizingError

if TYPE_CHECKING:  # loaded where they are used, so that every --help is quick
    from analysis.branches import Target, Tube
    from analysis.sizing_request import SizingRequest

_WIDTH = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(hz|rpm|%)\s*", re.IGNORECASE)
_WIDEST = 0.6  # of the peak's frequency; beyond, it is no resonance


def add_sizing_options(parser: argparse.ArgumentParser) -> None:
    """Add the options; lengths and temperatures are text with a unit."""
    parser.add_argument(
        "--band", type=int, metavar="N", help="which band of find to cure (default: the worst)"
    )
    parser.add_argument("--branches", type=int, choices=(1, 2), help="how many (default: chosen)")
    parser.add_argument("--pipe-diameter", metavar="LENGTH", help='bore of the pipe: "2.37 in"')
    parser.add_argument(
        "--gas-temperature", metavar="RANGE", help='gas in the branch: "120..220 degC"'
    )
    parser.add_argument(
        "--pipe-gas-temperature", metavar="RANGE", help='gas in the pipe there: "250..400 degC"'
    )
    parser.add_argument("--longest-branch", metavar="LENGTH", help='room for a branch: "1.1 m"')
    parser.add_argument(
        "--tube", metavar="TUBE", help='inch, metric, or one size: "2.25 in x 0.065 in"'
    )
    parser.add_argument(
        "--width", metavar="WIDTH", help='half-power width of the drone: "17 Hz" or "340 rpm"'
    )


def add_target_options(parser: argparse.ArgumentParser) -> None:
    """Add the ways to name a drone without a drive."""
    parser.add_argument("--rpm", type=float, metavar="N", help="engine speed of the drone")
    parser.add_argument(
        "--order",
        type=float,
        metavar="N",
        help="with --rpm: pulses per revolution, half the cylinders of a four-stroke engine",
    )
    parser.add_argument("--hz", type=float, metavar="N", help="frequency of the drone")


def asked_frequency(options: argparse.Namespace) -> float | None:
    """Frequency from ``--hz`` or from ``--rpm`` and ``--order``; None when a session is given.

    Raises
    ------
    SizingError
        Not exactly one of the three ways is given.
    """
    by_rpm = options.rpm is not None and options.order is not None
    ways = (options.session is not None, by_rpm, options.hz is not None)
    if ways.count(True) != 1 or (options.rpm is None) != (options.order is None):
        raise SizingError(
            "size needs one of: a session, --rpm with --order, or --hz; "
            "for example: pipenote size --rpm 2000 --order 4"
        )
    if by_rpm and not (options.rpm > 0.0 and options.order > 0.0):
        raise SizingError(
            f"--rpm and --order must be more than zero, got {options.rpm:g} and {options.order:g}"
        )
    if by_rpm:
        return float(options.rpm * options.order / 60.0)
    return None if options.hz is None else float(options.hz)


def with_options(request: SizingRequest, options: argparse.Namespace) -> SizingRequest:
    """Let the options overrule the request.

    Raises
    ------
    QuantityError
        A length, temperature, tube or width that cannot be read.
    """
    from analysis.units import parse_length_m, parse_temperature_range_k

    bore, room = options.pipe_diameter, options.longest_branch
    gas, pipe_gas = options.gas_temperature, options.pipe_gas_temperature
    return replace(
        request,
        branch_count=options.branches or request.branch_count,
        pipe_inner_diameter_m=parse_length_m(bore) if bore else request.pipe_inner_diameter_m,
        longest_branch_m=parse_length_m(room) if room else request.longest_branch_m,
        branch_gas_k=parse_temperature_range_k(gas) if gas else request.branch_gas_k,
        pipe_gas_k=parse_temperature_range_k(pipe_gas) if pipe_gas else request.pipe_gas_k,
        tubes=_tubes(options.tube) if options.tube else request.tubes,
        target=_widened(request.target, options.width) if options.width else request.target,
    )


def _tubes(text: str) -> tuple[Tube, ...]:
    from analysis.tubes import INCH_TUBES, METRIC_TUBES, parse_tube

    stocks = {"inch": INCH_TUBES, "metric": METRIC_TUBES}
    return stocks.get(text.strip().lower()) or (parse_tube(text),)


def _widened(target: Target, text: str) -> Target:
    match = _WIDTH.fullmatch(text)
    if match is None:
        raise QuantityError(f"width {text!r} must be like '17 Hz', '340 rpm' or '15 %'")
    width_hz = _width_hz(float(match[1]), match[2].lower(), target)
    if not 0.0 < width_hz <= _WIDEST * target.peak_hz:
        raise QuantityError(
            f"width {text!r} must be more than nothing and at most {100 * _WIDEST:.0f} % of the "
            "drone's frequency; it is the distance of the half-power points"
        )
    half_hz = width_hz / 2.0
    return replace(target, low_hz=target.peak_hz - half_hz, high_hz=target.peak_hz + half_hz)


def _width_hz(value: float, unit: str, target: Target) -> float:
    if unit == "rpm":
        if target.engine_order is None:
            raise QuantityError("a width in rpm needs the engine order; give it in Hz")
        return value * target.engine_order / 60.0
    return value * target.peak_hz / 100.0 if unit == "%" else value
