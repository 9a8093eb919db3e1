"""Loudness of three wide bands ten times a second: wind's, the engine's and the voice's."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.basics.levels import into_db
from analysis.find.sound.frame_power import frame_power, mean_square_window
from analysis.find.sound.working_copy import WorkingCopy

# judgement: only wind, voice and a poor microphone are told by them. No drone is from these bands.
FRAME_S = 0.1

# judgement: as above; wind rumbles below the engine, a voice speaks mostly above it.
_CHUNK_FRAMES = 600
_WIND_HZ = (5.0, 25.0)
_ENGINE_HZ = (35.0, 400.0)
_VOICE_HZ = (350.0, 1000.0)
_SILENCE_MS = 1e-30


@dataclass(frozen=True, slots=True, kw_only=True)
class BandLevels:
    """Mean squares of frames that hold no gap; all arrays [shape=(n_frames,)].

    ``hiss_db`` is the mean level of a line of the voice's band, 10 lg of its mean square: what lies
    between tones counts for most of it.
    """

    time_s: FloatArray
    wind_ms: NDArray[np.float32]
    engine_ms: NDArray[np.float32]
    voice_ms: NDArray[np.float32]
    hiss_db: NDArray[np.float32]


def band_levels(copy: WorkingCopy) -> BandLevels:
    """Read the working copy once."""
    size = round(FRAME_S * copy.sample_rate_hz)
    window = mean_square_window(size)
    lines = min(int(FRAME_S * _VOICE_HZ[1]), size // 2) + 1
    hz = np.arange(lines) * copy.sample_rate_hz / size
    bands = np.stack(
        [(hz >= low) & (hz <= high) for low, high in (_WIND_HZ, _ENGINE_HZ, _VOICE_HZ)], axis=1
    ).astype(np.float32)
    is_voice = bands[:, 2] > 0.0
    times, levels, hisses = [], [], []
    for first in range(0, copy.frame_count // size, _CHUNK_FRAMES):
        count = min(_CHUNK_FRAMES, copy.frame_count // size - first)
        samples = copy.read(first * size, count * size)
        samples -= samples.mean()  # an offset is no rumble
        middle_s = (first + 0.5 + np.arange(count, dtype=np.float64)) * FRAME_S
        heard = ~copy.gaps.touch(middle_s - 0.5 * FRAME_S, middle_s + 0.5 * FRAME_S)
        frames = samples.reshape(count, size)
        power = frame_power(frames, np.flatnonzero(heard), window, fft_size=size, lines=lines)
        times.append(middle_s[heard])
        levels.append(power @ bands)
        hisses.append(into_db(power[:, is_voice], _SILENCE_MS).mean(axis=1))
    joined = np.concatenate(levels) if levels else np.empty((0, 3), dtype=np.float32)
    return BandLevels(
        time_s=np.concatenate([np.empty(0), *times]),
        wind_ms=joined[:, 0],
        engine_ms=joined[:, 1],
        voice_ms=joined[:, 2],
        hiss_db=np.concatenate([np.empty(0, dtype=np.float32), *hisses]),
    )
