"""Recorded engines as drives: as they are, and with a hill that ten levellers hold down."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.drive import Drive, Sound
from tests.benchmarks.doubts.faults import LEVELLERS, leveller_at
from tests.benchmarks.hills.clips import Clip, Peak, long_drives, read_clips, with_peak
from tests.roads.recorder import gain_of, limited

_HILLS = 3  # for each engine
_HILL_GAIN = 3.0  # 12 dB
_LIMIT_DBFS = -12.0


def clips_of(folder: Path) -> Iterator[tuple[str, Clip]]:
    """Kind of fault and clip, each engine's clips one after the other."""
    for clip in long_drives(read_clips(folder)):
        yield "plain", clip
        for number in range(_HILLS):
            rng = np.random.default_rng([2032, *clip.name.encode(), number])
            hz, width = float(rng.uniform(70.0, 140.0)), float(rng.uniform(0.12, 0.25))
            hilly = with_peak(clip, Peak(frequency_hz=hz, width=width, gain=_HILL_GAIN))
            yield "plain", hilly
            for leveller in range(len(LEVELLERS)):
                yield "levelled", _held(hilly, leveller)


def as_drive(clip: Clip) -> Drive:
    """The clip with its trace as its log."""
    return Drive(
        name=clip.name,
        engine=None,
        sound=Sound.from_array(clip.samples.astype(np.float32), clip.sample_rate_hz),
        telemetry=pd.DataFrame({"time_s": clip.time_s, "rpm": clip.rpm}),
    )


def _held(clip: Clip, number: int) -> Clip:
    level_dbfs = float(10.0 * np.log10(np.mean(clip.samples**2))) + 3.0
    leveller, has_limiter = leveller_at(number, level_dbfs)
    held = clip.samples * gain_of(leveller, clip.samples, clip.sample_rate_hz)
    if has_limiter:
        held = limited(held, 10.0 ** (_LIMIT_DBFS / 20.0), clip.sample_rate_hz)
    name = f"{clip.name}, leveller {number}"
    return replace(clip, name=name, samples=np.clip(held, -1.0, 1.0))
