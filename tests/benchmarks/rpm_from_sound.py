"""Engine speed from the sound alone against the truth: python -m tests.benchmarks.rpm_from_sound.

The telemetry of generated drives is thrown away. ``--roads`` takes drives as hostile as a road,
``--clips FOLDER`` recordings of one's own: NAME.wav, .flac or .opus and beside each NAME.csv with
the columns ``time_s`` and ``rpm``; their cylinders are given by ``--cylinders``, by how the names
begin. Such a trace need not agree with the sound to the percent, so the sound's own orders near it
are taken as true (``trace_oracle``).

A drive is right when the engine speed is given, half of it within 1 % and at most a tenth of it off
by more than 5 %; it is wrong when half of what is given is off by more than 2 %. Of the first kind
of drive, a moment counts as audible when an order stands 6 dB out of the noise there, by the
filters that made the sound.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import soundfile

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.drive import Engine, Sound
from analysis.errors import DriveError
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.from_sound import Unlogged, speed_from_sound
from analysis.find.speed.refinement import refined_speed
from tests.drives import GeneratedDrive, generate, random_spec
from tests.roads import drive_on, random_road
from tests.trace_oracle import true_speed

_STEP_S = 0.1
_AUDIBLE_DB = 6.0
_ORDERS = np.arange(0.5, 8.01, 0.5)
_RPM_GRID = np.arange(700.0, 5000.0, 100.0)
_SOUND_FILES = (".wav", ".flac", ".opus")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One sound and what is true of it."""

    name: str
    sound: Sound
    cylinders: int
    time_s: FloatArray
    true_rpm: FloatArray
    audible: BoolArray
    rows: pd.DataFrame


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
    median_ratio: float  # to the true speed, of what is known
    far: float  # share of what is known that is off by more than 5 %
    said: str  # where no speed was given

    @property
    def verdict(self) -> str:
        """How the drive as a whole came out."""
        if self.said:
            return "cannot tell"
        off = abs(self.median_ratio - 1.0)
        if off > 0.02:
            return "WRONG"
        return "right" if off < 0.01 and self.far < 0.1 else "partly"


def run(case: Case) -> Row:
    """Listen to one sound."""
    said, rpm = "", np.full(case.time_s.size, np.nan)
    with WorkingCopy(case.sound, lambda part: None) as copy:
        try:
            heard = speed_from_sound(
                copy,
                Unlogged(engine=Engine(cylinders=case.cylinders), telemetry=case.rows),
                lambda part: None,
            )
            rpm = refined_speed(copy, heard).at(case.time_s)
        except DriveError as error:
            said = str(error)
    ratio = (rpm / case.true_rpm)[case.audible]
    known = np.isfinite(ratio)
    off = np.abs(ratio - 1.0)
    octave = (np.abs(ratio - 0.5) < 0.02) | (np.abs(ratio - 2.0) < 0.08)
    right = off < 0.01
    return Row(
        name=case.name,
        audible=float(case.audible.mean()),
        known=float(known.mean()),
        right=float(right.mean()),
        close=float((off < 0.003).mean()),
        half_or_double=float(octave.mean()),
        other=float((known & ~right & ~octave).mean()),
        median_ratio=float(np.median(ratio[known])) if known.any() else np.nan,
        far=float((off[known] > 0.05).mean()) if known.any() else 0.0,
        said=said,
    )


def generated(seed: int) -> Case:
    """A drive whose cylinders are nearly alike."""
    rng = np.random.default_rng([77, seed])
    spec = random_spec(rng, bands=seed % 3, gears=1 + seed % 2)
    drive = generate(spec, seed)
    sound = drive.drive().sound
    assert sound is not None
    time_s = np.arange(1.0, spec.duration_s - 1.0, _STEP_S)
    true_rpm = np.interp(time_s, drive.truth.time_s, drive.truth.rpm)
    return Case(
        name=spec.name,
        sound=sound,
        cylinders=spec.source.cylinders,
        time_s=time_s,
        true_rpm=true_rpm,
        audible=_audible(drive, true_rpm),
        rows=_no_rows(),
    )


