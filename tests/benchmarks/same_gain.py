"""Does a branch look like a turned gain? python -m tests.benchmarks.same_gain [CARS].

Every car of the garage is sized and welded; nobody touches the recorder. What every order then does
at frequencies that no branch is meant for is taken as ``compare`` takes it, noise apart. Counted is
how often a change of gain would be believed, which is how often its 95 % interval misses the truth.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from scipy.stats import norm

from analysis.basics.arrays import FloatArray
from analysis.compare.match.same_setup import common_change, touched
from tests.benchmarks.garage import Case, builds, case_of
from tests.garage.level import level_db
from tests.garage.spec import Welded

_ORDERS = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
_HZ = (25.0, 500.0)  # what a drive shows clear of its noise; common practice, no source
_SPEEDS, _ENOUGH_SPEEDS = 150, 10
_DRAWS = 200  # how many sets of orders are tried on each car
_COUNTS = (2, 3, 4, 5, 8, 12)


def order_changes(case: Case, welded: tuple[Welded, ...]) -> FloatArray:
    """Change of each order in the middle of what a branch should leave alone, in dB."""
    rpm = np.geomspace(*case.car.range_rpm, _SPEEDS)
    drone = case.measured.drone
    band_hz = tuple(case.car.order * edge / 60.0 for edge in (drone.low_rpm, drone.high_rpm))
    changes = []
    for order in _ORDERS:
        car = replace(case.car, cylinders=round(2.0 * order))  # fires at this order
        hz = order * rpm / 60.0
        alone = ~touched(hz, [(band_hz[0], band_hz[1])]) & (hz > _HZ[0]) & (hz < _HZ[1])
        if np.count_nonzero(alone) >= _ENOUGH_SPEEDS:
            change_db = level_db(car, rpm, welded) - level_db(car, rpm)
            changes.append(float(np.median(change_db[alone])))
    return np.asarray(changes)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cars", type=int, nargs="?", default=30)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    changes: list[FloatArray] = []
    for seed in range(asked.first, asked.first + asked.cars):
        case = case_of(seed, tight=False)
        if case is None:
            continue
        changes.append(order_changes(case, builds(case, seed)["whole exhaust"][0]))
        print(f"{seed:4d}", *(f"{each:+6.1f}" for each in changes[-1]), flush=True)
    print("orders  gain believed  rms dB  median interval dB")
    rng = np.random.default_rng(85)
    sure = float(norm.ppf(0.975))
    for count in _COUNTS:
        drawn = [
            common_change(rng.choice(of_car, count, replace=False))
            for of_car in changes
            if of_car.size >= count
            for _ in range(_DRAWS)
        ]
        gain_db, sd_db = (np.array(each) for each in zip(*drawn, strict=True))
        held = np.abs(gain_db) <= sure * sd_db
        print(
            f"{count:6d} {1.0 - held.mean():14.1%} "
            f"{np.sqrt(np.mean(gain_db**2)):7.1f} {np.median(sure * sd_db):19.1f}"
        )


if __name__ == "__main__":
    main()
