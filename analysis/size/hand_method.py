"""The hand method: a quarter of a wavelength in cold air. Common practice, no source.

Kept beside every sizing so that a builder sees what the shortcut would have cost.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.basics.interval import Interval
from analysis.branches import HandMethod
from analysis.size.endless_pipe import EndlessPipe

HAND_SPEED_M_S = 1125.33 * 0.3048  # what hand calculators use, in ft/s; common practice, no source


def hand_length_m(frequency_hz: float) -> float:
    """Quarter of the wavelength in cold air, no correction."""
    return HAND_SPEED_M_S / (4.0 * frequency_hz)


def hand_method(peak_hz: float, pipe: EndlessPipe) -> HandMethod:
    """One branch cut by hand from the same tube, and where it would really tune."""
    length_m = hand_length_m(peak_hz)
    acoustic_m = length_m + pipe.shape.junction_m
    tunes_hz = [pipe.shape.tuned_hz(acoustic_m, k) for k in pipe.temperature_k]
    changes_db = pipe.level_changes_db((acoustic_m,))
    return HandMethod(
        speed_of_sound_m_s=HAND_SPEED_M_S,
        length_m=length_m,
        really_tunes_hz=tunes_hz[pipe.likely_index],
        really_tunes_hz_range=Interval(low=tunes_hz[0], high=tunes_hz[-1]),
        level_change_db=float(changes_db[pipe.likely_index]),
    )
