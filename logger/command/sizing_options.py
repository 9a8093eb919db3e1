"""The command-line options of sizing, and what each changes in a request."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.errors import QuantityError, SizingError

if TYPE_CHECKING:  # loaded where they are used, so that every --help is quick
    from analysis.branches import Sizing, Target, Tube
    from analysis.compare.trim.by_frequency import BuiltBranch
    from analysis.exhaust.car import Car
    from analysis.exhaust.line import ExhaustLine
    from analysis.findings import Findings
    from analysis.size.request import SizingRequest
    from analysis.verdicts import Comparison

_WIDTH = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(hz|rpm|%)\s*", re.IGNORECASE)
_MOST_BRANCHES = 2
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
    parser.add_argument("--no-can", action="store_true", help="plain tube only, no can on a neck")
    parser.add_argument(
        "--width", metavar="WIDTH", help='half-power width of the drone: "17 Hz" or "340 rpm"'
    )


def add_built_option(parser: argparse.ArgumentParser) -> None:
    """Add what was really welded on, where it is not what ``size`` said with the same options."""
    parser.add_argument(
        "--built",
        action="append",
        metavar="LENGTH",
        help='length of a branch as built, from pipe to cap, "702 mm"; once for each (default: as '
        "size says)",
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


def sizing_for_frequency(
    frequency_hz: float,
    options: argparse.Namespace,
    progress: Callable[[float], None] | None = None,
) -> Sizing:
    """Size for a frequency without a drive; ``progress`` as in ``size_branches``.

    Raises
    ------
    AnalysisError
        A car file, option or frequency that cannot be used.
    """
    from analysis.exhaust.car import read_car
    from analysis.size.from_findings import request_for_frequency
    from analysis.size.size import size_branches

    car = None if options.car is None else read_car(options.car)
    request = request_for_frequency(frequency_hz=frequency_hz, engine_order=options.order, car=car)
    return size_branches(with_options(request, options), progress=progress)


def sizing_for_drive(
    findings: Findings,
    car: Car | None,
    options: argparse.Namespace,
    progress: Callable[[float], None] | None = None,
) -> Sizing | None:
    """Size for the worst band of a drive, or the one asked for; None when no branch would help.

    ``progress`` is as in ``size_branches``.

    Raises
    ------
    AnalysisError
        An option or band that cannot be used.
    """
    from analysis.size.size import size_branches

    request = request_for_drive(findings, car, options)
    return None if request is None else size_branches(request, progress=progress)


def request_for_drive(
    findings: Findings, car: Car | None, options: argparse.Namespace
) -> SizingRequest | None:
    """Ask for branches against the worst band of a drive; None when no branch would help.

    Raises
    ------
    AnalysisError
        An option or band that cannot be used.
    """
    from analysis.size.from_findings import band_to_cure, request_for_band

    band = band_to_cure(findings, options.band)
    if band is None:
        return None
    return with_options(request_for_band(findings, band, car), options)


def branches_as_built(
    baseline: Findings,
    car: Car | None,
    options: argparse.Namespace,
    sizing: Sizing | None = None,
) -> tuple[BuiltBranch, ...]:
    """Branches welded on after the baseline: as sized with these options, or as ``--built`` says.

    Without ``--car`` and without ``--built`` nobody said that there are any. Another number of them
    than was sized has cans only if those sized have. ``sizing`` is what
    `sizing_for_drive` gave for the same options, if it was asked already.

    Raises
    ------
    AnalysisError
        An option or length that cannot be used.
    """
    from analysis.basics.units import parse_length_m
    from analysis.compare.trim.by_frequency import built_branches

    lengths_m = tuple(parse_length_m(text) for text in options.built or ())
    if len(lengths_m) > _MOST_BRANCHES:
        raise SizingError(f"--built may be given for one or two branches, got {len(lengths_m)}")
    if baseline.withheld or (options.car is None and not lengths_m):
        return ()
    sizing = sizing or sizing_for_drive(baseline, car, options)
    if sizing is not None and len(lengths_m) not in (0, len(sizing.branches)):
        asked = argparse.Namespace(**vars(options))
        asked.branches = len(lengths_m)
        asked.no_can = options.no_can or not any(branch.can for branch in sizing.branches)
        sizing = sizing_for_drive(baseline, car, asked)
    return () if sizing is None else built_branches(sizing, lengths_m)


def compare_built(
    baseline: Findings,
    postfix: Findings,
    built: Sequence[BuiltBranch],
    car: Car | None,
    options: argparse.Namespace,
    progress: Callable[[float], None],
) -> Comparison:
    """Compare two drives; trims of what was built go by what it was sized by.

    ``progress`` is as in ``size_branches``.

    Raises
    ------
    AnalysisError
        An option or band that cannot be used; drives that cannot be compared.
    """
    from analysis.compare.comparison import compare_drives

    sized_by = request_for_drive(baseline, car, options) if built else None
    return compare_drives(baseline, postfix, built, sized_by=sized_by, progress=progress)


def with_options(request: SizingRequest, options: argparse.Namespace) -> SizingRequest:
    """Let the options overrule the request.

    Raises
    ------
    QuantityError
        A length, temperature, tube or width that cannot be read.
    """
    from analysis.basics.units import parse_length_m, parse_temperature_range_k

    bore, room = options.pipe_diameter, options.longest_branch
    gas, pipe_gas = options.gas_temperature, options.pipe_gas_temperature
    return replace(
        request,
        line=_line(request.line, bore, pipe_gas),
        branch_count=options.branches or request.branch_count,
        pipe_inner_diameter_m=parse_length_m(bore) if bore else request.pipe_inner_diameter_m,
        longest_branch_m=parse_length_m(room) if room else request.longest_branch_m,
        branch_gas_k=parse_temperature_range_k(gas) if gas else request.branch_gas_k,
        branch_gas_said_by="as --gas-temperature says" if gas else request.branch_gas_said_by,
        pipe_gas_k=parse_temperature_range_k(pipe_gas) if pipe_gas else request.pipe_gas_k,
        tubes=_tubes(options.tube) if options.tube else request.tubes,
        cans=not options.no_can,
        target=_widened(request.target, options.width) if options.width else request.target,
    )


def _line(line: ExhaustLine | None, bore: str | None, pipe_gas: str | None) -> ExhaustLine | None:
    """Let the options overrule the bore of every pipe of the line, and the gas beside a branch."""
    from analysis.basics.units import parse_length_m, parse_temperature_range_k

    if line is None:
        return None
    if bore:
        line = line.with_bore(parse_length_m(bore))
    return replace(line, beside_branch_k=parse_temperature_range_k(pipe_gas)) if pipe_gas else line


def _tubes(text: str) -> tuple[Tube, ...]:
    from analysis.exhaust.tube_stock import INCH_TUBES, METRIC_TUBES, parse_tube

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
