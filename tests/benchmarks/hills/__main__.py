"""Whether ``find`` sees the hills that an eye would see, on drives as hostile as a road.

    python -m tests.benchmarks.hills [roads] [--logs N] [--clips FOLDER] [--first SEED]

Prints a table; asserts nothing. Each drive is heard with several logs of rpm, late and coarse. An
oracle with the true engine speed draws the level of each order; its hills are what is there to be
found. ``--clips`` judges by recorded engines instead, which the caller has: sound files with, of
the same name, a CSV of ``time_s`` and ``rpm``. They are heard as they are and with resonances of
known frequency and width put into them.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.ndimage import gaussian_filter1d
from scipy.signal import find_peaks, peak_prominences

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rpm_bins import BIN_RATIO, bin_centre_rpm
from analysis.drive import Drive
from analysis.errors import AnalysisError
from analysis.find.curves.driven import driven_at
from analysis.find.curves.order_curves import binned
from analysis.find.curves.order_points import OrderPoints, comparable
from analysis.find.drone import find_drone
from analysis.find.sound.order_tracking import order_spectra, track_orders
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import DroneBand
from tests.benchmarks.hills.clips import (
    Clip,
    Peak,
    logged,
    long_drives,
    read_clips,
    true_track,
    with_peak,
)
from tests.benchmarks.road_oracle import RoadOracle
from tests.roads import RoadTruth, drive_on, plain
from tests.roads.rpm_log import log_rows
from tests.roads.spec import RpmLog

_HILL_DB, _NO_HILL_DB = 6.0, 3.0  # what must be found, what must not be told
_SMOOTHED_BINS = 1.5
_HEARD_DB = 12.0  # a hill this far below the loudest order at its speed is nobody's drone
_OVER_NOISE = 3.0
_NARROWEST, _WIDEST = 0.05, 0.4
_NEAR = 0.05  # of frequency: the same hill, however narrow
# the oracle has no levels in a hole that would hold the narrowest hill that must be found: nothing
# was driven there that could be found
_LONGEST_HOLE = _NARROWEST


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenHill:
    """A hill of the oracle's curve of one order, and where it has fallen by 3 dB.

    ``is_of_engine`` is False where neither the car's own curve nor the engine's sound alone shows
    it: a foot that moves, or noise, made it.
    """

    order: float
    top_hz: float
    half_power_hz: tuple[float, float]
    prominence_db: float
    below_loudest_db: float
    over_noise: float
    is_of_engine: bool = True

    @property
    def width(self) -> float:
        """Half-power width as a part of the top's frequency."""
        return (self.half_power_hz[1] - self.half_power_hz[0]) / self.top_hz

    @property
    def must_be_found(self) -> bool:
        """Whether nobody could miss it."""
        return (
            self.is_of_engine
            and self.prominence_db >= _HILL_DB
            and self.below_loudest_db < _HEARD_DB
            and self.over_noise > _OVER_NOISE
            and _NARROWEST < self.width < _WIDEST
        )

    def is_of(self, band: DroneBand) -> bool:
        """Whether a band tells of this hill: its peak lies on it, be it flat or have two tops."""
        low_hz, high_hz = self.half_power_hz
        on_it = low_hz <= band.peak_hz <= high_hz
        near = abs(float(np.log(band.peak_hz / self.top_hz))) < _NEAR
        return band.engine_order == self.order and (on_it or near)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One sound: what the oracle sees, what was put in, and the bands told from each log.

    The oracle knows the gears, so it leaves out more of a sweep's ends than a log does that has
    none: ``seen_rpm`` are the stretches of engine speed that it has levels of.
    """

    name: str
    seen: tuple[SeenHill, ...]
    seen_rpm: tuple[tuple[float, float], ...]
    truth: tuple[Peak, ...]
    told: tuple[tuple[DroneBand, ...], ...]


def oracle_hills(orders: list[OrderPoints], least_db: float = 2.0) -> tuple[SeenHill, ...]:
    """Hills of the net level of each order, all passes by their seconds, lightly smoothed."""
    points = comparable(orders)
    return tuple(
        hill for stretch in _stretches(points[0]) for hill in _hills(points, stretch, least_db)
    )


def _hills(points: list[OrderPoints], stretch: IntArray, least_db: float) -> list[SeenHill]:
    curves = {each.engine_order: _curve(each, stretch) for each in points}
    loudest_db = np.max([level_db for _, level_db, _ in curves.values()], axis=0)
    found = []
    for order, (rpm, level_db, ratio) in curves.items():
        tops, _ = find_peaks(level_db)
        for top, drop_db in zip(tops, peak_prominences(level_db, tops)[0], strict=True):
            if drop_db < least_db:
                continue
            below = np.flatnonzero(level_db <= level_db[top] - min(3.0, drop_db))
            low, high = below[below < top][-1], below[below > top][0]
            found.append(
                SeenHill(
                    order=order,
                    top_hz=order * float(rpm[top]) / 60.0,
                    half_power_hz=(order * float(rpm[low]) / 60.0, order * float(rpm[high]) / 60.0),
                    prominence_db=float(drop_db),
                    below_loudest_db=float(loudest_db[top] - level_db[top]),
                    over_noise=float(ratio[top]),
                )
            )
    return found


def _stretches(points: OrderPoints) -> list[IntArray]:
    """Neighbouring rpm bins, parted at the holes."""
    index = np.unique(points.bin_index)
    holes = np.diff(index) * np.log(BIN_RATIO) > _LONGEST_HOLE
    parts = np.split(index, np.flatnonzero(holes) + 1)
    return [np.arange(part[0], part[-1] + 1) for part in parts]


def _curve(points: OrderPoints, every: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Speed, level, and total over background, on the rpm bins ``every``."""
    index, where = np.unique(points.bin_index, return_inverse=True)
    seconds = np.bincount(where, weights=points.seconds)

    def smooth(values: FloatArray) -> FloatArray:
        mean = np.bincount(where, weights=points.seconds * values) / seconds
        return np.asarray(gaussian_filter1d(np.interp(every, index, mean), _SMOOTHED_BINS))

    total, background = smooth(points.total_ms), smooth(points.background_ms)
    net = np.maximum(total - background, 0.5 * background + 1e-20)
    return bin_centre_rpm(every), 10.0 * np.log10(net), total / (background + 1e-20)


