"""Cars outside what the sizing takes for likely: python -m tests.benchmarks.worlds.

Each world (``tests/worlds``) has cars with a physics of their own, solved as a nodal network. The
sizing sees the owner's car file and the order's level with noise. The car file has every leg where
it can be read so; else, as is said, the one pipe from the first bank to one outlet, its mufflers as
chambers. What it says is
welded onto the true car. Cured is as in ``tests.benchmarks.garage``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import tomllib
from dataclasses import dataclass

import numpy as np

from analysis.branches import Sizing
from analysis.errors import AnalysisError
from analysis.exhaust.car import parse_car
from analysis.size.size import size_branches
from tests.benchmarks.garage import CUT_OFF_M, PLACE_OFF_M, request_of
from tests.garage.drone import Change, Measured
from tests.worlds.cars import Welded, WorldCar
from tests.worlds.draw import WORLDS, World, change, droning_car, measure
from tests.worlds.told import Told, tell, true_place

# that tell of a promise which may not hold; the others are said of nearly every car
_WARNINGS = {
    "comes_another_way",
    "cure_uncertain",
    "exhaust_misses_drive",
    "few_guesses_fit",
    "weak_cure",
    "no_cure_in_room",
}

_IN_FULL = ("pipe", "chamber")  # what one pipe of pipes and chambers says as well


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One car: what was promised and what was got."""

    got: Change
    promised_db: float
    range_db: tuple[float, float]
    warned: bool
    branches: int
    cut_short: bool

    @property
    def held(self) -> bool:
        """Whether the promised range holds what was got."""
        return self.range_db[0] - 0.05 <= self.got.drone_db <= self.range_db[1] + 0.05


def run_car(world: World, seed: int) -> Row | None:
    """Draw, drive, size, build, judge; None when noise hides the drone or nothing can be built."""
    rng = np.random.default_rng([91, seed, *world.name.encode()])
    car, heard = droning_car(world, rng)
    told = tell(car, world, rng)
    measured = measure(car, heard, rng)
    if measured is None:
        return None
    sizing, cut_short = _size(told, measured)
    foretold = sizing.predicted.level_change_db_range
    return Row(
        got=change(car, heard, _weld(car, told, sizing, rng)),
        promised_db=sizing.predicted.level_change_db,
        range_db=(foretold.low, foretold.high),
        warned=bool(_WARNINGS & {warning.code for warning in sizing.warnings}),
        branches=sum(branch.welds for branch in sizing.branches),
        cut_short=cut_short,
    )


def _size(told: Told, measured: Measured) -> tuple[Sizing, bool]:
    """Size the whole exhaust, or what of it can be told; says whether something was left out."""
    try:
        return size_branches(request_of(measured, parse_car(tomllib.loads(told.whole)))), False
    except AnalysisError:
        sections = [s for leg in told.stretches.values() for s in leg]
        is_whole = len(told.stretches) == 1 and all(s.kind in _IN_FULL for s in sections)
        known = parse_car(tomllib.loads(told.one_pipe))
        return size_branches(request_of(measured, known)), not is_whole


def _weld(
    car: WorldCar, told: Told, sizing: Sizing, rng: np.random.Generator
) -> tuple[Welded, ...]:
    welded = []
    every = [(branch, leg) for branch in sizing.branches for leg in branch.legs or (None,)]
    for branch, pipe in every:
        if branch.position_m is None:
            continue
        place_m = branch.position_m + rng.uniform(-PLACE_OFF_M, PLACE_OFF_M)
        leg, at_m = true_place(car, told, place_m, pipe)
        welded.append(
            Welded(
                leg=leg,
                place_m=at_m,
                length_m=branch.length_m + rng.uniform(-CUT_OFF_M, CUT_OFF_M),
                bore_m=branch.tube.inner_diameter_m,
                can_bore_m=None if branch.can is None else branch.can.tube.inner_diameter_m,
                neck_m=0.0 if branch.can is None else branch.can.neck_m,
            )
        )
    return tuple(welded)


def summary(world: World, rows: list[Row]) -> str:
    """One line of the table."""
    got = np.array([row.got.drone_db for row in rows])
    failed = [row for row in rows if not row.got.is_cured]
    return (
        f"{world.name:26s} {len(rows):4d} {np.mean([r.got.is_cured for r in rows]):6.0%} "
        f"{np.median(got):8.1f} {got.mean():6.1f} {got.max():6.1f} "
        f"{np.median([r.promised_db for r in rows]):9.1f} {np.mean([r.held for r in rows]):6.0%} "
        f"{np.mean([r.warned for r in rows]):7.0%} "
        f"{f'{sum(r.warned for r in failed)} of {len(failed)}':>9s} "
        f"{np.mean([r.branches for r in rows]):9.2f}"
        f"{'  not told in full' if rows[0].cut_short else ''}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cars", type=int, nargs="?", default=12, help="of each world")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--world", help="only worlds whose name holds this")
    asked = parser.parse_args()
    print(
        "world                      cars  cured   median   mean  least  promised   held  warned  "
        "of failed  branches"
    )
    cured = []
    for world in WORLDS:
        if asked.world and asked.world not in world.name:
            continue
        rows = []
        for seed in range(asked.first, asked.first + asked.cars):
            try:
                row = run_car(world, seed)
            except AnalysisError as error:
                print(f"{world.name} {seed} refused: {error}")
                continue
            if row is not None:
                rows.append(row)
        if rows:
            cured.append(float(np.mean([row.got.is_cured for row in rows])))
            print(summary(world, rows), flush=True)
    if cured:
        print(f"cured, over worlds: least {min(cured):.0%}, mean {np.mean(cured):.0%}")


if __name__ == "__main__":
    main()
