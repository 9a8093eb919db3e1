"""How right ``pulse:2`` is on drawn drives: rpm, coverage, pulses a turn worked out, load.

``python -m tests.benchmarks.pulse_accuracy [drives]`` (60 if not said)
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import numpy as np
from scipy import signal

from tests.drives.draw import random_spec
from tests.drives.generate import generate
from tests.drives.motion import drive_motion
from tests.logger.sources.pulse.channel import Ignition, make_channel
from tests.logger.sources.pulse.drives import Pickup, errors, listen, random_pickup

_RATE_HZ = 48_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One drive: errors in percent, and how long the longest time without rpm was."""

    rms: float
    largest: float
    wrong: int
    count: int
    longest_gap_s: float
    cpu_percent: float


def measure(seed: int, *, faults: bool) -> Row:
    """Hear one drive whose pulses a turn are set."""
    made = random_pickup(np.random.default_rng([seed, 5]), faults=faults)
    word = f"2@{made.ignition.pulses_per_turn:g}"
    sound, began_s = made.stereo(), time.process_time()
    heard = listen(sound, made.rate_hz, word)
    cpu_s = time.process_time() - began_s
    off = errors(heard, made)
    ends_s = np.array([0.0, *(heard.frames / made.rate_hz), made.spec.duration_s])
    return Row(
        rms=100.0 * float(np.sqrt(np.mean(off**2))),
        largest=100.0 * float(off.max()),
        wrong=int(np.sum(off > 0.01)),
        count=off.size,
        longest_gap_s=float(np.diff(ends_s).max()),
        cpu_percent=100.0 * cpu_s / made.spec.duration_s,
    )


def worked_out(seed: int, *, knows_cylinders: bool) -> str:
    """Hear one drive with its cabin sound; say whether the pulses a turn came out right."""
    rng = np.random.default_rng([seed, 6])
    spec = random_spec(rng, bands=int(rng.integers(0, 3)), road_drone=bool(rng.integers(0, 2)))
    cylinders = spec.source.cylinders
    cabin = signal.resample_poly(generate(spec, seed).samples, _RATE_HZ // 8000, 1)
    motion = drive_motion(spec, np.random.default_rng([seed, 1, 0]))  # as in generate
    ignition = Ignition(
        pulses_per_turn=float(rng.choice([0.5, 1.0, cylinders / 2.0])),
        missed_share=0.02,
        double_share=0.02,
        jitter_deg=0.5,
        noise_level=1e-3,
    )
    channel = make_channel(ignition, motion, spec.duration_s, rng)
    made = Pickup(spec=spec, motion=motion, ignition=ignition, channel=channel)
    heard = listen(made.stereo(cabin), _RATE_HZ, cylinders=cylinders if knows_cylinders else None)
    if not heard.readings:
        return "not told"
    return "right" if float(np.median(errors(heard, made))) < 0.01 else "wrong"


def main(drives: int) -> None:
    """Print the tables."""
    for faults in (False, True):
        rows = [measure(seed, faults=faults) for seed in range(drives)]
        print("\nwith faults" if faults else "clean", f"({drives} drives)")
        print(f"  rpm error rms, median over drives     {np.median([r.rms for r in rows]):.3f} %")
        print(f"  rpm error rms, worst drive            {max(r.rms for r in rows):.3f} %")
        print(f"  largest error                         {max(r.largest for r in rows):.3f} %")
        count = sum(r.count for r in rows)
        print(f"  wrong by more than 1 %                {sum(r.wrong for r in rows)} of {count}")
        print(f"  longest time without rpm              {max(r.longest_gap_s for r in rows):.2f} s")
        cpu = [r.cpu_percent for r in rows]
        print(f"  of one core                           {np.median(cpu):.2f} %, {max(cpu):.2f} %")
    for knows in (True, False):
        results = [worked_out(seed, knows_cylinders=knows) for seed in range(drives)]
        said = ", ".join(f"{word} {results.count(word)}" for word in ("right", "not told", "wrong"))
        print(f"\npulses a turn, cylinders {'known' if knows else 'not known'}: {said}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
