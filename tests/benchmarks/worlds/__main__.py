"""Cars outside what the sizing takes for likely: python -m tests.benchmarks.worlds.

Each world (``tests/worlds``) has cars with a physics of their own, solved as a nodal network. The
sizing sees the owner's car file and the order's level with noise. The car file has every leg where
it can be read so; else, as is said, the one pipe from the first bank to one outlet, its mufflers as
chambers. What it says is
welded onto the true car, which is driven again; what ``compare`` then asks for, caps moved or a
second branch at the place kept for it, is done and judged once more. Cured is as in
``tests.benchmarks.garage``, every drone of a car, and 10 dB off its mean square over its band too;
branches are counted for each bank of the engine, after the adjustment.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import time
import tomllib
from dataclasses import dataclass, replace

import numpy as np

from analysis.branches import Sizing
from analysis.errors import AnalysisError
from analysis.exhaust.car import parse_car
from analysis.findings import TailSound
from analysis.size.advice import MAY_BE_OTHER_WAY, OTHER_WAY
from analysis.size.request import SizingRequest
from analysis.size.size import size_branches
from analysis.words.plans import chosen_plan
from tests.benchmarks.garage import CUT_OFF_M, PLACE_OFF_M, request_of
from tests.benchmarks.worlds.adjusting import Adjusted, adjusted
from tests.garage.drone import Change, Measured
from tests.worlds.cars import Welded, WorldCar
from tests.worlds.draw import WORLDS, World, changes, droning_car, measure
from tests.worlds.tail_microphone import both_heard
from tests.worlds.told import Told, tell, true_place

# that tell of a promise which may not hold; the others are said of nearly every car
_WARNINGS = {
    "comes_another_way",
    "cure_uncertain",
    "exhaust_misses_drive",
    "few_guesses_fit",
    "may_come_another_way",
    "weak_cure",
    "no_cure_in_room",
    "no_hill_at_tail",
    "resonator_left_out",
    "typed_length_does_not_fit",
}

_OTHER_WAY = {OTHER_WAY, MAY_BE_OTHER_WAY}
_IN_FULL = ("pipe", "chamber")  # what one pipe of pipes and chambers says as well


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One car: what was promised and what was got, for each drone."""

    got: tuple[Change, ...]
    then: tuple[Change, ...]  # after at most one adjustment
    adjustment: str
    adjusted_held: bool | None  # whether the range foretold for it holds; None without one
    plan_percent: tuple[float, float]  # of the plan: cured at once, and after one adjustment
    promised_db: tuple[float, ...]
    ranges_db: tuple[tuple[float, float], ...]
    seconds: float  # of the processor, to size
    warned: bool
    other_way: bool  # said to come another way than out of the pipe, or that it may
    branches: float  # at once, for each bank
    in_the_end: float
    cut_short: bool

    @property
    def held(self) -> bool:
        """Whether the promised range holds what was got, of every drone."""
        return all(
            low - 0.05 <= got.drone_db <= high + 0.05
            for got, (low, high) in zip(self.got, self.ranges_db, strict=True)
        )


def run_car(world: World, seed: int, branches: int | None) -> Row | None:
    """Draw, drive, size, build, judge, adjust; None when noise hides the drone."""
    rng = np.random.default_rng([91, seed, *world.drawn_by])
    car, heard = droning_car(world, rng)
    told = tell(car, world, rng)
    measured = measure(car, heard, rng)
    if measured is None:
        return None
    tail = _at_tail(car, measured, seed) if world.tail_heard else None
    began_s = time.process_time()
    request, sizing, cut_short = _size(told, measured, branches, tail)
    seconds = time.process_time() - began_s
    foretold = [sizing.predicted, *(other.predicted for other in sizing.others)]
    welded = _weld(car, told, sizing, rng)
    plan = chosen_plan(sizing.plans)
    got = then = changes(car, heard, welded)
    after = Adjusted(welded=welded, what="", foretold_db=None)
    if welded:

        def weld(place_m: float, length_m: float, legs: tuple[str, ...]) -> tuple[Welded, ...]:
            kept = replace(
                sizing.kept or sizing.branches[0],
                position_m=place_m,
                length_m=length_m,
                legs=legs,
            )
            return _weld(car, told, replace(sizing, branches=(kept,)), rng)

        after = adjusted(car, request, measured, sizing, welded, weld, rng)
        then = changes(car, heard, after.welded)
    banks = len(car.banks)
    return Row(
        got=got,
        then=then,
        adjustment=after.what,
        adjusted_held=_holds(after.foretold_db, least_changed_db(then)),
        plan_percent=(np.nan, np.nan)
        if plan is None
        else (100.0 * plan.cured_now_share, 100.0 * plan.cured_adjusted_share),
        promised_db=tuple(each.level_change_db for each in foretold),
        ranges_db=tuple(
            (each.level_change_db_range.low, each.level_change_db_range.high) for each in foretold
        ),
        seconds=seconds,
        warned=bool(_WARNINGS & {warning.code for warning in sizing.warnings}),
        other_way=bool(_OTHER_WAY & {warning.code for warning in sizing.warnings}),
        branches=sum(branch.welds for branch in sizing.branches) / banks,
        in_the_end=len(after.welded) / banks,
        cut_short=cut_short,
    )


def least_changed_db(got: tuple[Change, ...]) -> float:
    """Change of the drone that changes least."""
    return max(each.drone_db for each in got)


