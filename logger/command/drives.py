"""How a session is read and its drone found: the options, and the doing."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import CarError
from logger.command import options
from logger.screen.terminal import progress_bar

if TYPE_CHECKING:  # loaded where it is used, so that every --help is quick
    from analysis.drive import Engine
    from analysis.exhaust.car import Car
    from analysis.findings import Findings
    from logger.session import Session


def found_in(
    path: Path, arguments: argparse.Namespace, *, rpm_at: Sequence[tuple[float, float]] = ()
) -> tuple[Findings, Car | None]:
    """Read a session and find its drone; with the car from --car, or else from the session.

    ``rpm_at`` is from --rpm-at, where it is meant for this session.
    """
    told = told_car(arguments)
    with progress_bar(f"listening to {path.name}") as progress:
        from logger.session import read_session

        session = read_session(path)
        car = told if told is not None else _kept_car(session)
        return _found(session, arguments, told, rpm_at, progress), car


def both_found_in(
    baseline: Path, postfix: Path, arguments: argparse.Namespace
) -> tuple[Findings, Findings, Car | None, Path]:
    """Find the drones of both drives, and their car, with the session that it is taken from.

    Many describe the car only when the first drive is done, so the second one may keep what the
    first one lacks.
    """
    before, car = found_in(baseline, arguments, rpm_at=arguments.rpm_at)
    after, later_car = found_in(postfix, arguments)
    if car is None and later_car is not None:
        return before, after, later_car, postfix
    return before, after, car, baseline


def refuse_missing(*sessions: Path | None) -> None:
    """Refuse what is no session, before anything that is slow to load."""
    from logger.session.metadata import read_metadata

    for session in sessions:
        if session is not None:
            read_metadata(session)


def refuse_unlike(baseline: Path, postfix: Path, arguments: argparse.Namespace) -> None:
    """Refuse two sessions that are one, or of two engines, before any work is done for them."""
    from logger.session.metadata import read_metadata

    if baseline.resolve() == postfix.resolve():
        raise options.UsageError(
            f"BASELINE and POSTFIX are both {baseline}; give the drive before the work and the one "
            "after it"
        )
    first, second = (read_metadata(each)[0].cylinders for each in (baseline, postfix))
    # with --cylinders nobody believes what the sessions say of the engine
    if arguments.cylinders is None and None not in (first, second) and first != second:
        raise options.UsageError(
            f"{baseline} says {first} cylinders, {postfix} says {second}: these are not drives of "
            "one car; if one of them is wrong, say --cylinders"
        )


def _kept_car(session: Session) -> Car | None:
    from analysis.exhaust.car import parse_car

    kept = session.metadata.car
    try:
        return None if kept is None else parse_car(kept)
    except CarError as error:
        raise CarError(f"the car that {session.path} keeps in its session.json: {error}") from error


def car_line(session: Path, arguments: argparse.Namespace, car: Car | None) -> str:
    """Say which car was taken, and from where: the one told, or the one that the session keeps."""
    from analysis.describe.facts import engine_of
    from analysis.words.lengths import rough_length

    if car is None:
        return f"Car: not known; {session.name} keeps none, and --car gives none."
    whose = f"as {session.name} keeps it" if arguments.car is None else str(arguments.car)
    pipe = f", exhaust of {rough_length(car.pipe_length_m)}" if car.sections else ""
    legs = f", {len(car.legs)} legs" if len(car.legs) > 1 else ""
    return f"Car: {whose} ({engine_of(car)}{pipe}{legs})."


def find_in(session: Session, arguments: argparse.Namespace, told: Car | None) -> Findings:
    """Find the drone of a session; ``told`` is the car from --car."""
    with progress_bar(f"listening to {session.path.name}") as progress:
        return _found(session, arguments, told, (), progress)


def _found(
    session: Session,
    arguments: argparse.Namespace,
    told: Car | None,
    rpm_at: Sequence[tuple[float, float]],
    progress: Callable[[float], None],
) -> Findings:
    from analysis import job

    drive = session.drive(channel=arguments.channel, engine=engine_as_told(arguments, told))
    hints = job.SpeedHints(idle_rpm=arguments.idle_rpm, rpm_at=tuple(rpm_at))
    return job.find(drive, hints, progress=progress)


def told_car(arguments: argparse.Namespace) -> Car | None:
    """Give the car from --car."""
    from analysis.exhaust.car import read_car

    return None if arguments.car is None else read_car(arguments.car)


def engine_as_told(arguments: argparse.Namespace, car: Car | None) -> Engine | None:
    """Give the engine from --cylinders, or else that of the car."""
    from analysis.drive import Engine

    if arguments.cylinders is not None:
        return Engine(cylinders=arguments.cylinders, stroke_cycle=arguments.stroke_cycle or 4)
    if arguments.stroke_cycle is not None:
        raise options.UsageError("--stroke-cycle goes with --cylinders; give both, or neither")
    return None if car is None else car.engine
