"""How near ``find`` comes to the truth, on generated drives.

    python -m tests.benchmarks.find_accuracy [number of drives]

Prints a table; asserts nothing. A band "must be found" when the generator says that it was
driven through whole, stands 12 dB out of the noise, and is within 10 dB of the strongest order.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np

from analysis.find import find_drone
from analysis.findings import DroneBand, Findings
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
    missed: list[str] = field(default_factory=list)
    false: list[str] = field(default_factory=list)
    worst_order_wrong: list[str] = field(default_factory=list)
    no_delay: int = 0
    drives: int = 0
    bands: int = 0


def matching(truth: TrueBand, findings: Findings) -> DroneBand | None:
    """The found band of the same order nearest to a true one, if it is near at all."""
    near = [
        band
        for band in findings.bands
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
    for band in truth.bands:
        if not band.main:
            continue
        tally.bands += 1
        found = matching(band, findings)
        if found is None:
            tally.missed.append(
                f"{label}: order {band.engine_order:g} at {band.peak_hz:.1f} Hz, rise "
                f"{band.rise_db:.1f} dB, {band.order_to_noise_db:.0f} dB over noise, "
                f"{band.below_strongest_db:.1f} dB below the strongest"
            )
            continue
        tally.peak_error.append(found.peak_hz / band.peak_hz - 1.0)
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


def run(drives: int) -> Tally:
    """Generate and analyse drives with none, one and two bands in turn."""
    tally = Tally()
    for seed in range(drives):
        rng = np.random.default_rng([2026, seed])
        spec = random_spec(
            rng, bands=(1, 2, 1, 0)[seed % 4], two_clocks=seed % 5 == 4, gears=1 + (seed % 3 == 2)
        )
        drive = generate(spec, seed)
        findings = find_drone(drive.drive())
        label = f"drive {seed} ({spec.name}, telemetry {spec.telemetry.rate_hz:.1f} Hz)"
        add(tally, label, drive, findings)
    return tally


def main() -> None:
    """Run and print."""
    tally = run(int(sys.argv[1]) if len(sys.argv) > 1 else 40)

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
    print(f"delay not decided in {tally.no_delay}")
    for title, lines in (
        ("missed", tally.missed),
        ("false", tally.false),
        ("worst order wrong", tally.worst_order_wrong),
    ):
        print(f"{title}: {len(lines)}")
        for line in lines:
            print(f"  {line}")


if __name__ == "__main__":
    main()
