"""How near ``find`` comes to the truth, on generated drives.

    python -m tests.benchmarks.find_accuracy [drives [quiet drives [road booms]]] [--first SEED]

Prints a table; asserts nothing. After a mix of drives (200) come drives without a drone (100) and
drives in two gears whose only boom keeps step with the road (50). A band "must be found" when the
generator says that it was driven through whole, stands 12 dB out of the noise, and is within 10 dB
of the strongest order.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from dataclasses import dataclass, field

import numpy as np

from analysis.find.drone import find_drone
from analysis.findings import DroneBand, Findings, LockedTo
from tests.benchmarks.oracle import oracle_bands
from tests.drives import GeneratedDrive, TrueBand, generate, random_spec

_SAME_PLACE = 0.12  # of the peak's frequency


@dataclass
class Tally:
    """What the drives so far have shown."""

    peak_error: list[float] = field(default_factory=list)
    width_error: list[float] = field(default_factory=list)
    delay_error_s: list[float] = field(default_factory=list)
    delay_covered: list[bool] = field(default_factory=list)
    covered: dict[str, list[bool]] = field(
        default_factory=lambda: {"peak_hz": [], "low_hz": [], "high_hz": []}
    )
    oracle_error: list[float] = field(default_factory=list)  # beside find's, the same bands
    beside_oracle: list[float] = field(default_factory=list)
    speed_error: list[float] = field(default_factory=list)  # rms of each drive
    verdicts_in_one_gear: list[str] = field(default_factory=list)
    verdicts_in_two_gears: list[LockedTo] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    false: list[str] = field(default_factory=list)
    worst_order_wrong: list[str] = field(default_factory=list)
    no_delay: int = 0
    drives: int = 0
    bands: int = 0


def matching(truth: TrueBand, bands: tuple[DroneBand, ...]) -> DroneBand | None:
    """The found band of the same order nearest to a true one, if it is near at all."""
    near = [
        band
        for band in bands
        if band.engine_order == truth.engine_order
        and abs(band.peak_hz / truth.peak_hz - 1.0) < _SAME_PLACE
    ]
    return min(near, key=lambda band: abs(band.peak_hz - truth.peak_hz), default=None)


def add(tally: Tally, label: str, drive: GeneratedDrive, findings: Findings) -> None:
    """Compare one drive's findings with its truth."""
    tally.drives += 1
    truth = drive.truth
    if findings.telemetry_delay is None:
        tally.no_delay += 1
    else:
        error_s = findings.telemetry_delay.delay_s - truth.telemetry_delay_s
        tally.delay_error_s.append(error_s)
        interval = findings.telemetry_delay.ci95_s
        tally.delay_covered.append(interval.low <= truth.telemetry_delay_s <= interval.high)
    _add_speed(tally, drive, findings)
    told_the_truth = oracle_bands(drive)
    for band in truth.bands:
        if not band.main:
            continue
        tally.bands += 1
        found = matching(band, findings.bands)
        if found is None:
            tally.missed.append(
                f"{label}: order {band.engine_order:g} at {band.peak_hz:.1f} Hz, rise "
                f"{band.rise_db:.1f} dB, {band.order_to_noise_db:.0f} dB over noise, "
                f"{band.below_strongest_db:.1f} dB below the strongest"
            )
            continue
        tally.peak_error.append(found.peak_hz / band.peak_hz - 1.0)
        if (best := matching(band, told_the_truth)) is not None:
            tally.oracle_error.append(best.peak_hz / band.peak_hz - 1.0)
            tally.beside_oracle.append(found.peak_hz / band.peak_hz - 1.0)
        width = band.high_hz - band.low_hz
        tally.width_error.append((found.high_hz - found.low_hz) / width - 1.0)
        for name, seen in tally.covered.items():
            ci = getattr(found, f"{name}_ci95")
            seen.append(ci.low <= getattr(band, name) <= ci.high)
    worst = [band for band in truth.bands if band.main]
    if worst and findings.bands:
        orders = {b.engine_order for b in worst if b.level_db > worst[0].level_db - 3.0}
        if findings.bands[0].engine_order not in orders:
            tally.worst_order_wrong.append(f"{label}: {findings.bands[0].engine_order:g}")
    for found in findings.bands:
        if not any(
            band.engine_order == found.engine_order
            and abs(found.peak_hz / band.peak_hz - 1.0) < _SAME_PLACE
            for band in truth.bands
        ):
            tally.false.append(
                f"{label}: order {found.engine_order:g} at {found.peak_hz:.1f} Hz, rise "
                f"{found.rise_db:.1f} dB, level {found.level_db:.0f} dB"
            )


def _add_speed(tally: Tally, drive: GeneratedDrive, findings: Findings) -> None:
    """Error of the engine speed, where it was measured to 0.3 % by its own account."""
    speed = findings.engine_speed
    sure = 1.96 * speed.sigma_part < 0.003
    if sure.any():
        truth = np.interp(speed.time_s[sure], drive.truth.time_s, drive.truth.rpm)
        error = speed.rpm[sure] / truth - 1.0
        tally.speed_error += error[np.isfinite(error)].tolist()


