"""Engine speed from the sound alone against the truth: python -m tests.benchmarks.rpm_from_sound.

The telemetry of generated drives is thrown away. A moment counts as audible when an order stands
6 dB out of the noise of the drive there, by the filters that made the sound.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.drive import Engine
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.from_sound import speed_from_sound
from analysis.find.speed.refinement import refined_speed
from tests.drives import GeneratedDrive, generate, random_spec

_STEP_S = 0.1
_AUDIBLE_DB = 6.0
_ORDERS = np.arange(0.5, 8.01, 0.5)
_RPM_GRID = np.arange(700.0, 5000.0, 100.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Shares of the audible time, but for the first, which is of the whole drive."""

    name: str
    audible: float
    known: float
    right: float  # within 1 %
    close: float  # within 0.3 %
    half_or_double: float
    other: float


def run(seed: int) -> Row:
    """Generate one drive and listen to it."""
    rng = np.random.default_rng([77, seed])
    spec = random_spec(rng, bands=seed % 3, gears=1 + seed % 2)
    drive = generate(spec, seed)
    sound = drive.drive().sound
    assert sound is not None
    with WorkingCopy(sound, lambda part: None) as copy:
        heard = speed_from_sound(copy, Engine(cylinders=spec.source.cylinders), lambda part: None)
        track = refined_speed(copy, heard)
    time_s = np.arange(1.0, spec.duration_s - 1.0, _STEP_S)
    true_rpm = np.interp(time_s, drive.truth.time_s, drive.truth.rpm)
    audible = _audible(drive, true_rpm)
    ratio = (track.at(time_s) / true_rpm)[audible]
    known = np.isfinite(ratio)
    off = np.abs(ratio - 1.0)
    octave = (np.abs(ratio - 0.5) < 0.02) | (np.abs(ratio - 2.0) < 0.08)
    right = off < 0.01
    return Row(
        name=spec.name,
        audible=float(audible.mean()),
        known=float(known.mean()),
        right=float(right.mean()),
        close=float((off < 0.003).mean()),
        half_or_double=float(octave.mean()),
        other=float((known & ~right & ~octave).mean()),
    )


def _audible(drive: GeneratedDrive, rpm: FloatArray) -> FloatArray:
    """Whether any order stands out of the noise at this engine speed [shape=(n,)]."""
    car = drive.truth.car
    best = [max(car.order_to_noise_db(order, at) for order in _ORDERS) for at in _RPM_GRID]
    return np.asarray(np.interp(rpm, _RPM_GRID, best) >= _AUDIBLE_DB)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("drives", type=int, nargs="?", default=60)
    parser.add_argument("--first", type=int, default=0)
    wanted = parser.parse_args()
    rows = []
    print("seed drive                  audible  known  within 1 %  0.3 %  half/double  other")
    for seed in range(wanted.first, wanted.first + wanted.drives):
        row = run(seed)
        rows.append(row)
        print(
            f"{seed:4d} {row.name:22s} {row.audible:7.1%} {row.known:6.1%} {row.right:10.1%} "
            f"{row.close:7.1%} {row.half_or_double:10.1%} {row.other:7.1%}",
            flush=True,
        )
    weight = np.array([row.audible for row in rows])
    for what in ("known", "right", "close", "half_or_double", "other"):
        share = np.array([getattr(row, what) for row in rows])
        print(f"{what}: {np.average(share, weights=weight):.2%} of the audible time")


if __name__ == "__main__":
    main()