def is_cured(got: tuple[Change, ...]) -> bool:
    """Whether every drone is."""
    return all(each.is_cured for each in got)


def _at_tail(car: WorldCar, measured: Measured, seed: int) -> TailSound:
    """Draw what the second microphone heard, apart from all else: the cars stay the same."""
    both = both_heard(car, measured.rpm, np.random.default_rng([92, seed]))
    return TailSound(
        engine_order=car.order,
        rpm=both.rpm,
        ratio=both.ratio,
        sigma=both.sigma,
        tail_db=both.tail_db,
    )


def _holds(foretold_db: tuple[float, float] | None, got_db: float) -> bool | None:
    return None if foretold_db is None else foretold_db[0] <= got_db <= foretold_db[1]


def _size(
    told: Told, measured: Measured, branches: int | None, tail: TailSound | None
) -> tuple[SizingRequest, Sizing, bool]:
    """Size the whole exhaust, or what of it can be told; says whether something was left out."""

    def ask(text: str) -> tuple[SizingRequest, Sizing]:
        request = request_of(measured, parse_car(tomllib.loads(text)))
        request = replace(request, branch_count=branches, tail=tail)
        return request, size_branches(request)

    try:
        return *ask(told.whole), False
    except AnalysisError:
        sections = [s for leg in told.stretches.values() for s in leg]
        is_whole = len(told.stretches) == 1 and all(s.kind in _IN_FULL for s in sections)
        return *ask(told.one_pipe), not is_whole


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


def line(seed: int, row: Row) -> str:
    """One car."""
    now, then = row.got, row.then
    each = " ".join(
        f"{got.drone_db:6.1f} [{low:6.1f} {high:6.1f}]"
        for got, (low, high) in zip(now, row.ranges_db, strict=True)
    )
    after = " ".join(f"{got.drone_db:6.1f}" for got in then)
    return (
        f"{seed:6d} {'cured' if is_cured(now) else 'NOT  '} {each} "
        f"else {now[0].elsewhere_db:+5.1f}; "
        f"{row.branches:.1f} each, planned {row.plan_percent[0]:3.0f} {row.plan_percent[1]:3.0f}; "
        f"{'other way ' * row.other_way}"
        f"{row.adjustment:8s} {'cured' if is_cured(then) else 'NOT  '} {after} "
        f"else {then[0].elsewhere_db:+5.1f}, {row.in_the_end:.1f} each; {row.seconds:.1f} s"
    )


def summary(world: World, rows: list[Row]) -> str:
    """One line of the table."""
    got = np.array([least_changed_db(row.got) for row in rows])
    failed = [row for row in rows if not is_cured(row.got)]
    held = [row.adjusted_held for row in rows if row.adjusted_held is not None]
    in_the_end = np.mean([row.in_the_end for row in rows])
    broken = sum(is_cured(row.got) and not is_cured(row.then) for row in rows)
    return (
        f"{world.name:26s} {len(rows):4d} {np.mean([is_cured(r.got) for r in rows]):6.0%} "
        f"{np.median(got):8.1f} {got.mean():6.1f} {got.max():6.1f} "
        f"{np.median([max(r.promised_db) for r in rows]):9.1f} "
        f"{np.mean([r.held for r in rows]):6.0%} "
        f"{np.mean([r.warned for r in rows]):7.0%} "
        f"{f'{sum(r.warned for r in failed)} of {len(failed)}':>9s} "
        f"{np.mean([r.other_way for r in rows]):9.0%} "
        f"{np.mean([r.branches for r in rows]):9.2f} "
        f"{np.mean([is_cured(r.then) for r in rows]):9.0%} {in_the_end:9.2f} "
        f"{np.nanmean([r.plan_percent[0] for r in rows]):5.0f} "
        f"{np.nanmean([r.plan_percent[1] for r in rows]):3.0f} "
        f"{f'{sum(held)} of {len(held)}':>9s} {broken:7d} "
        f"{np.mean([r.seconds for r in rows]):5.1f} {max(r.seconds for r in rows):5.1f}"
        f"{'  not told in full' if rows[0].cut_short else ''}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cars", type=int, nargs="?", default=12, help="of each world")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--world", help="only worlds whose name holds this")
    parser.add_argument("--branches", type=int, choices=(1, 2), help="of each plan")
    parser.add_argument("--each", action="store_true", help="a line for each car")
    asked = parser.parse_args()
    print(
        "world                      cars  cured   median   mean  least  promised   held  warned  "
        "of failed  other way  branches  adjusted  branches  planned   adj held  broken  s, most"
    )
    cured = []
    for world in WORLDS:
        if asked.world and asked.world not in world.name:
            continue
        rows = []
        for seed in range(asked.first, asked.first + asked.cars):
            try:
                row = run_car(world, seed, asked.branches)
            except AnalysisError as error:
                print(f"{world.name} {seed} refused: {error}")
                continue
            if row is not None:
                rows.append(row)
                if asked.each:
                    print(line(seed, row), flush=True)
        if rows:
            cured.append(float(np.mean([is_cured(row.got) for row in rows])))
            print(summary(world, rows), flush=True)
    if cured:
        print(f"cured, over worlds: least {min(cured):.0%}, mean {np.mean(cured):.0%}")


if __name__ == "__main__":
    main()
