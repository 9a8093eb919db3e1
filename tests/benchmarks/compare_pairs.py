"""Generated before/after pairs through find and compare: python -m tests.benchmarks.compare_pairs.

Prints one line for each baseline band, and the sums below. The true change is that of the order's
mean square over the band, from the filters of the generator. Four kinds of pair: recorded alike;
with the recorder's gain turned and, in every second pair, the microphone moved; in other weather,
which makes the day 1 dB louder or quieter (standard deviation) and the exhaust's gas 60 K hotter or
colder; and the same car on another day, with nothing done to it. Every pair in other weather is
60 K off, which ``compare`` takes for about two standard deviations.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from analysis.basics.cure import CURED_DB, NEAR_HIGH, NEAR_LOW
from analysis.compare.comparison import compare_drives
from analysis.compare.verdict import SMALL_CHANGE_DB
from analysis.find.drone import find_drone
from analysis.findings import DroneBand
from analysis.verdicts import BandChange, Verdict
from tests.drives import (
    CarModel,
    DriveSpec,
    FixKind,
    GeneratedDrive,
    generate,
    generate_pair,
    random_spec,
)
from tests.drives.generate import fixed_spec
from tests.drives.spec import WholeExhaust

# What foot and weather do, in dB; drivers differ as a chi square says: assumption, no source.
_PASS_SPREAD_DB, _PASS_SPREAD_FREEDOM, _DAY_SPREAD_DB = 0.3, 8.0, 0.2
_TURNED_DB = 12.0
# Of other weather: the level between the days, standard deviation; and gas in the exhaust.
_WEATHER_DB, _WEATHER_K, _GAS_K = 1.0, 60.0, 550.0
_KINDS = (FixKind.BRANCH, FixKind.UNCHANGED, FixKind.BRANCH, FixKind.MOVED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One band of one pair; ``allowed`` are the verdicts that the truth admits."""

    seed: int
    kind: FixKind
    true_db: float
    change: BandChange
    allowed: frozenset[Verdict]

    @property
    def error_db(self) -> float:
        return self.change.level_change_db - self.true_db

    @property
    def covered(self) -> bool:
        return self.change.ci95_db.low <= self.true_db <= self.change.ci95_db.high

    @property
    def right(self) -> bool:
        return self.change.verdict in self.allowed


def allowed_verdicts(
    true_db: float, kind: FixKind, highest_db: float | None = None
) -> frozenset[Verdict]:
    """Verdicts that fit the true change; within 1 dB of a threshold both sides fit.

    A cure asks for the mean and for the highest level, ``highest_db``.
    """
    fits: set[Verdict] = set()
    least_db = true_db if highest_db is None else max(true_db, highest_db)
    if least_db <= CURED_DB + 1.0:
        fits.add(Verdict.CURED)
    if least_db >= CURED_DB - 1.0 and true_db <= -SMALL_CHANGE_DB + 1.0:
        fits.add(Verdict.REDUCED)
    if abs(true_db) <= SMALL_CHANGE_DB + 1.0:
        fits.add(Verdict.UNCHANGED)
    if true_db >= SMALL_CHANGE_DB - 1.0:
        fits.add(Verdict.WORSE)
    if kind is FixKind.MOVED and true_db < 0.0:
        fits.add(Verdict.MOVED)
    return frozenset(fits)


def run_pair(seed: int, *, alike: bool = True) -> Iterator[Row]:
    """Generate, find and compare one pair, recorded ``alike`` or with another gain and place.

    Of the latter, ``cannot tell`` is a right answer too; the sums say how often it was given.
    """
    rng = np.random.default_rng([6, seed, not alike])
    kind = _KINDS[seed % len(_KINDS)]
    spec = _drawn(rng, seed)
    before, after, _ = generate_pair(spec, seed, kind)
    recorded = after if alike else _recorded_otherwise(after, rng, moved=seed % 8 < 4, seed=seed)
    comparison = compare_drives(find_drone(before.drive()), find_drone(recorded.drive()))
    for doubt in comparison.warnings:
        print(f"     seed {seed}: {doubt.code}")
    for change in comparison.changes:
        true_db = _true_change_db(before, after, change.band)
        highest_db = _highest_db(before.truth.car, after.truth.car, change.band)
        yield Row(
            seed=seed,
            kind=kind,
            true_db=true_db,
            change=change,
            allowed=allowed_verdicts(true_db, kind, highest_db)
            | (set() if alike else {Verdict.CANNOT_TELL}),
        )


