"""Doubts about what else the microphone heard, and how well it hears low frequencies."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy.ndimage import median_filter, uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.find.doubts.evidence import Evidence
from analysis.find.sound.order_tracking import ORDERS, REVOLUTIONS, OrderFrames
from analysis.find.sound.other_tones import OtherTones
from analysis.find.sound.wide_bands import BandLevels
from analysis.findings import Doubt

# judgement: only whether wind, a voice or a poor microphone is told; no number moves.
_LEAST_FRAMES = 100
_SILENCE_MS = 1e-16

# judgement: over all that the engine and the road make, in a tenth of the drive; only told.
_WIND_OVER_DB = 12.0
_WIND_SHARE = 0.1
# judgement: of a second's rumble over its median of 12 s, in a twentieth of the drive; only told.
# Ordinary drives have up to 5.6 dB, gusts of 12 dB and more 6.5 to 13; softer ones are as ordinary.
_GUST_DB = 6.0
_GUST_FRAMES, _CALM_FRAMES = 10, 120

# judgement: noise in a cabin falls with frequency; one that rises by this much was cut by the
# microphone. Only told.
_LOW_HZ, _HIGH_HZ = (35.0, 60.0), (140.0, 260.0)
_ROLL_OFF_DB = 3.0
_LEAST_NOISE_POINTS = 50


def wind_rumble(evidence: Evidence) -> Doubt | None:
    """Ask whether a rumble louder than all else, or in gusts, is wind on the microphone.

    A question: of 16 generated drives in wind 9 raise it, of 160 others 2, and so do recorded
    engines that rumble of themselves.
    """
    levels = evidence.heard.wide
    if levels.time_s.size < _LEAST_FRAMES:
        return None
    over_db = _db(levels.wind_ms) - _db(levels.engine_ms)
    share = float((over_db > _WIND_OVER_DB).mean())
    # a talker and a drum swell below 25 Hz too, in windows as short as these
    gust_db = 0.0 if evidence.tones.are_many else _gust_db(levels)
    if share < _WIND_SHARE and gust_db < _GUST_DB:
        return None
    what = (
        f"For {100.0 * share:.0f} % of the drive a rumble below 25 Hz is more than "
        f"{_WIND_OVER_DB:.0f} dB louder than engine and road together"
        if share >= _WIND_SHARE
        else f"A rumble below 25 Hz swells by {gust_db:.0f} dB and more in gusts"
    )
    return Doubt(
        code="wind_rumble",
        may_hide=True,
        message=(
            f"{what}. Is it wind, from an open window or the vents? That drives the recording "
            "level up, and hides drones below about 40 Hz. Close the windows, keep the microphone "
            "out of the draught, and put foam over it."
        ),
    )


def _gust_db(levels: BandLevels) -> float:
    """How far the rumble swells over what it was just then, in a twentieth of the drive."""
    rumble_db = uniform_filter1d(_db(levels.wind_ms), _GUST_FRAMES)
    return float(np.percentile(rumble_db - median_filter(rumble_db, _CALM_FRAMES), 95.0))


def speech(evidence: Evidence) -> Doubt | None:
    """Voices, music or knocks: they stand out between the orders, or come and go in the hiss.

    The engine's own pops do as well: recorded ones raise it where nothing else sounds.
    """
    tones = evidence.tones
    if not tones.are_heard:
        return None
    many = tones.are_many
    what = "Voices, music or knocks" if many else "Voices, music, knocks or pops of the exhaust"
    only = " Only bands are told that no note of it makes." if many else ""
    leave = "" if many else "; pops of the exhaust itself need no other drive"
    return Doubt(
        code="speech",
        may_hide=True,
        message=(
            f"{what} stand out {_where(tones)}: a voice lies at 85 to 255 Hz and a bass lower, "
            "where drones are, so weak drones can be hidden and noise levels are too "
            f"high.{only} Drive again without talking, with radio and navigation off and nothing "
            f"loose in the car{leave}."
        ),
    )


def _where(tones: OtherTones) -> str:
    between, bursts = 100.0 * tones.share, 100.0 * tones.burst_share
    if bursts > between:
        return f"for a moment, in {bursts:.1f} % of the drive"
    return f"between the engine's orders, at {between:.0f} % of all moments and places"


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
    return float(_db(np.median(joined))) if joined.size >= _LEAST_NOISE_POINTS else None


def _db(mean_square: np.ndarray) -> FloatArray:
    return np.asarray(10.0 * np.log10(mean_square.astype(np.float64) + _SILENCE_MS))
