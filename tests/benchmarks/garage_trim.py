"""Random whole cars, built as sized, driven again, trimmed once: tests.benchmarks.garage_trim.

Run it with python -m. The cars, the sizing and the building are those of the garage. Each is driven
again with its branches, with noise of its own; what ``compare`` then says to trim is sawn, as
far off as any cut, and judged again. Trimming moves the cap, never the branch.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.branches import Sizing
from analysis.compare.comparison import compare_drives
from analysis.compare.trim.built import built_branches, sized_branches
from analysis.errors import AnalysisError
from analysis.findings import Findings
from tests.analysis.made_findings import make_band, make_curve, make_findings
from tests.benchmarks.garage import CUT_OFF_M, Case, builds, case_of, request_of
from tests.garage.drone import Change, change, sweep
from tests.garage.gas import FloatArray
from tests.garage.level import tuned_hz
from tests.garage.spec import Welded

_FULL_SCALE_DB = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One car before and after one trim; ``then`` is ``now`` where nothing was told to be cut."""

    now: Change
    then: Change
    was_cut: bool
    foretold_db: tuple[float, float]
    off: tuple[float, ...]  # where each branch is said to work over where it does, less one
    held: tuple[bool, ...]  # whether the interval of that holds the truth
    note: str


def run_car(seed: int, *, tight: bool) -> Row | None:
    """Size, build, drive, trim; None when noise hides the drone or nothing was built."""
    case = case_of(seed, tight=tight)
    if case is None:
        return None
    welded, sizing, _ = builds(case, seed)["whole exhaust"]
    return None if sizing is None or not welded else trimmed(case, welded, sizing, seed)


def trimmed(case: Case, welded: tuple[Welded, ...], sizing: Sizing, seed: int) -> Row:
    """Drive again, trim as told, judge again."""
    rng = np.random.default_rng([85, seed])
    car, heard = case.car, case.heard
    before = findings_of(case, case.measured.rpm, case.measured.level_db)
    after = findings_of(case, *sweep(car, welded, rng))
    sized = sized_branches(sizing)
    built = built_branches(sized, ()).branches
    request = request_of(case.measured, case.known)
    compared = compare_drives(before, after, built, sized_by=request)
    trims, outlook, foretold_db = compared.trims, compared.trim_outlook, (np.nan, np.nan)
    if outlook is not None:
        foretold_db = (outlook.then_ci95_db.low, outlook.then_ci95_db.high)
    cuts_m = {trim.branch: trim.cut_m for trim in trims if trim.is_worth_it}
    sawn = tuple(
        replace(branch, length_m=branch.length_m - cuts_m[n] + rng.uniform(-CUT_OFF_M, CUT_OFF_M))
        if n in cuts_m
        else branch
        for n, branch in enumerate(welded, start=1)
    )
    true_hz = [tuned_hz(car, welded[t.branch - 1], t.branch - 1, t.works_at_hz) for t in trims]
    return Row(
        now=change(car, heard, welded),
        then=change(car, heard, sawn),
        was_cut=bool(cuts_m),
        foretold_db=foretold_db,
        off=tuple(t.works_at_hz / hz - 1.0 for t, hz in zip(trims, true_hz, strict=True)),
        held=tuple(
            built[t.branch - 1].tuned_hz(t.gas_temperature_ci95_k.low)
            <= hz
            <= built[t.branch - 1].tuned_hz(t.gas_temperature_ci95_k.high)
            for t, hz in zip(trims, true_hz, strict=True)
        ),
        note=("" if welded[0].can_bore_m is None else "can ")
        + ("by frequency " if outlook is None else "")
        + ("REFUSED " if compared.warnings and not trims else "")
        + " ".join(f"{1e3 * t.cut_m:+.0f}" for t in trims),
    )


def findings_of(case: Case, rpm: FloatArray, level_db: FloatArray) -> Findings:
    """What ``find`` hands on: the one order's curve, and the band."""
    order, drone = case.car.order, case.measured.drone
    order_ms = 10.0 ** (0.1 * (level_db - _FULL_SCALE_DB))
    curve = make_curve(order, order_ms, rpm, passes=1)
    band = replace(make_band(order, drone.peak_rpm), low_rpm=drone.low_rpm, high_rpm=drone.high_rpm)
    return make_findings([curve], [band])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cars", type=int, nargs="?", default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--tight", action="store_true", help="half the pipe, none over 0.8 m")
    asked = parser.parse_args()
    rows: list[Row] = []
    for seed in range(asked.first, asked.first + asked.cars):
        try:
            row = run_car(seed, tight=asked.tight)
        except AnalysisError as error:
            print(f"{seed:4d} refused: {error}")
            continue
        if row is not None:
            rows.append(row)
            print(f"{seed:4d} {line(row)}", flush=True)
    if rows:
        print(summary(rows))


def line(row: Row) -> str:
    """One car."""
    start = f"{_verdict(row.now)} told {row.note:12s}"
    if not row.was_cut:
        return f"{start} left alone"
    low, high = row.foretold_db
    return f"{start} -> {_verdict(row.then)} foretold [{low:6.1f} {high:6.1f}]"


def summary(rows: Sequence[Row]) -> str:
    """All cars."""
    cured = [row.now.is_cured for row in rows]
    after = [row.then.is_cured for row in rows]
    broken = sum(was and not still for was, still in zip(cured, after, strict=True))
    cut = [row for row in rows if row.was_cut]
    held = [row.foretold_db[0] <= row.then.drone_db <= row.foretold_db[1] for row in cut]
    off = np.array([each for row in rows for each in row.off])
    return (
        f"{len(rows)} cars; cured in one build {np.mean(cured):.1%}, "
        f"after at most one trim {np.mean(after):.1%}; cured ones that a trim broke: {broken}\n"
        f"branches: {off.size}, told to work within 1 % of where they do: "
        f"{np.mean(np.abs(off) < 0.01):.1%}, median {np.median(np.abs(off)):.2%}, interval holds "
        f"{np.mean([each for row in rows for each in row.held]):.1%}\n"
        f"trimmed: {len(cut)}, of which the foretold interval holds {sum(held)}"
    )


def _verdict(what: Change) -> str:
    verdict = "cured" if what.is_cured else "NOT  "
    return f"{verdict} {what.drone_db:6.1f} else {what.elsewhere_db:+5.1f}"


if __name__ == "__main__":
    main()
