"""What recorders and cabins do to a drive, and whether ``find`` notices.

    python -m tests.benchmarks.recorders [drives] [--only KIND ...] [--clips FOLDER]

Prints a table; asserts nothing. Drives of ``tests/roads`` of each kind (20 if not said): how often
each warning is raised, how often no result is given, how often "no drone" is said with no word of
doubt although there is one, and of the bands told how many peak within 1 % of a hill of the car's,
how many beside it, and how many where no hill is. ``--clips`` adds recordings of engines: sound
files, each with ``time_s, rpm`` in a CSV of the same name; those whose names begin alike are driven
one after the other, as they are and with a hill of 12 dB, held by levellers of ten kinds.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd
import soundfile
from numpy.typing import NDArray
from scipy import signal

from analysis.drive import Drive, Engine, Sound
from analysis.errors import DriveError
from analysis.find.drone import find_drone
from analysis.findings import Findings
from tests.roads import (
    Leveller,
    RoadSpec,
    Trouble,
    clipped,
    dead_left,
    drive_on,
    levelled,
    limited_sound,
    plain,
    quiet_climb,
    random_road,
    through_codec,
    voice_codec,
    with_clicks,
    with_gusts,
    with_hum,
    with_music,
    with_speech,
)
from tests.roads.recorder import gain_of, limited

FloatArray = NDArray[np.float64]

_CODES = (
    "automatic_gain",
    "clipped_audio",
    "speech",
    "wind_rumble",
    "microphone_roll_off",
    "low_signal",
)
_RATE_HZ = 8000.0
_NEAR = 0.12  # of a frequency: a band further from every hill is not there
_RIGHT = 0.01
_HILL_DB = 6.0  # prominence of a hill that must not be missed in silence

# attack, release, strength, gate (dB under the level held, or None), limiter: ten that phones have
LEVELLERS = {
    "5 ms, 0.3 s": (0.005, 0.3, 1.0, None, False),
    "5 ms, 5 s": (0.005, 5.0, 1.0, None, False),
    "300 ms, 0.5 s": (0.3, 0.5, 1.0, None, False),
    "300 ms, 5 s": (0.3, 5.0, 1.0, None, False),
    "50 ms, 1 s": (0.05, 1.0, 1.0, None, False),
    "50 ms, 1 s, half": (0.05, 1.0, 0.5, None, False),
    "100 ms, 2 s, 0.7": (0.1, 2.0, 0.7, None, False),
    "20 ms, 1 s, gate": (0.02, 1.0, 1.0, 12.0, False),
    "100 ms, 3 s, gate, limiter": (0.1, 3.0, 0.8, 12.0, True),
    "20 ms, 0.5 s, limiter": (0.02, 0.5, 0.8, None, True),
}


def of_kind(number: int) -> Callable[[np.random.Generator], RoadSpec]:
    """Drives with one or two drones, held by the leveller of this number."""
    attack_s, release_s, strength, gate_db, has_limiter = list(LEVELLERS.values())[number]

    def make(rng: np.random.Generator) -> RoadSpec:
        spec = levelled(rng)
        assert spec.recorder.leveller is not None
        leveller = replace(
            spec.recorder.leveller,
            attack_s=attack_s,
            release_s=release_s,
            strength=strength,
            gate_dbfs=None if gate_db is None else spec.recorder.peak_dbfs - 15.0 - gate_db,
        )
        limit_dbfs = leveller.target_dbfs + 6.0 if has_limiter else None
        return replace(
            spec, recorder=replace(spec.recorder, leveller=leveller, limit_dbfs=limit_dbfs)
        )

    return make


def loud_wind(rng: np.random.Generator) -> RoadSpec:
    """Wind 10 or 20 dB over the drive's own, in gusts."""
    spec = random_road(rng, troubles=(Trouble.GUSTS,))
    more_db = float(rng.choice([10.0, 20.0]))
    return replace(spec, noise=replace(spec.noise, wind_db=spec.noise.wind_db + more_db))


