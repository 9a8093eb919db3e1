"""Which cheap recording tells the exhaust from all else, on cars whose causes are known.

    python -m tests.benchmarks.doubts.recordings [--cars N] [--first SEED]

Prints a table; asserts nothing. The highest hill of a strong order of each random car, by the
cause that lifts it most, and what three recordings would show of it if nothing else went wrong: by
the car's own curves, no sound made. ``cold``: the speed of sound in the exhaust 5 % lower, does the
hill move; ``tailpipe``: the exhaust alone, is the hill there; ``seat``: the cabin's modes turned
and half as strong, is the hill weaker.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
from collections import Counter
from dataclasses import replace

import numpy as np

from tests.roads import Cause, RoadSpec, random_road
from tests.roads.spec import FloatArray
from tests.roads.truth import cause_at, hills_of, order_level_db, speeds_between

_LEAST_DB = 5.0  # judgement: of a hill that is asked about
_COLD = 0.95  # judgement: of the speed of sound, gas about 10 % colder in kelvins
_MOVED = 0.02  # judgement: of a frequency, what a second drive shows
_NEAR = 0.04  # judgement: the same hill
_SEAT_TURN, _SEAT_SHARE = 0.7 * np.pi, 0.5  # judgement: what another seat does to a cabin's mode
_LEFT = 0.6  # judgement: share of a hill's height that counts as still there


def shown(spec: RoadSpec, rng: np.random.Generator) -> tuple[Cause, dict[str, str]] | None:
    """Cause of the highest hill and what each recording shows; None where no hill is high."""
    engine, car = spec.engine, spec.car
    ends = [spec.driver.start_rpm, *(leg.end_rpm for leg in spec.driver.legs)]
    rpm = speeds_between(max(min(ends), 950.0), max(ends))
    order = engine.firing_order * float(rng.choice([0.5, 1.0, 1.0]))
    hills = hills_of(rpm, order_level_db(engine, car, order, rpm), _LEAST_DB)
    whole = [hill for hill in hills if np.isfinite(hill[1] + hill[2])]
    if not whole:
        return None
    top, _, _, height_db = max(whole, key=lambda hill: hill[3])
    peak_rpm = float(rpm[top])

    cold = order_level_db(engine, car, order, rpm, warmth=_COLD)
    moved_rpm, _ = _hill_near(rpm, cold, 0.5 * (1.0 + _COLD) * peak_rpm)
    pipe = order_level_db(engine, replace(car, cabin=(), intake=None, structure=None), order, rpm)
    _, pipe_db = _hill_near(rpm, pipe, peak_rpm)
    modes = tuple(
        replace(each, phase_rad=each.phase_rad + _SEAT_TURN, gain=each.gain * _SEAT_SHARE)
        for each in car.cabin
    )
    _, seat_db = _hill_near(
        rpm, order_level_db(engine, replace(car, cabin=modes), order, rpm), peak_rpm
    )
    return cause_at(car, order * peak_rpm / 60.0, 1.0), {
        "cold": "moves" if moved_rpm < (1.0 - _MOVED) * peak_rpm else "stays",
        "tailpipe": "there" if pipe_db > _LEFT * height_db else "not there",
        "seat": "weaker" if seat_db < _LEFT * height_db else "as high",
    }


def _hill_near(rpm: FloatArray, level_db: FloatArray, near_rpm: float) -> tuple[float, float]:
    """Engine speed and height of the highest hill there; infinity and none where there is none."""
    found = [
        (float(rpm[hill[0]]), hill[3])
        for hill in hills_of(rpm, level_db, 1.0)
        if abs(np.log(rpm[hill[0]] / near_rpm)) < _NEAR
    ]
    return max(found, key=lambda each: each[1], default=(np.inf, 0.0))


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--cars", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, metavar="SEED")
    wishes = parser.parse_args()
    counts: Counter[tuple[str, str, Cause]] = Counter()
    for seed in range(wishes.first, wishes.first + wishes.cars):
        rng = np.random.default_rng([2034, seed])
        told = shown(random_road(rng, troubles=()), rng)
        if told is not None:
            counts.update((name, answer, told[0]) for name, answer in told[1].items())
    print(f"{'recording':12s}{'the hill':12s}" + "".join(f"{cause.value:>11s}" for cause in Cause))
    for name, answer in sorted({(name, answer) for name, answer, _ in counts}):
        cells = "".join(f"{counts[name, answer, cause]:11d}" for cause in Cause)
        print(f"{name:12s}{answer:12s}{cells}")


if __name__ == "__main__":
    main()