def road(seed: int, *, with_road_speed: bool) -> Case:
    """A drive as hostile as a road."""
    spec = random_road(np.random.default_rng([78, seed]))
    made = drive_on(spec, seed)
    # a channel without sound is refused, and the other one asked for
    drive = made.drive(channel=made.samples.ndim - 1)
    assert drive.sound is not None
    assert drive.engine is not None
    time_s = np.arange(1.0, drive.sound.duration_s - 1.0, _STEP_S)
    rows = drive.telemetry.drop(columns="rpm") if with_road_speed else _no_rows()
    return Case(
        name=spec.name,
        sound=drive.sound,
        cylinders=drive.engine.cylinders,
        time_s=time_s,
        true_rpm=np.interp(time_s, made.truth.time_s, made.truth.rpm),
        audible=np.ones(time_s.size, dtype=np.bool_),
        rows=rows,
    )


def clips(folder: Path, cylinders: dict[str, int]) -> Iterator[Case]:
    """Recordings with their rpm; ``cylinders`` by how their names begin."""
    for path in sorted(each for each in folder.iterdir() if each.suffix in _SOUND_FILES):
        samples, rate_hz = soundfile.read(path, always_2d=True, dtype="float32")
        trace = pd.read_csv(path.with_suffix(".csv"))
        time_s = np.arange(0.5, samples.shape[0] / rate_hz - 0.5, _STEP_S)
        count = next(count for start, count in cylinders.items() if path.stem.startswith(start))
        yield Case(
            name=path.stem,
            sound=Sound.from_array(samples[:, 0], rate_hz),
            cylinders=count,
            time_s=time_s,
            true_rpm=true_speed(
                samples[:, 0].astype(np.float64),
                rate_hz,
                trace["time_s"].to_numpy(dtype=np.float64),
                trace["rpm"].to_numpy(dtype=np.float64),
                time_s,
            ),
            audible=np.ones(time_s.size, dtype=np.bool_),
            rows=_no_rows(),
        )


def _no_rows() -> pd.DataFrame:
    return pd.DataFrame({"time_s": np.empty(0)})


def _audible(drive: GeneratedDrive, rpm: FloatArray) -> BoolArray:
    """Whether any order stands out of the noise at this engine speed [shape=(n,)]."""
    car = drive.truth.car
    best = [max(car.order_to_noise_db(order, at) for order in _ORDERS) for at in _RPM_GRID]
    return np.asarray(np.interp(rpm, _RPM_GRID, best) >= _AUDIBLE_DB)


def _cases(wanted: argparse.Namespace) -> Iterator[tuple[str, Callable[[], Case]]]:
    if wanted.clips is not None:
        cylinders = {
            start: int(count)
            for start, count in (pair.split("=") for pair in wanted.cylinders.split(","))
        }
        for case in clips(wanted.clips, cylinders):
            yield case.name, lambda case=case: case  # type: ignore[misc]
        return
    for seed in range(wanted.first, wanted.first + wanted.drives):
        if wanted.roads:
            yield (
                str(seed),
                lambda seed=seed: road(seed, with_road_speed=wanted.road_speed),  # type: ignore[misc]
            )
        else:
            yield str(seed), lambda seed=seed: generated(seed)  # type: ignore[misc]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("drives", type=int, nargs="?", default=60)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--roads", action="store_true", help="drives as hostile as a road")
    parser.add_argument("--road-speed", action="store_true", help="with a log of road speed")
    parser.add_argument("--clips", type=Path, metavar="FOLDER", help="recordings with their rpm")
    parser.add_argument("--cylinders", default="=4", metavar="START=N,...", help="of clips")
    wanted = parser.parse_args()
    rows = []
    print(
        "seed drive                          audible  known  within 1 %  0.3 %  half/double  other "
        "  median  verdict"
    )
    for seed, make in _cases(wanted):
        row = run(make())
        rows.append(row)
        print(
            f"{seed:>5s} {row.name:30s} {row.audible:7.1%} {row.known:6.1%} {row.right:10.1%} "
            f"{row.close:7.1%} {row.half_or_double:10.1%} {row.other:7.1%} "
            f"{row.median_ratio:8.3f}  {row.verdict} {row.said[30:150]}",
            flush=True,
        )
    weight = np.array([row.audible for row in rows])
    for what in ("known", "right", "close", "half_or_double", "other"):
        share = np.array([getattr(row, what) for row in rows])
        print(f"{what}: {np.average(share, weights=weight):.2%} of the audible time")
    for verdict in ("right", "partly", "cannot tell", "WRONG"):
        print(f"{verdict}: {sum(row.verdict == verdict for row in rows)} of {len(rows)} drives")


if __name__ == "__main__":
    main()