KINDS: dict[str, Callable[[np.random.Generator], RoadSpec]] = {
    "plain": plain,
    "quiet climb": quiet_climb,
    **{f"held {name}": of_kind(number) for number, name in enumerate(LEVELLERS)},
    "limited": limited_sound,
    "clipped": clipped,
    "codec": through_codec,
    "voice codec": voice_codec,
    "dead left": dead_left,
    "music": with_music,
    "speech": with_speech,
    "clicks": with_clicks,
    "gusts": with_gusts,
    "loud wind": loud_wind,
    "hum": with_hum,
}


@dataclass
class Tally:
    """What the drives of one kind have shown."""

    drives: int = 0
    refused: int = 0
    withheld: int = 0
    silent: int = 0
    raised: Counter[str] = field(default_factory=Counter)
    right: int = 0
    beside: int = 0
    false: int = 0

    def add(self, findings: Findings, hills: Sequence[tuple[float | None, float, float]]) -> None:
        """Take in what was found; ``hills`` are order (None for any), Hz and dB."""
        self.drives += 1
        self.withheld += findings.withheld is not None
        codes = {doubt.code for doubt in findings.warnings}
        self.raised.update(codes)
        doubted = any(doubt.may_hide for doubt in findings.warnings)
        high = any(db >= _HILL_DB for _, _, db in hills)
        self.silent += high and not findings.bands and not findings.withheld and not doubted
        for band in findings.bands:
            off = [
                abs(band.peak_hz / hz - 1.0)
                for order, hz, _ in hills
                if order is None or order == band.engine_order
            ]
            nearest = min(off, default=1.0)
            self.right += nearest <= _RIGHT
            self.beside += _RIGHT < nearest <= _NEAR
            self.false += nearest > _NEAR


def run_kind(name: str, drives: int) -> Tally:
    """Generate and analyse the drives of one kind."""
    tally = Tally()
    for seed in range(drives):
        rng = np.random.default_rng([2031, list(KINDS).index(name), seed])
        made = drive_on(KINDS[name](rng), seed)
        hills = [(hill.order, hill.peak_hz, hill.height_db) for hill in made.truth.hills]
        drive = made.drive()
        if made.samples.ndim > 1:
            assert drive.sound is not None
            drive = replace(drive, sound=replace(drive.sound, other_channels=(2,)))
        try:
            tally.add(find_drone(drive), hills)
        except DriveError:
            tally.drives += 1
            tally.refused += 1
    return tally


def clip_drives(folder: Path) -> Iterator[tuple[str, FloatArray, pd.DataFrame]]:
    """Clips whose names begin with the same letter, one after the other."""
    files = sorted(each for each in folder.iterdir() if each.suffix in (".opus", ".wav", ".flac"))
    for letter in sorted({each.name[0] for each in files}):
        sounds, rows, start_s = [], [], 0.0
        for path in (each for each in files if each.name[0] == letter):
            sound, rate_hz = soundfile.read(path, always_2d=True)
            mono = signal.resample_poly(sound.mean(axis=1), round(_RATE_HZ), rate_hz)
            fade = np.minimum(np.arange(mono.size) / (0.02 * _RATE_HZ), 1.0)
            sounds.append(mono * fade * fade[::-1])
            trace = pd.read_csv(path.with_suffix(".csv"))[["time_s", "rpm"]].astype(np.float64)
            trace = trace[trace["time_s"] < mono.size / _RATE_HZ - 0.05]
            rows.append(trace.assign(time_s=trace["time_s"] + start_s))
            start_s += mono.size / _RATE_HZ
        yield letter, np.concatenate(sounds), pd.concat(rows, ignore_index=True)