def oracle_rpm(orders: list[OrderPoints]) -> tuple[tuple[float, float], ...]:
    """Lowest and highest engine speed of each stretch that the oracle's curves have."""
    ends = [bin_centre_rpm(part[[0, -1]]) for part in _stretches(comparable(orders)[0])]
    return tuple((float(low), float(high)) for low, high in ends)


def oracle_points(drive: Drive, track: SpeedTrack) -> list[OrderPoints]:
    """Orders of a drive along its true engine speed."""
    assert drive.sound is not None
    with WorkingCopy(drive.sound, _silent) as copy:
        frames = track_orders(order_spectra(copy, track))
    return binned(frames, driven_at(frames.time_s, frames.rpm, drive.telemetry, frames.time_s))


def road_cases(count: int, logs: int, first: int) -> Iterator[Case]:
    """Generated roads on which nothing went wrong but the road itself."""
    for seed in range(first, first + count):
        made = drive_on(plain(np.random.default_rng([14, seed])), seed)
        time_s, rpm = made.truth.time_s, made.truth.rpm
        track = SpeedTrack(start_s=0.0, step_s=float(time_s[1] - time_s[0]), rpm=rpm)
        drive = made.drive()
        told = []
        for number in range(logs):
            rng = np.random.default_rng([14, seed, number])
            rows = log_rows(_any_log(rng), made.truth.motion, rng)
            told.append(_told(replace(drive, telemetry=rows)))
        orders = oracle_points(replace(drive, telemetry=_true_rows(made.truth)), track)
        alone = RoadOracle(made)
        yield Case(
            name=f"road {seed}, {made.spec.name}",
            seen=tuple(
                replace(hill, is_of_engine=alone.may_be_told(hill.order, hill.top_hz))
                for hill in oracle_hills(orders)
            ),
            seen_rpm=oracle_rpm(orders),
            truth=(),
            told=tuple(told),
        )