def run_weather(seed: int) -> Iterator[Row]:
    """Compare a pair driven in other weather; the truth is what the work did, weather apart."""
    rng = np.random.default_rng([8, seed])
    kind = _KINDS[seed % len(_KINDS)]
    spec = _drawn(rng, seed)
    before = generate(spec, seed, outing=0)
    bands = before.truth.bands
    worked = fixed_spec(spec, kind, bands[0].peak_hz if bands else 100.0)
    off_k = _WEATHER_K * rng.choice([-1.0, 1.0])
    after = generate(_in_weather(worked, off_k, _WEATHER_DB * rng.normal()), seed, outing=1)
    comparison = compare_drives(find_drone(before.drive()), find_drone(after.drive()))
    for doubt in comparison.warnings:
        print(f"     seed {seed}: {doubt.code}")
    pulses = before.truth.car.pulses
    cars = CarModel(spec, pulses), CarModel(worked, pulses)
    for change in comparison.changes:
        band = change.band
        power = [
            car.band_mean_square(band.engine_order, band.low_rpm, band.high_rpm) for car in cars
        ]
        true_db = float(10.0 * np.log10(power[1] / power[0]))
        highest_db = _highest_db(*cars, band)
        allowed = allowed_verdicts(true_db, kind, highest_db) | {Verdict.CANNOT_TELL}
        yield Row(seed=seed, kind=kind, true_db=true_db, change=change, allowed=allowed)


def _in_weather(spec: DriveSpec, off_k: float, louder_db: float) -> DriveSpec:
    """Hotter gas carries sound faster, in the exhaust and in the branch; the cabin stays."""
    faster = float(np.sqrt(1.0 + off_k / _GAS_K))
    assert not isinstance(spec.exhaust, WholeExhaust)
    exhaust = tuple(replace(r, frequency_hz=faster * r.frequency_hz) for r in spec.exhaust)
    branch = spec.branch
    if branch is not None:
        branch = replace(branch, tuned_hz=faster * branch.tuned_hz)
    source = replace(spec.source, level_db_spl=spec.source.level_db_spl + louder_db)
    return replace(spec, exhaust=exhaust, branch=branch, source=source)


def _recorded_otherwise(
    drive: GeneratedDrive, rng: np.random.Generator, *, moved: bool, seed: int
) -> GeneratedDrive:
    if moved:
        elsewhere = replace(drive.truth.car.spec, cabin=random_spec(rng, bands=1).cabin)
        drive = generate(elsewhere, seed, outing=1)
    return _turned(drive, rng.uniform(-_TURNED_DB, _TURNED_DB))


def _turned(drive: GeneratedDrive, gain_db: float) -> GeneratedDrive:
    louder = 10.0 ** (gain_db / 20.0) * drive.samples
    return replace(drive, samples=np.clip(louder, -1.0, 1.0).astype(np.float32))


def _drawn(rng: np.random.Generator, seed: int) -> DriveSpec:
    spec = random_spec(rng, bands=1 + seed % 2)
    evenness = _PASS_SPREAD_FREEDOM / rng.chisquare(_PASS_SPREAD_FREEDOM)
    pass_spread_db = _PASS_SPREAD_DB * float(np.sqrt(evenness))
    return replace(spec, pass_spread_db=pass_spread_db, day_spread_db=_DAY_SPREAD_DB)


def run_day(seed: int) -> tuple[BandChange, ...]:
    """Compare a car that nobody touched, driven on another day with the microphone moved."""
    rng = np.random.default_rng([7, seed])
    spec = _drawn(rng, seed)
    other = random_spec(rng, bands=1)  # for its cabin: another place, other ripples
    noise = replace(
        spec.noise,
        road_db_spl=spec.noise.road_db_spl + rng.uniform(-6.0, 6.0),
        wind_db_spl=spec.noise.wind_db_spl + rng.uniform(-6.0, 6.0),
    )
    before = generate(spec, seed, outing=0)
    after = generate(replace(spec, noise=noise, cabin=other.cabin), seed, outing=1)
    after = _turned(after, rng.uniform(-3.0, 3.0))
    comparison = compare_drives(find_drone(before.drive()), find_drone(after.drive()))
    return comparison.changes


def _true_change_db(before: GeneratedDrive, after: GeneratedDrive, band: DroneBand) -> float:
    """Change over the band as ``find`` placed it; how well it did is another benchmark's."""
    power = [
        drive.truth.car.band_mean_square(band.engine_order, band.low_rpm, band.high_rpm)
        for drive in (before, after)
    ]
    return float(10.0 * np.log10(power[1] / power[0]))


