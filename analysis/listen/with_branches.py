"""A stretch of a drive as it should sound with the branches on."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.branches import LevelCurves, Sizing
from analysis.drive import Drive
from analysis.findings import Findings
from analysis.listen.stretch import RATE_HZ, Stretch, alike_loud, droning_stretch

# judgement: every half order that a four-stroke engine has, as far up as find follows them
_ORDERS = np.arange(0.5, 12.01, 0.5)
_HIGHEST_HZ = 400.0  # judgement: branches are sized for drones far below
# judgement: half of the gap between half orders at 720 rpm, so that no order takes its neighbour
_HALF_WIDTH_HZ = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Listening:
    """Two pieces of sound on one scale, full scale 1; arrays [shape=(n_samples,)]."""

    as_recorded: FloatArray
    with_branches: FloatArray
    rate_hz: float
    start_s: float
    rpm: tuple[float, float]


def listening(drive: Drive, findings: Findings, sizing: Sizing) -> Listening | None:
    """Cut out the drone and turn its orders down as the sizing predicts.

    None without sound, without a drone, or where no prediction or no long enough stretch is there.
    """
    curves, order = sizing.level_curves, sizing.target.engine_order
    bands = [band for band in findings.bands if band.engine_order == order]
    if drive.sound is None or curves is None or not bands:
        return None
    band = min(bands, key=lambda each: abs(each.peak_hz - sizing.target.peak_hz))
    stretch = droning_stretch(drive.sound, findings.engine_speed, band)
    if stretch is None:
        return None
    after = turned_down(stretch, curves, band.engine_order)
    before, after = alike_loud(*map(stretch.without_margins, (stretch.samples, after)))
    return Listening(
        as_recorded=before,
        with_branches=after,
        rate_hz=RATE_HZ,
        start_s=stretch.start_s,
        rpm=stretch.rpm_ends,
    )


def turned_down(stretch: Stretch, curves: LevelCurves, order: float) -> FloatArray:
    """Give the sound with every order changed by what the branches do at its frequency.

    What they do to ``order`` at some speed, they do to any order that has the same frequency at
    another. Beyond the curve nothing is known, and nothing is changed.
    """
    change_db = curves.after_db - curves.before_db
    out = stretch.samples.copy()
    for each in _ORDERS:
        hz = each * stretch.rpm / 60.0
        if hz.min() > _HIGHEST_HZ:
            break
        at_rpm = stretch.rpm * each / order
        gain = 10.0 ** (np.interp(at_rpm, curves.rpm, change_db, left=0.0, right=0.0) / 20.0)
        out += (gain - 1.0) * _component(stretch.samples, hz)
    return out


def _component(samples: FloatArray, hz: FloatArray) -> FloatArray:
    """Give what sounds along a gliding frequency: turned to zero, filtered, turned back."""
    turn = np.exp(-2j * np.pi * np.cumsum(hz) / RATE_HZ)
    from scipy.signal import butter, sosfiltfilt  # late: as in `stretch`

    low = butter(2, _HALF_WIDTH_HZ, fs=RATE_HZ, output="sos")
    # forwards and backwards: a late order would not cancel the one it is taken from
    slow = sosfiltfilt(low, samples * turn)
    # twice, because half of a real tone was turned the other way, and filtered out
    return np.asarray(2.0 * np.real(slow * np.conj(turn)))