def _true_rows(truth: RoadTruth) -> pd.DataFrame:
    """Rows that are on time: by late ones the oracle would take the gears for others."""
    motion = truth.motion
    return pd.DataFrame(
        {"time_s": motion.grid_s, "rpm": motion.rpm, "road_speed_m_s": motion.speed_m_s}
    )


def _any_log(rng: np.random.Generator) -> RpmLog:
    return RpmLog(
        rate_hz=float(np.exp(rng.uniform(0.0, np.log(20.0)))),
        lag_s=float(rng.uniform(0.0, 1.5)),
        step_rpm=float(rng.choice([0.25, 1.0, 10.0, 25.0, 50.0])),
        road_speed=False,
    )


def clip_cases(folder: Path, logs: int, first: int) -> Iterator[Case]:
    """Recorded engines: each clip and each long drive, as it is and with resonances put in."""
    clips = read_clips(folder)
    for number, clip in enumerate([*clips, *long_drives(clips)]):
        track = true_track(clip)
        rng = np.random.default_rng([14, first, number])
        put_in = [None, *(_any_peak(rng) for _ in range(4))]
        for variant, peak in enumerate(put_in):
            heard = clip if peak is None else with_peak(clip, peak)
            yield _clip_case(heard, peak, track, logs, [15, first, number, variant])


def _clip_case(
    clip: Clip, peak: Peak | None, track: SpeedTrack, logs: int, seed: list[int]
) -> Case:
    drives = [logged(clip, track, np.random.default_rng([*seed, n]))[0] for n in range(logs)]
    orders = oracle_points(drives[0], track)
    return Case(
        name=clip.name,
        seen=oracle_hills(orders),
        seen_rpm=oracle_rpm(orders),
        truth=() if peak is None else (peak,),
        told=tuple(_told(drive) for drive in drives),
    )


def _any_peak(rng: np.random.Generator) -> Peak:
    return Peak(
        frequency_hz=float(np.exp(rng.uniform(np.log(60.0), np.log(250.0)))),
        width=float(rng.uniform(0.05, 0.25)),
        gain=float(10.0 ** (rng.uniform(6.0, 15.0) / 20.0) - 1.0),
    )


def _told(drive: Drive) -> tuple[DroneBand, ...]:
    try:
        return find_drone(drive).bands
    except AnalysisError:
        return ()


