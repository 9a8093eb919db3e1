"""What ``find`` says of drives as hostile as a road, kind by kind.

    python -m tests.benchmarks.roads [KIND ...] [--drives N] [--first SEED] [--each]

Prints a table; asserts nothing. Kinds are those of ``tests.roads.KINDS`` (all if none is named).
What must be found and what must not be told is said by ``tests/benchmarks/road_oracle.py``; the
peak is laid beside the top of the car's own curve, then beside that of the curve as driven. "held"
is how often the intervals of the peak, the half-power points and the delay hold the truth; rows are
late against the sound, which is late itself by its way through the exhaust. What is warned of is
counted by ``tests.benchmarks.doubts``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
from dataclasses import dataclass, field

import numpy as np

from analysis.basics.interval import Interval
from analysis.errors import AnalysisError
from analysis.find.drone import find_drone
from analysis.findings import DroneBand, Findings
from tests.benchmarks.road_oracle import RoadOracle
from tests.roads import KINDS, RoadDrive, TrueHill, drive_on

_SAME_PLACE = 0.05  # of frequency, or half of the hill's width


@dataclass
class Tally:
    """What the drives of one kind have shown."""

    drives: int = 0
    must: int = 0
    found: int = 0
    told: int = 0
    not_there: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    peak_error: list[float] = field(default_factory=list)  # beside the car's curve
    driven_error: list[float] = field(default_factory=list)  # beside the driven one
    width_error: list[float] = field(default_factory=list)
    held: list[bool] = field(default_factory=list)  # the truth by the peak's interval
    flanks_held: list[bool] = field(default_factory=list)
    delay_held: list[bool] = field(default_factory=list)
    withheld: int = 0
    refused: int = 0


def is_of(band: DroneBand, hill: TrueHill) -> bool:
    """Whether a band tells of this hill."""
    room = max(_SAME_PLACE, 0.5 * hill.width if np.isfinite(hill.width) else 0.0)
    apart = abs(float(np.log(band.peak_hz / hill.peak_hz)))
    return band.engine_order == hill.order and apart < room


def judge(tally: Tally, label: str, made: RoadDrive, findings: Findings) -> None:
    """Lay findings beside what the oracle says."""
    oracle = RoadOracle(made)
    tally.withheld += findings.withheld is not None
    if findings.telemetry_delay is not None:
        tally.delay_held.append(_holds(findings.telemetry_delay.ci95_s, made.truth.rows_late_s))
    tally.must += len(oracle.must)
    for asked in oracle.must:
        hill = asked.hill
        found = [band for band in findings.bands if is_of(band, hill)]
        if not found:
            tally.missed.append(
                f"{label}: order {hill.order:g} at {hill.peak_hz:.1f} Hz, {hill.height_db:.0f} dB "
                f"({asked.height_db:.0f} as driven), {100 * hill.width:.0f} % wide, {hill.cause}"
            )
            continue
        band = min(found, key=lambda each: abs(each.peak_hz - hill.peak_hz))
        tally.found += 1
        tally.peak_error.append(band.peak_hz / hill.peak_hz - 1.0)
        tally.driven_error.append(band.peak_hz / asked.driven_peak_hz - 1.0)
        width = (band.high_hz - band.low_hz) / band.peak_hz
        tally.width_error.append(width / hill.width - 1.0)
        tally.held.append(_holds(band.peak_hz_ci95, hill.peak_hz))
        for rpm, interval in (
            (hill.low_rpm, band.low_hz_ci95),
            (hill.high_rpm, band.high_hz_ci95),
        ):
            tally.flanks_held.append(_holds(interval, hill.order * rpm / 60.0))
    for band in findings.bands:
        tally.told += 1
        if not oracle.may_be_told(band.engine_order, band.peak_hz):
            tally.not_there.append(
                f"{label}: order {band.engine_order:g} at {band.peak_hz:.1f} Hz, told as "
                f"{band.rise_db:.1f} dB, {band.locked_to}"
            )


def _holds(interval: Interval, truth: float) -> bool:
    return interval.low <= truth <= interval.high


def run(kind: str, drives: int, first: int) -> Tally:
    """Drive and judge."""
    tally = Tally()
    for seed in range(first, first + drives):
        spec = KINDS[kind](np.random.default_rng([2030, seed]))
        made = drive_on(spec, seed)
        tally.drives += 1
        try:
            findings = find_drone(made.drive())
        except AnalysisError as error:
            tally.refused += 1
            tally.missed.append(f"{kind} {seed}: refused, {error}")
            continue
        judge(tally, f"{kind} {seed} ({spec.name})", made, findings)
    return tally


def row(kind: str, tally: Tally) -> str:
    """One line of the table."""
    near, width = ("     -",) * 2
    if tally.found:
        car, driven = (
            np.mean(np.abs(errors) < 0.01) for errors in (tally.peak_error, tally.driven_error)
        )
        near = f"{car:5.0%} {driven:6.0%}"
        width = f"{np.median(np.abs(tally.width_error)):6.0%}"
    held = " ".join(
        f"{np.mean(each):6.0%}" if each else "     -"
        for each in (tally.held, tally.flanks_held, tally.delay_held)
    )
    return (
        f"{kind:14s} {tally.drives:6d} {tally.must:5d} {tally.found:6d} {tally.told:5d} "
        f"{len(tally.not_there):9d} {near:>12s} {width} {held} {tally.withheld:9d} "
        f"{tally.refused:8d}"
    )


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", choices=[[], *KINDS], metavar="KIND")
    parser.add_argument("--drives", type=int, default=20, help="of each kind")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--each", action="store_true", help="name every miss and every false band")
    asked = parser.parse_args()
    print(
        f"{'kind':14s} {'drives':>6s} {'must':>5s} {'found':>6s} {'told':>5s} {'not there':>9s} "
        f"{'peak in 1 %':>12s} {'width':>6s} "
        f"{'held':>6s} {'flanks':>6s} {'delay':>6s} {'withheld':>9s} {'refused':>8s}"
    )
    tallies = {}
    for kind in asked.kinds or KINDS:
        tallies[kind] = run(kind, asked.drives, asked.first)
        print(row(kind, tallies[kind]), flush=True)
    if asked.each:
        for tally in tallies.values():
            for title, lines in (("missed", tally.missed), ("not there", tally.not_there)):
                for line in lines:
                    print(f"{title}: {line}")


if __name__ == "__main__":
    main()
