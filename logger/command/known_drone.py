"""A drone that somebody knows without a drive: by ear at an engine speed, or by its frequency."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import math
from dataclasses import replace
from typing import TYPE_CHECKING

from logger.command import options
from logger.command.drives import engine_as_told, told_car
from logger.command.sizing import size_wishes
from logger.screen.terminal import progress_bar

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.branches import Sizing
    from analysis.exhaust.car import Car

# What only a drive has, and what a frequency alone has no use for; as argparse keeps them.
_OF_A_DRIVE = ("band", "built", "channel", "idle_rpm", "rpm_at")
_OF_AN_ENGINE = ("cylinders", "stroke_cycle")


def add_known_drone(parser: argparse.ArgumentParser) -> None:
    """Add the ways to tell a drone without a drive."""
    group = parser.add_argument_group(
        "without a drive", "By ear: the engine speed, and the cylinders or a car file."
    )
    options.add(
        group,
        ("--rpm", options.engine_speed, "N", "engine speed of the drone"),
        ("--order", float, "N", "with --rpm: pulses per revolution (default: the firing order)"),
        ("--hz", float, "N", "frequency of the drone"),
    )


def sized_without_drive(arguments: argparse.Namespace, command: str) -> Sizing | None:
    """Size for the drone that --rpm or --hz tells; None when a session is given."""
    _check_ways(arguments, command)
    if arguments.session is not None:
        return None
    rpm, hz = arguments.rpm, arguments.hz
    car, wishes = _car(arguments), size_wishes(arguments)
    order = 0.0 if rpm is None else _order(arguments, car)
    with progress_bar("sizing") as progress:
        from analysis import job

        if rpm is None:
            return job.size_frequency(hz, None, car, wishes, progress=progress)
        return job.size_by_ear(rpm, order, car, wishes, progress=progress)


def _check_ways(arguments: argparse.Namespace, command: str) -> None:
    """See that the drone is told in one way, and that nothing told would be ignored."""
    session, rpm, hz = arguments.session, arguments.rpm, arguments.hz
    if [way is not None for way in (session, rpm, hz)].count(True) != 1:
        raise options.UsageError(
            f"{command} needs one of: a session, --rpm with --cylinders, --order or --car, or "
            f"--hz; for example: pipenote {command} --rpm 2000 --cylinders 8"
        )
    if arguments.order is not None and rpm is None:
        raise options.UsageError("--order goes with --rpm only; leave it out")
    if session is not None:
        return
    for name in (*_OF_A_DRIVE, *(() if hz is None else _OF_AN_ENGINE)):
        if getattr(arguments, name, None) not in (None, []):
            option, way = name.replace("_", "-"), "--hz" if rpm is None else "--rpm"
            raise options.UsageError(f"--{option} means nothing with {way}; leave it out")


def _car(arguments: argparse.Namespace) -> Car | None:
    """Give the car from --car, with the engine from --cylinders where that is told."""
    from analysis.exhaust.car import Car

    car = told_car(arguments)
    engine = engine_as_told(arguments, car)
    if engine is None:
        return None
    return Car(engine=engine) if car is None else replace(car, engine=engine)


def _order(arguments: argparse.Namespace, car: Car | None) -> float:
    """Order as told, or else the one at which the cylinders fire."""
    if arguments.order is not None:
        order = float(arguments.order)
        if not 0.0 < order < math.inf:
            raise options.UsageError(f"--order must be more than zero, got {order:g}")
        return order
    if car is None:
        raise options.UsageError(
            "--rpm needs to know the engine: give --cylinders 8, or a car file with --car, or the "
            "order itself with --order 4"
        )
    return car.engine.firing_order