@dataclass
class Tally:
    """What the cases so far have shown."""

    must: int = 0
    missed: list[str] = field(default_factory=list)
    told: int = 0
    not_there: list[str] = field(default_factory=list)
    unseen: int = 0
    top_error: list[float] = field(default_factory=list)  # against the oracle's top
    put_in_error: list[float] = field(default_factory=list)
    held: dict[str, list[bool]] = field(
        default_factory=lambda: {"peak_hz": [], "low_hz": [], "high_hz": []}
    )
    sure_error: dict[str, list[float]] = field(default_factory=lambda: {"peak_hz": []})
    alike: list[bool] = field(default_factory=list)

    def add(self, case: Case) -> None:
        """Judge one case."""
        for number, bands in enumerate(case.told):
            self._add_seen(f"{case.name}, log {number}", case, bands)
            for peak in case.truth:
                self._add_put_in(peak, bands)
        sure = [hill for hill in case.seen if hill.must_be_found]
        for hill in sure:
            found = [any(hill.is_of(band) for band in bands) for bands in case.told]
            self.alike.append(len(set(found)) == 1)

    def _add_seen(self, label: str, case: Case, bands: tuple[DroneBand, ...]) -> None:
        for hill in case.seen:
            if not hill.must_be_found:
                continue
            self.must += 1
            near = [band for band in bands if hill.is_of(band)]
            if near:
                self.top_error.append(float(near[0].peak_hz / hill.top_hz - 1.0))
            else:
                self.missed.append(
                    f"{label}: order {hill.order:g} at {hill.top_hz:.1f} Hz, "
                    f"{hill.prominence_db:.1f} dB, {100 * hill.width:.0f} % wide, "
                    f"{hill.below_loudest_db:.0f} dB below the loudest"
                )
        for band in bands:
            self.told += 1
            there = [hill.prominence_db for hill in case.seen if hill.is_of(band)]
            if max(there, default=0.0) >= _NO_HILL_DB:
                continue
            # as far again as its half-power points: less, and a valley is where the oracle ends
            low_rpm, high_rpm = (2.0 * rpm - band.peak_rpm for rpm in (band.low_rpm, band.high_rpm))
            if any(low <= low_rpm and high_rpm <= high for low, high in case.seen_rpm):
                self.not_there.append(
                    f"{label}: order {band.engine_order:g} at {band.peak_hz:.1f} Hz, told as "
                    f"{band.rise_db:.1f} dB, seen {max(there, default=0.0):.1f}"
                )
            else:
                self.unseen += 1

    def _add_put_in(self, peak: Peak, bands: tuple[DroneBand, ...]) -> None:
        low_hz, high_hz = peak.edges_hz
        truth = {"peak_hz": peak.frequency_hz, "low_hz": low_hz, "high_hz": high_hz}
        for band in bands:
            if abs(np.log(band.peak_hz / peak.frequency_hz)) > max(0.06, 0.5 * peak.width):
                continue
            self.put_in_error.append(band.peak_hz / peak.frequency_hz - 1.0)
            for name, seen in self.held.items():
                interval = getattr(band, f"{name}_ci95")
                seen.append(interval.low <= truth[name] <= interval.high)

    def show(self) -> None:
        """Print the table."""
        print(f"hills of {_HILL_DB:g} dB or more: {self.must}, missed {len(self.missed)}")
        print(
            f"bands told: {self.told}, of them under {_NO_HILL_DB:g} dB {len(self.not_there)}, "
            f"and {self.unseen} whose feet lie beyond what the oracle has levels of"
        )
        _percentiles("peak against the oracle's top, %", self.top_error)
        _percentiles("peak against the resonance put in, %", self.put_in_error)
        for name, seen in self.held.items():
            if seen:
                print(f"{name} interval holds it {100 * np.mean(seen):.1f} % of {len(seen)}")
        if self.alike:
            print(f"hills told alike from all logs: {100 * np.mean(self.alike):.1f} %")
        for title, lines in (("missed", self.missed), ("not there", self.not_there)):
            print(f"{title}: {len(lines)}")
            for line in lines:
                print(f"  {line}")


def _percentiles(name: str, errors: list[float]) -> None:
    if errors:
        size = 100.0 * np.abs(errors)
        print(f"{name:38s} median {np.median(size):.2f}, 95 % {np.percentile(size, 95):.2f}")


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("roads", type=int, nargs="?", default=20)
    parser.add_argument("--logs", type=int, default=4)
    parser.add_argument("--clips", type=Path)
    parser.add_argument("--first", type=int, default=0)
    wishes = parser.parse_args()
    cases = (
        road_cases(wishes.roads, wishes.logs, wishes.first)
        if wishes.clips is None
        else clip_cases(wishes.clips, wishes.logs, wishes.first)
    )
    tally = Tally()
    for case in cases:
        tally.add(case)
    tally.show()


def _silent(part: float) -> None:
    del part


if __name__ == "__main__":
    main()
