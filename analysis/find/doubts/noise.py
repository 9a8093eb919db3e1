"""Doubts about what else the microphone heard, and how well it hears low frequencies."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy.ndimage import percentile_filter

from analysis.basics.arrays import FloatArray
from analysis.find.doubts.evidence import Evidence
from analysis.find.sound.order_tracking import ORDERS, REVOLUTIONS, OrderFrames
from analysis.find.sound.wide_bands import FRAME_S
from analysis.findings import Doubt

# judgement: only whether wind, a voice or a poor microphone is told; no number moves.
_LEAST_FRAMES = 100
_SILENCE_MS = 1e-16

# judgement: over all that the engine and the road make, in a tenth of the drive; only told.
_WIND_OVER_DB = 12.0  # over all that the engine and the road make
_WIND_SHARE = 0.1

# judgement: a steady noise of this bandwidth strays by 0.5 dB in 0.1 s, speech by far more; only
# told.
_VOICE_OVER_DB = 7.0
_VOICE_AROUND_S = 4.0
_VOICE_QUIET_PERCENT = 25
_VOICE_SHARE = 0.04

# judgement: noise in a cabin falls with frequency; one that rises by this much was cut by the
# microphone. Only told.
_LOW_HZ, _HIGH_HZ = (35.0, 60.0), (140.0, 260.0)
_ROLL_OFF_DB = 3.0
_LEAST_NOISE_POINTS = 50


def wind_rumble(evidence: Evidence) -> Doubt | None:
    """Wind on the microphone, or an open window."""
    levels = evidence.heard.wide
    if levels.time_s.size < _LEAST_FRAMES:
        return None
    over_db = _db(levels.wind_ms) - _db(levels.engine_ms)
    share = float((over_db > _WIND_OVER_DB).mean())
    if share < _WIND_SHARE:
        return None
    return Doubt(
        code="wind_rumble",
        may_hide=True,
        message=(
            f"For {100.0 * share:.0f} % of the drive a rumble below 25 Hz is more than "
            f"{_WIND_OVER_DB:.0f} dB louder than engine and road together: it drives the recording "
            "level up, and hides drones below about 40 Hz. Close the windows, keep the microphone "
            "out of the draught from the vents, and put foam over it."
        ),
    )


def speech(evidence: Evidence) -> Doubt | None:
    """Voices or music: bursts in the middle of the spectrum that no road makes."""
    levels = evidence.heard.wide
    if levels.time_s.size < _LEAST_FRAMES:
        return None
    level_db = _db(levels.voice_ms)
    around = round(_VOICE_AROUND_S / FRAME_S) | 1
    quiet_db = percentile_filter(level_db, _VOICE_QUIET_PERCENT, size=around, mode="nearest")
    share = float((level_db - quiet_db > _VOICE_OVER_DB).mean())
    if share < _VOICE_SHARE:
        return None
    return Doubt(
        code="speech",
        may_hide=True,
        message=(
            f"There seem to be voices or music in {100.0 * share:.0f} % of the drive: a voice lies "
            "at 85 to 255 Hz, where drones are, so weak drones can be hidden and noise levels are "
            "too high. Drive again without talking, with radio and navigation off."
        ),
    )


def microphone_roll_off(evidence: Evidence) -> Doubt | None:
    """Low frequencies taken away by the microphone or the recorder's filter against rumble."""
    heard = evidence.heard
    low_db, high_db = (_noise_density_db(heard.frames, *band) for band in (_LOW_HZ, _HIGH_HZ))
    if low_db is None or high_db is None or high_db - low_db < _ROLL_OFF_DB or heard.is_flattened:
        return None
    return Doubt(
        code="microphone_roll_off",
        may_hide=True,
        message=(
            f"The noise between the engine's orders is {high_db - low_db:.0f} dB weaker at 50 Hz "
            "than at 200 Hz, although a cabin has more of it at 50 Hz: the microphone, or a filter "
            "against rumble, takes low frequencies away. Levels below about 100 Hz are too low and "
            "a low drone can be missed; its frequency hardly changes. Switch the filter off, give "
            "the microphone's response, or use another microphone."
        ),
    )


def _noise_density_db(frames: OrderFrames, low_hz: float, high_hz: float) -> float | None:
    """Level for each hertz of what lies between the orders, in the median of all moments."""
    turns_s = frames.rpm / 60.0
    density = []
    for column, order in enumerate(ORDERS):  # one by one: a drive of hours is long
        inside = (turns_s > low_hz / (order + 0.25)) & (turns_s < high_hz / (order + 0.25))
        bandwidth_hz = 5.0 / REVOLUTIONS * turns_s[inside]
        density.append((frames.background_ms[inside, column] / bandwidth_hz).astype(np.float32))
    joined = np.concatenate(density)
    return float(np.median(_db(joined))) if joined.size >= _LEAST_NOISE_POINTS else None


def _db(mean_square: np.ndarray) -> FloatArray:
    return np.asarray(10.0 * np.log10(mean_square.astype(np.float64) + _SILENCE_MS))
