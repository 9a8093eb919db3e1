"""Branches built off their frequency, on another day: python -m tests.benchmarks.trim_accuracy.

Each pair is a baseline drive and one after a branch was welded on that works up to 12 % beside the
drone. Road and wind noise differ by up to 6 dB between the days, gain by up to 3 dB. The trim is
made as told, with the gas as it truly was; the table says how near the drone the branch then works.

The pipe of these drives has no echoes, but nobody can tell that from two drives, so the intervals
allow for them and hold the truth nearly always here. In the echoing exhausts of the garage, told by
one order, the same intervals hold it in about two of three: they are not too wide.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np

from analysis.compare.trim.built import BuiltBranch
from analysis.compare.trim.by_frequency import advise_trims
from analysis.find.drone import find_drone
from analysis.size.from_findings import bands_to_cure
from analysis.verdicts import Trim
from tests.drives import generate, random_spec
from tests.drives.spec import DriveSpec, SideBranch

_BORE_M, _CORRECTION_M = 0.054, 0.012


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One pair; ``trim`` is None where nothing was told."""

    seed: int
    drone_hz: float
    true_hz: float
    built: BuiltBranch
    gas_k: float
    trim: Trim | None

    @property
    def off_after(self) -> float:
        """How far from the drone the branch works after the trim, as a share; NaN if untold."""
        if self.trim is None:
            return float("nan")
        cut_m = self.trim.cut_m if self.trim.is_worth_it else 0.0
        trimmed = replace(self.built, length_m=self.built.length_m - cut_m)
        return trimmed.tuned_hz(self.gas_k) / self.drone_hz - 1.0

    @property
    def covered(self) -> bool:
        """Whether the interval of the gas temperature holds the truth."""
        if self.trim is None:
            return False
        ends = self.trim.gas_temperature_ci95_k
        return ends.low <= self.gas_k <= ends.high


def run_pair(seed: int) -> Row | None:
    """Generate, find and trim one pair; None when the baseline's drone was not found."""
    rng = np.random.default_rng([61, seed])
    spec = random_spec(rng, bands=1 + seed % 2)
    before = generate(spec, seed, outing=0)
    baseline = find_drone(before.drive())
    bands = bands_to_cure(baseline)
    if not bands:
        return None
    drone_hz = before.truth.bands[0].peak_hz
    true_hz = drone_hz * float(np.exp(rng.uniform(-0.12, 0.12)))
    gas_k = float(rng.uniform(340.0, 520.0))
    built = _built(true_hz, gas_k, bands[0].peak_hz)
    postfix = find_drone(generate(_fixed(spec, true_hz, rng), seed, outing=1).drive())
    trims = advise_trims(baseline, postfix, (built,)).trims
    return Row(
        seed=seed,
        drone_hz=drone_hz,
        true_hz=true_hz,
        built=built,
        gas_k=gas_k,
        trim=trims[0] if trims else None,
    )


def _built(true_hz: float, gas_k: float, wanted_hz: float) -> BuiltBranch:
    rough = BuiltBranch(
        length_m=1.0, end_correction_m=_CORRECTION_M, bore_m=_BORE_M, wanted_hz=true_hz
    )
    return replace(rough, length_m=rough.right_length_m(gas_k), wanted_hz=wanted_hz)


def _fixed(spec: DriveSpec, true_hz: float, rng: np.random.Generator) -> DriveSpec:
    noise = replace(
        spec.noise,
        road_db_spl=spec.noise.road_db_spl + float(rng.uniform(-6.0, 6.0)),
        wind_db_spl=spec.noise.wind_db_spl + float(rng.uniform(-6.0, 6.0)),
    )
    branch = SideBranch(
        tuned_hz=true_hz,
        area_ratio=float(rng.uniform(0.4, 1.0)),
        round_trip_loss=float(rng.uniform(0.02, 0.08)),
        mouth_resistance=float(rng.uniform(0.0, 0.08)),
    )
    return replace(
        spec,
        branch=branch,
        noise=noise,
        full_scale_db_spl=spec.full_scale_db_spl + float(rng.uniform(-3.0, 3.0)),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    wanted = parser.parse_args()
    rows = []
    print("seed drone  works at  found [  95 %      ]  cut mm  off after")
    for seed in range(wanted.first, wanted.first + wanted.pairs):
        row = run_pair(seed)
        if row is not None:
            rows.append(row)
            print(_line(row), flush=True)
    told = [row for row in rows if row.trim is not None]
    if not told:
        return
    off = np.abs([row.off_after for row in told])
    print(f"{len(rows)} pairs with a drone, {len(told)} trims told")
    print(f"after the trim within 1 %: {np.mean(off < 0.01):.1%}, ", end="")
    print(f"median {np.median(off):.2%}, 95 % within {np.quantile(off, 0.95):.2%}")
    print(f"interval of the gas holds the truth: {np.mean([row.covered for row in told]):.1%}")


def _line(row: Row) -> str:
    start = f"{row.seed:4d} {row.drone_hz:5.1f} {row.true_hz:9.1f} "
    if row.trim is None:
        return start + " cannot tell"
    ends = [row.built.tuned_hz(k) for k in (row.trim.gas_temperature_ci95_k.low,)]
    ends.append(row.built.tuned_hz(row.trim.gas_temperature_ci95_k.high))
    leave = "" if row.trim.is_worth_it else " left alone"
    return (
        f"{start}{row.trim.works_at_hz:6.1f} [{ends[0]:5.1f} {ends[1]:5.1f}] "
        f"{1e3 * row.trim.cut_m:7.1f} {row.off_after:+9.2%}{leave}"
    )


if __name__ == "__main__":
    main()
