"""How often a recording tells that its sound changed within a moment.

    python -m tests.benchmarks.recorder_faults.sound_changes [--drives N] [--first SEED]

Drives as hostile as a road, of every kind in ``tests.roads``, are played through the recorder: each
trouble ``sound_changed`` is false. Then the same drives with a change at a random moment: the gain
turned, another microphone's response, its hiss, a far quieter one, or a hand on it; each counts as
told when the trouble begins within half a second of it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve, firwin2

from tests.logger.recording.scripted import ScriptedSound, record
from tests.roads import KINDS, drive_on

_CHANGES = ("gain 12 dB", "gain 8 dB", "response", "hiss", "quiet", "hand")
_WITHIN_S = 0.5
_BLOCK_S = 0.1
_AT_HZ = (40.0, 80.0, 160.0, 320.0, 640.0, 1280.0, 2560.0)
_HAND_DB = (4.0, 3.0, 0.0, -3.0, -10.0, -16.0, -20.0)  # a guess: lifts rumble, takes highs
FloatArray = NDArray[np.float64]


def main() -> None:
    """Play, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--drives", type=int, default=5, help="of each kind")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    wanted = parser.parse_args()
    false, told, played = Counter[str](), Counter[str](), Counter[str]()
    for kind, draw in KINDS.items():
        for seed in range(wanted.first, wanted.first + wanted.drives):
            made = drive_on(draw(np.random.default_rng(seed)), seed=seed)
            samples = np.asarray(made.samples, dtype=np.float64).reshape(made.samples.shape[0], -1)
            rate_hz = round(made.sample_rate_hz)
            false[kind] += bool(_changes_told_s(samples, rate_hz))
            rng = np.random.default_rng([seed, list(KINDS).index(kind)])
            at = round(samples.shape[0] * rng.uniform(0.2, 0.8))
            for change in _CHANGES:
                after = _changed(samples, change, rate_hz, rng)
                both = np.concatenate([samples[:at], after[at:]])
                moments_s = _changes_told_s(both, rate_hz)
                told[change] += any(abs(at_s - at / rate_hz) < _WITHIN_S for at_s in moments_s)
                played[change] += 1
    count = wanted.drives * len(KINDS)
    print(f"told of {sum(false.values())} of {count} drives without a change: {dict(+false)}")
    for change in _CHANGES:
        print(f"{change:12} told of {told[change]} of {played[change]}")


def _changes_told_s(samples: FloatArray, rate_hz: int) -> list[float]:
    """Record, and give the moments of the troubles that tell of a change."""
    block = round(_BLOCK_S * rate_hz)
    sound = ScriptedSound(
        [
            samples[start : start + block].astype(np.float32)
            for start in range(0, samples.shape[0] - block + 1, block)
        ],
        sample_rate_hz=rate_hz,
        channel_count=samples.shape[1],
    )
    seconds = len(sound.script) * _BLOCK_S
    with tempfile.TemporaryDirectory(prefix="changes") as folder:
        recorded = record(sound, Path(folder) / "drive", seconds=seconds)
    return [one.start_s or 0.0 for one in recorded.trouble if one.code == "sound_changed"]


def _changed(
    samples: FloatArray, change: str, rate_hz: int, rng: np.random.Generator
) -> FloatArray:
    """As another microphone, or the same one otherwise, would have recorded it."""
    if change == "hiss":
        return np.asarray(samples + 2.0 * samples.std() * rng.standard_normal(samples.shape))
    if change.startswith("gain"):
        gain_db = float(change.split()[1]) * rng.choice([-1.0, 1.0])
        return np.asarray(np.clip(samples * 10.0 ** (gain_db / 20.0), -1.0, 1.0))
    if change == "quiet":
        return 0.1 * samples
    response_db = np.array(_HAND_DB)
    if change == "response":
        response_db = rng.normal(0.0, 8.0) + np.cumsum(rng.normal(0.0, 2.5, len(_AT_HZ)))
    points_hz = np.array([0.0, *_AT_HZ, 0.5 * rate_hz])
    gains = 10.0 ** (np.array([response_db[0], *response_db, response_db[-1]]) / 20.0)
    taps = firwin2(801, points_hz, gains, fs=rate_hz)
    return np.clip(fftconvolve(samples, taps[:, np.newaxis], mode="same", axes=0), -1.0, 1.0)


if __name__ == "__main__":
    main()
