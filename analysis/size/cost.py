"""What a builder would lose: by one kelvin, millimetre and rpm of error, and by the hand method.

The hand method is a quarter of a wavelength in cold air. Common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.basics.interval import Interval
from analysis.branches import HandMethod, Sensitivity, Target
from analysis.size.endless_pipe import EndlessPipe

HAND_SPEED_M_S = 1125.33 * 0.3048  # what hand calculators use, in ft/s; common practice, no source
# judgement: steps of error that a builder can picture; moves no length
_KELVIN, _METRES, _RPM = 10.0, 0.010, 20.0


def sensitivity(
    target: Target, pipe: EndlessPipe, acoustic_lengths_m: tuple[float, ...]
) -> Sensitivity:
    """Shift of the first branch's tuning, and loss given up at the worse edge of the drone."""
    likely_k = float(pipe.temperature_k[pipe.likely_index])
    order = target.engine_order

    def edge_db(more_k: float = 0.0, more_m: float = 0.0, more_hz: float = 0.0) -> float:
        """Least loss at the drone's two edges, with this much error."""
        edges_hz = np.array([target.low_hz, target.high_hz]) + more_hz
        at = replace(
            pipe, temperature_k=np.clip([likely_k + more_k], COLDEST_K, HOTTEST_K), likely_index=0
        )
        lengths = tuple(length + more_m for length in acoustic_lengths_m)
        return float(at.loss_db(lengths, edges_hz).min())

    tuned_hz = pipe.shape.tuned_hz
    first_m, right_db = acoustic_lengths_m[0], edge_db()
    by_rpm = float("nan")
    if order is not None:
        shift_hz = _RPM * order / 60.0
        by_rpm = right_db - min(edge_db(more_hz=shift_hz), edge_db(more_hz=-shift_hz))
    return Sensitivity(
        hz_per_kelvin=tuned_hz(first_m, likely_k + 0.5) - tuned_hz(first_m, likely_k - 0.5),
        hz_per_mm=tuned_hz(first_m + 5e-4, likely_k) - tuned_hz(first_m - 5e-4, likely_k),
        hz_per_rpm=float("nan") if order is None else order / 60.0,
        loss_db_per_10_kelvin=right_db - min(edge_db(more_k=_KELVIN), edge_db(more_k=-_KELVIN)),
        loss_db_per_10_mm=right_db - min(edge_db(more_m=_METRES), edge_db(more_m=-_METRES)),
        loss_db_per_20_rpm=by_rpm,
    )


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
