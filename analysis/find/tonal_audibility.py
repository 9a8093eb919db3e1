"""How far a tone stands out of the noise around it for the ear: ISO/PAS 20065:2016.

A tone is heard through the noise of its own critical band only. The method takes the mean level
of that band without its tones, and says by how many decibels the tone exceeds the threshold at
which that noise would mask it. The example of the standard's Annex E is among the tests.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import BoolArray, FloatArray

# A Hann line passes the noise of 1.5 line spacings, by definition. The rest: ISO/PAS 20065, from
# memory.
HANN_DB = float(-10.0 * np.log10(1.5))
LOWEST_TONE_HZ = 50.0  # of the standard's scope; from memory
SPACING_HZ = (1.9, 4.0)  # line spacings that the standard allows

# ISO/PAS 20065, from memory: a line stands out by 6 dB, a tone's lines end 10 dB below it, and the
# noise is averaged until it settles within 0.005 dB.
_ABOVE_NOISE_DB = 6.0
_BELOW_TOP_DB = 10.0
_LEAST_LINES_A_SIDE = 5
_SETTLED_DB = 0.005
_MOST_ROUNDS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """One tone by ISO/PAS 20065; all in dB, with the standard's symbols."""

    noise_db: float  # L_S, mean narrow-band level of the masking noise
    tone_db: float  # L_T
    critical_band_db: float  # L_G, masking noise of the whole critical band
    masking_index_db: float  # a_v

    @property
    def audibility_db(self) -> float:
        """By how much the tone exceeds its masking threshold (the standard's delta L)."""
        return self.tone_db - self.critical_band_db - self.masking_index_db


def critical_band_hz(tone_hz: float) -> tuple[float, float]:
    """Lower and upper corner of the critical band around a tone."""
    width_hz = 25.0 + 75.0 * (1.0 + 1.4 * (tone_hz / 1000.0) ** 2) ** 0.69
    low_hz = 0.5 * (np.hypot(width_hz, 2.0 * tone_hz) - width_hz)
    return float(low_hz), float(low_hz + width_hz)


def masking_index_db(tone_hz: float) -> float:
    """a_v: the ear hears a tone this much below the level of the noise in its critical band."""
    return float(-2.0 - np.log10(1.0 + (tone_hz / 502.0) ** 2.5))


def assess_tone(frequency_hz: FloatArray, level_db: FloatArray, tone_hz: float) -> Tone | None:
    """Assess the tone at ``tone_hz`` in an averaged narrow-band spectrum.

    Parameters
    ----------
    frequency_hz, level_db : ndarray [shape=(n_lines,)]
        Evenly spaced lines of a Hann spectrum, A-weighted, each with the level of a tone that
        falls on it.
    tone_hz : float > 0
        The loudest line within one and a half spacings of it is taken as the tone.

    Returns
    -------
    Tone or None
        None where the line spacing or the tone is outside of the standard's range, the critical
        band is not all there, or too little of it is noise.
    """
    spacing_hz = float(np.median(np.diff(frequency_hz)))
    low_hz, high_hz = critical_band_hz(tone_hz)
    if not SPACING_HZ[0] <= spacing_hz <= SPACING_HZ[1] or tone_hz < LOWEST_TONE_HZ:
        return None
    if frequency_hz[0] > low_hz + spacing_hz or frequency_hz[-1] < high_hz - spacing_hz:
        return None
    band = (frequency_hz >= low_hz) & (frequency_hz <= high_hz)
    hz, level = frequency_hz[band], level_db[band]
    near = np.flatnonzero(np.abs(hz - tone_hz) <= 1.5 * spacing_hz)
    if near.size == 0:
        return None
    top = int(near[level[near].argmax()])
    noise_db = _noise_db(level, top)
    if noise_db is None:
        return None
    tone = _lines_of_tone(level, top, noise_db)
    width_hz = high_hz - low_hz
    return Tone(
        noise_db=noise_db,
        tone_db=_sum_db(level[tone]) + HANN_DB,
        critical_band_db=noise_db + 10.0 * float(np.log10(width_hz / spacing_hz)),
        masking_index_db=masking_index_db(float(hz[top])),
    )


def _noise_db(level_db: FloatArray, top: int) -> float | None:
    """Mean level without the tone's own line and every line 6 dB above that mean, in rounds."""
    others = np.arange(level_db.size) != top
    chosen: BoolArray = others
    noise_db = _mean_db(level_db[chosen]) + HANN_DB
    for _ in range(_MOST_ROUNDS):
        chosen = others & (level_db <= noise_db + _ABOVE_NOISE_DB)
        if min(chosen[:top].sum(), chosen[top + 1 :].sum()) < _LEAST_LINES_A_SIDE:
            return None
        renewed_db = _mean_db(level_db[chosen]) + HANN_DB
        if abs(renewed_db - noise_db) < _SETTLED_DB:
            return renewed_db
        noise_db = renewed_db
    return noise_db


def _lines_of_tone(level_db: FloatArray, top: int, noise_db: float) -> NDArray[np.int64]:
    """List the neighbours of the top line that are still part of its tone, without a break."""
    least_db = max(noise_db + _ABOVE_NOISE_DB, float(level_db[top]) - _BELOW_TOP_DB)
    first = last = top
    while first > 0 and level_db[first - 1] > least_db:
        first -= 1
    while last + 1 < level_db.size and level_db[last + 1] > least_db:
        last += 1
    return np.arange(first, last + 1)


def _mean_db(level_db: FloatArray) -> float:
    return float(10.0 * np.log10(np.mean(10.0 ** (0.1 * level_db))))


def _sum_db(level_db: FloatArray) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (0.1 * level_db))))