def _add_verdicts(tally: Tally, label: str, gears: int, findings: Findings) -> None:
    for band in findings.bands:
        if gears > 1:
            tally.verdicts_in_two_gears.append(band.locked_to)
        elif band.locked_to is not LockedTo.UNKNOWN:
            tally.verdicts_in_one_gear.append(f"{label}: {band.locked_to}")


def run_quiet(drives: int, first: int) -> list[str]:
    """Bands claimed in drives that hold none."""
    claimed = []
    for seed in range(first, first + drives):
        rng = np.random.default_rng([2027, seed])
        spec = random_spec(rng, bands=0, two_clocks=seed % 5 == 4, gears=1 + (seed % 3 == 2))
        for band in find_drone(generate(spec, seed).drive()).bands:
            claimed.append(f"quiet drive {seed}: order {band.engine_order:g} at {band.peak_hz:.1f}")
    return claimed


def run_road(drives: int, first: int) -> tuple[list[str], int]:
    """Bands of a road boom that were called the engine's, and in how many drives it was seen."""
    wrong, seen = [], 0
    for seed in range(first, first + drives):
        rng = np.random.default_rng([2028, seed])
        spec = random_spec(rng, bands=0, gears=2, road_drone=True)
        bands = find_drone(generate(spec, seed).drive()).bands
        seen += any(band.locked_to is LockedTo.ROAD for band in bands)
        wrong += [
            f"road boom {seed}: order {band.engine_order:g} at {band.peak_hz:.1f}"
            for band in bands
            if band.locked_to is LockedTo.ENGINE
        ]
    return wrong, seen


def run(drives: int, first: int) -> Tally:
    """Generate and analyse drives with none, one and two bands in turn."""
    tally = Tally()
    for seed in range(first, first + drives):
        rng = np.random.default_rng([2026, seed])
        gears = 1 + (seed % 3 == 2)
        spec = random_spec(rng, bands=(1, 2, 1, 0)[seed % 4], two_clocks=seed % 5 == 4, gears=gears)
        drive = generate(spec, seed)
        findings = find_drone(drive.drive())
        label = f"drive {seed} ({spec.name}, telemetry {spec.telemetry.rate_hz:.1f} Hz)"
        add(tally, label, drive, findings)
        _add_verdicts(tally, label, gears, findings)
    return tally


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    for kind, count in (("drives", 200), ("quiet", 100), ("road", 50)):
        parser.add_argument(kind, type=int, nargs="?", default=count)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    tally = run(asked.drives, asked.first)

    def spread(values: list[float], unit: float, name: str) -> None:
        size = np.abs(np.array(values)) * unit
        print(
            f"{name:34s} median {np.median(size):8.3f}   95 % {np.percentile(size, 95):8.3f}   "
            f"largest {size.max():8.3f}   mean {np.mean(values) * unit:+8.3f}   n {size.size}"
        )

    print(f"{tally.drives} drives, {tally.bands} bands that must be found")
    spread(tally.peak_error, 100, "peak error, %")
    spread(tally.width_error, 100, "half-power width error, %")
    spread(tally.delay_error_s, 1000, "telemetry delay error, ms")
    print(f"delay interval holds the truth {100 * np.mean(tally.delay_covered):.1f} %")
    for name, seen in tally.covered.items():
        print(f"{name} interval holds the truth {100 * np.mean(seen):.1f} % of {len(seen)}")
    spread(tally.speed_error, 100, "engine speed, where surest, %")
    ours, best = (
        float(np.sqrt(np.mean(np.square(errors))))
        for errors in (tally.beside_oracle, tally.oracle_error)
    )
    print(
        f"peak error, rms: find {100 * ours:.3f} %, oracle {100 * best:.3f} % (ratio "
        f"{ours / best:.2f}, {len(tally.oracle_error)} bands)"
    )
    kinds = [str(kind) for kind in tally.verdicts_in_two_gears]
    print(f"verdicts in two gears: { ({kind: kinds.count(kind) for kind in sorted(set(kinds))}) }")
    print(f"delay not decided in {tally.no_delay}")
    wrong, noticed = run_road(asked.road, asked.first)
    for title, lines in (
        ("missed", tally.missed),
        ("false", tally.false),
        ("worst order wrong", tally.worst_order_wrong),
        ("verdicts in one gear", tally.verdicts_in_one_gear),
        (f"bands in {asked.quiet} drives without a drone", run_quiet(asked.quiet, asked.first)),
        (f"called the engine's, of {asked.road} road booms, {noticed} seen as the road's", wrong),
    ):
        print(f"{title}: {len(lines)}")
        for line in lines:
            print(f"  {line}")


if __name__ == "__main__":
    main()