def _highest_db(before: CarModel, after: CarModel, band: DroneBand) -> float:
    """Change of the highest level of the drone, without noise."""
    rpm = band.peak_rpm * np.linspace(NEAR_LOW, NEAR_HIGH, 200)
    levels = [car.level_db(band.engine_order, rpm).max() for car in (before, after)]
    return float(levels[1] - levels[0])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=100, help="recorded alike")
    parser.add_argument("--turned", type=int, default=100, help="pairs with another gain or place")
    parser.add_argument("--weather", type=int, default=100, help="pairs in other weather")
    parser.add_argument("--days", type=int, default=100, help="pairs with nothing changed")
    parser.add_argument("--first", type=int, default=0)
    wanted = parser.parse_args()
    for alike, count in ((True, wanted.pairs), (False, wanted.turned)):
        if count:
            print("recorded alike" if alike else "gain turned, microphone moved")
            _print_pairs(range(wanted.first, wanted.first + count), partial(run_pair, alike=alike))
    if wanted.weather:
        print("other weather")
        _print_pairs(range(wanted.first, wanted.first + wanted.weather), run_weather)
    if wanted.days:
        _print_days(range(wanted.first, wanted.first + wanted.days))


def _print_pairs(seeds: range, run: Callable[[int], Iterator[Row]]) -> None:
    rows: list[Row] = []
    print("seed kind       order  rpm   true   found [   95 %      ] verdict")
    for seed in seeds:
        for row in run(seed):
            rows.append(row)
            c = row.change
            print(
                f"{row.seed:4d} {row.kind:10s} {c.band.engine_order:4g} {c.band.peak_rpm:6.0f} "
                f"{row.true_db:+6.1f} {c.level_change_db:+6.1f} "
                f"[{c.ci95_db.low:+6.1f} {c.ci95_db.high:+6.1f}] {c.verdict:12s}"
                f"{'' if row.covered else ' MISSED'}{'' if row.right else ' WRONG'}",
                flush=True,
            )
    if rows:
        _print_sums(rows)


def _print_days(seeds: range) -> None:
    print("another day, nothing changed; each pair that seems better:")
    seen: list[Verdict] = []
    false = 0
    for seed in seeds:
        changes = run_day(seed)
        seen += [change.verdict for change in changes]
        better = [c for c in changes if c.verdict in (Verdict.CURED, Verdict.REDUCED)]
        false += bool(better)
        for change in better:
            print(f"{seed:4d} {change.verdict}: {change.why}", flush=True)
    counts = {str(verdict): seen.count(verdict) for verdict in sorted(set(seen))}
    print(f"false cured or reduced in {false} of {len(seeds)} pairs; verdicts {counts}")


def _held_of_pairs(rows: list[Row]) -> tuple[float, float]:
    """Share of a pair's bands that is held, mean over pairs, and the standard error of that.

    All bands of a pair share one day, so one loud day misses them all: pairs are what counts.
    """
    seeds = sorted({row.seed for row in rows})
    of_pair = [np.mean([row.covered for row in rows if row.seed == seed]) for seed in seeds]
    return float(np.mean(of_pair)), float(np.std(of_pair) / np.sqrt(len(of_pair)))


def _print_sums(rows: list[Row]) -> None:
    error = np.abs([row.error_db for row in rows if np.isfinite(row.error_db)])
    undecided = [row for row in rows if row.change.verdict is Verdict.CANNOT_TELL]
    false_cure = [
        row
        for row in rows
        if row.kind is FixKind.UNCHANGED and row.change.verdict in (Verdict.CURED, Verdict.REDUCED)
    ]
    untouched = [row.change for row in rows if row.kind is FixKind.UNCHANGED]
    seems = [abs(c.level_change_db) > c.smallest_change_db for c in untouched]
    told = [row for row in rows if np.isfinite(row.error_db)]
    width = [row.change.ci95_db.high - row.change.ci95_db.low for row in told]
    held, stray = _held_of_pairs(told)
    print(f"{len(rows)} bands, {len(rows) - len(told)} of them without a number")
    print(f"error of level change: median {np.median(error):.2f} dB, ", end="")
    print(f"95 % within {np.percentile(error, 95):.2f} dB, {np.mean(error < 1):.0%} within 1 dB")
    print(
        f"interval holds the truth: {np.mean([row.covered for row in told]):.1%} of bands, ", end=""
    )
    print(f"{held:.1%} of pairs (+- {stray:.1%}), median width {np.median(width):.1f} dB")
    print(f"untouched, but changed by more than the smallest shown: {sum(seems)} of {len(seems)}")
    print(f"verdict right: {np.mean([row.right for row in rows]):.1%}, ", end="")
    print(f"cannot tell: {len(undecided)}, false cured or reduced: {len(false_cure)}")


if __name__ == "__main__":
    main()
