"""The hand method: a quarter of a wavelength in cold air. Common practice, no source.

Kept beside every sizing so that a builder sees what the shortcut would have cost.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis import duct
from analysis.branch_search import Bench
from analysis.branches import HandMethod, Tube
from analysis.findings import Interval
from analysis.gas import exhaust_gas

HAND_SPEED_M_S = 1125.33 * 0.3048  # what the calculators on paper and web use, in ft/s


def hand_length_m(frequency_hz: float) -> float:
    """Quarter of the wavelength in cold air, no correction."""
    return HAND_SPEED_M_S / (4.0 * frequency_hz)


def hand_method(peak_hz: float, bench: Bench, tube: Tube, correction_m: float) -> HandMethod:
    """One branch cut by hand from the same tube, and where it would really tune."""
    length_m = hand_length_m(peak_hz)
    tunes_hz = duct.quarter_wave_hz(
        length_m + correction_m, exhaust_gas(bench.temperature_k), tube.inner_diameter_m
    )
    changes_db = bench.level_changes_db((length_m + correction_m,))
    return HandMethod(
        speed_of_sound_m_s=HAND_SPEED_M_S,
        length_m=length_m,
        really_tunes_hz=float(tunes_hz[bench.likely_index]),
        really_tunes_hz_range=Interval(low=float(tunes_hz[0]), high=float(tunes_hz[-1])),
        level_change_db=float(changes_db[bench.likely_index]),
    )
