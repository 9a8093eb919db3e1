"""What branches bring without a worked-out place: python -m tests.benchmarks.worlds.quick_answer.

Random whole cars (``tests/garage``), sized by their drive alone: nothing is told of the exhaust
or its gas. The branches are welded where the rule of thumb of the answer says, as near as there
is room, and, to compare, anywhere with the same distance between them. Cured is as in
``tests.benchmarks.garage``. The constants of ``analysis/size/endless_pipe.py`` come from here.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np

from analysis.branches import Sizing
from analysis.exhaust.car import Car
from analysis.size.size import size_branches
from tests.benchmarks.garage import CUT_OFF_M, PLACE_OFF_M, Case, case_of, request_of
from tests.garage.draw import Told, true_place_m
from tests.garage.drone import Change, change
from tests.garage.spec import Welded

_WIDEST = 0.98  # of the pipe's bore: a builder takes a tube that fits, whatever was assumed
_LEAST_APART_M = 0.12
_ENDS = (0.02, 0.10, 0.50, 0.90, 0.98)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One way to place one car's branches."""

    way: str
    got: Change
    foretold_db: tuple[float, float, float]  # best, likely, worst

    @property
    def held(self) -> bool:
        """Whether the range foretold holds what was got."""
        return self.foretold_db[0] <= self.got.drone_db <= self.foretold_db[2]


def run_car(seed: int, branches: int | None) -> list[Row]:
    """Size one car by its drive and build it in both ways; no rows when noise hides its drone."""
    case = case_of(seed, tight=False)
    if case is None:
        return []
    known = Car(engine=case.known.engine, driving_range_rpm=case.known.driving_range_rpm)
    sizing = size_branches(replace(request_of(case.measured, known), branch_count=branches))
    rng = np.random.default_rng([85, seed])
    span = sizing.predicted.level_change_db_range
    foretold = (span.low, sizing.predicted.level_change_db, span.high)
    assert sizing.by_thumb is not None
    quarter_m = sizing.by_thumb.quarter_m
    anywhere_m = _anywhere(case.told, rng)
    ways = {
        "as told": _muffler_m(case) - quarter_m,
        "from outlet": sum(case.told.lengths_m) - quarter_m,
        "anywhere": anywhere_m,
    }
    return [
        Row(way=way, got=_built(case, sizing, first_m, quarter_m, rng), foretold_db=foretold)
        for way, first_m in ways.items()
    ]


def _built(
    case: Case, sizing: Sizing, first_m: float, apart_m: float, rng: np.random.Generator
) -> Change:
    car, told = case.car, case.told
    places: list[float] = []
    for number in range(len(sizing.branches)):
        place = _nearest_open(told, first_m - number * apart_m)
        if places and abs(place - places[0]) < _LEAST_APART_M:
            place = places[0] + _LEAST_APART_M
        places.append(place)
    welded = tuple(
        Welded(
            place_m=true_place_m(car, told, place + rng.uniform(-PLACE_OFF_M, PLACE_OFF_M)),
            length_m=branch.length_m + rng.uniform(-CUT_OFF_M, CUT_OFF_M),
            bore_m=min(branch.tube.inner_diameter_m, _WIDEST * car.pieces[0].bore_m),
        )
        for branch, place in zip(sizing.branches, places, strict=True)
    )
    return change(car, case.heard, welded)


def _muffler_m(case: Case) -> float:
    """Where the last chamber begins, by the owner's tape."""
    last = max(n for n, piece in enumerate(case.car.pieces) if piece.is_chamber)
    return sum(case.told.lengths_m[:last])


def _nearest_open(told: Told, wanted_m: float) -> float:
    inside = [float(np.clip(wanted_m, start, end)) for start, end in told.places_m]
    return min(inside, key=lambda place: abs(place - wanted_m))


def _anywhere(told: Told, rng: np.random.Generator) -> float:
    spans = np.array([end - start for start, end in told.places_m])
    start, end = told.places_m[int(rng.choice(spans.size, p=spans / spans.sum()))]
    return float(rng.uniform(start, end))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cars", type=int, nargs="?", default=48)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--branches", type=int, choices=(1, 2))
    asked = parser.parse_args()
    rows = [
        row
        for seed in range(asked.first, asked.first + asked.cars)
        for row in run_car(seed, asked.branches)
    ]
    ends = "  ".join(f"{100 * end:4.0f} %" for end in _ENDS)
    print(f"way           cars  cured  moved  change of the drone: {ends}  foretold  range holds")
    for way in dict.fromkeys(row.way for row in rows):
        print(_summary(way, [row for row in rows if row.way == way]), flush=True)


def _summary(way: str, rows: list[Row]) -> str:
    got_db = np.array([row.got.drone_db for row in rows])
    best, likely, worst = np.median([row.foretold_db for row in rows], axis=0)
    quantiles = "  ".join(f"{value:6.1f}" for value in np.quantile(got_db, _ENDS))
    return (
        f"{way:12s} {len(rows):5d} {np.mean([r.got.is_cured for r in rows]):6.0%} "
        f"{np.mean([r.got.elsewhere_db > 3.0 for r in rows]):6.0%} {quantiles:>60s}  "
        f"{likely:.1f} ({best:.1f} to {worst:.1f}) {np.mean([r.held for r in rows]):6.0%}"
    )


if __name__ == "__main__":
    main()