def run_clips(folder: Path) -> dict[str, Tally]:
    """The clips as they are, and with a hill put in and held by each leveller."""
    tallies = {
        name: Tally() for name in ("clips", "clips, hill", *(f"clips, {n}" for n in LEVELLERS))
    }
    for letter, sound, rows in clip_drives(folder):
        tallies["clips"].add(find_drone(_clip_drive(letter, sound, rows)), [])
        for number in range(3):
            rng = np.random.default_rng([2032, ord(letter), number])
            hz, quality = float(rng.uniform(70.0, 140.0)), float(rng.uniform(4.0, 8.0))
            hilly = _peaked(sound, hz, 12.0, quality)
            hilly *= 0.5 / np.abs(hilly).max()
            free = find_drone(_clip_drive(letter, hilly, rows))
            # the truth: what is found without a leveller
            hills = [(b.engine_order, b.peak_hz, b.rise_db) for b in free.bands]
            tallies["clips, hill"].add(free, hills)
            for name in LEVELLERS:
                held = _held(hilly, name)
                tallies[f"clips, {name}"].add(find_drone(_clip_drive(letter, held, rows)), hills)
    return tallies


def _clip_drive(letter: str, sound: FloatArray, rows: pd.DataFrame) -> Drive:
    return Drive(
        name=letter,
        engine=Engine(cylinders=4 if letter == "A" else 8),
        sound=Sound.from_array(sound.astype(np.float32), _RATE_HZ),
        telemetry=rows,
    )


def _peaked(sound: FloatArray, hz: float, db: float, quality: float) -> FloatArray:
    """A peaking filter: R. Bristow-Johnson, Cookbook formulae for audio EQ biquads."""
    root, turn = 10.0 ** (db / 40.0), 2.0 * np.pi * hz / _RATE_HZ
    alpha = np.sin(turn) / (2.0 * quality)
    b = np.array([1.0 + alpha * root, -2.0 * np.cos(turn), 1.0 - alpha * root])
    a = np.array([1.0 + alpha / root, -2.0 * np.cos(turn), 1.0 - alpha / root])
    return np.asarray(signal.lfilter(b / a[0], a / a[0], sound))


def _held(sound: FloatArray, name: str) -> FloatArray:
    attack_s, release_s, strength, gate_db, has_limiter = LEVELLERS[name]
    level_dbfs = 10.0 * np.log10(np.mean(sound**2)) + 3.0
    leveller = Leveller(
        attack_s=attack_s,
        release_s=release_s,
        target_dbfs=-18.0,
        most_gain_db=30.0,
        gate_dbfs=None if gate_db is None else level_dbfs - gate_db,
        strength=strength,
    )
    held = sound * gain_of(leveller, sound, _RATE_HZ)
    held = limited(held, 10.0 ** (-12.0 / 20.0), _RATE_HZ) if has_limiter else held
    return np.asarray(np.clip(held, -1.0, 1.0))


def show(name: str, tally: Tally) -> None:
    """Print one row."""
    raised = "".join(f"{tally.raised[code]:>8d}" for code in _CODES)
    print(
        f"{name:32s}{tally.drives:>7d}{raised}{tally.refused:>8d}{tally.withheld:>9d}"
        f"{tally.silent:>7d}{tally.right:>7d}{tally.beside:>7d}{tally.false:>7d}",
        flush=True,
    )


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description="Whether find notices recorders and cabins.")
    parser.add_argument("drives", type=int, nargs="?", default=20)
    parser.add_argument("--only", nargs="+", choices=list(KINDS), default=list(KINDS))
    parser.add_argument("--clips", type=Path)
    wishes = parser.parse_args()
    heads = ("gain", "clip", "speech", "wind", "rolloff", "weak")
    print(
        f"{'kind':32s}{'drives':>7s}{''.join(f'{head:>8s}' for head in heads)}{'refused':>8s}"
        f"{'withheld':>9s}{'silent':>7s}{'right':>7s}{'beside':>7s}{'false':>7s}"
    )
    for name in wishes.only if wishes.drives else ():
        show(name, run_kind(name, wishes.drives))
    if wishes.clips is not None:
        for name, tally in run_clips(wishes.clips).items():
            show(name, tally)


if __name__ == "__main__":
    main()
