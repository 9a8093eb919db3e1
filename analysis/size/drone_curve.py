"""The drone's level over frequency before any branch: measured, or a resonance of its width."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.basics.cure import NEAR_HIGH, NEAR_LOW
from analysis.branches import Target
from analysis.errors import SizingError
from analysis.size.request import OrderLevels, SizingRequest

Mask: TypeAlias = NDArray[np.bool_]

# judgement: only where nobody says where the car is driven, or no level was measured; stated as an
# assumption with the answer.
_ASSUMED_RANGE = (0.6, 1.8)
_ASSUMED_RISE_DB = 12.0  # of the drone above its trend, when only its width is known
_MUCH_BEYOND = 1.05  # judgement: ratio by which a range may pass what was measured unsaid
# Ratio of neighbouring frequencies; judgement: 20 % more moves a length by 19 mm and the outlook by
# 0.3 dB.
_STEP = 1.004


@dataclass(frozen=True, slots=True, kw_only=True)
class DroneCurve:
    """Level over frequency, dB re the drone's peak; arrays [shape=(n,)].

    ``stretches`` [shape=(n_drones, n)] marks what counts as each drone, the worst first; the rest
    is elsewhere. ``is_measured`` is false where it is a resonance drawn from the drone's width.
    """

    frequency_hz: FloatArray
    level_db: FloatArray
    stretches: Mask
    is_measured: bool
    assumptions: tuple[str, ...]

    @property
    def near(self) -> Mask:
        """What counts as the worst drone."""
        return np.asarray(self.stretches[0])


def drone_curve(request: SizingRequest) -> DroneCurve:
    """Lay out the level before over the driving range and the drone's own stretch.

    Raises
    ------
    SizingError
        The half-power points do not lie on both sides of the peak.
    """
    target = request.target
    if not 0.0 < target.low_hz < target.peak_hz < target.high_hz:
        raise SizingError(
            f"the drone's edges ({target.low_hz:g} and {target.high_hz:g} Hz) must lie below and "
            f"above its peak ({target.peak_hz:g} Hz)"
        )
    measured = _measured_hz(target, request.levels)
    low_hz, high_hz, said = _driven_hz(request, measured)
    peaks_hz = np.array([each.peak_hz for each in (target, *request.others)])
    near_hz = np.outer([NEAR_LOW, NEAR_HIGH], peaks_hz)
    if measured is not None:
        # beyond what was measured the last level would go on, and be taken for the drone's
        near_hz = near_hz.clip(measured[0][0], measured[0][-1])
    low_hz, high_hz = min(low_hz, near_hz.min()), max(high_hz, near_hz.max())
    count = max(int(np.ceil(np.log(high_hz / low_hz) / np.log(_STEP))), 8)
    # the peaks are some of them, or the highest level would hang on how the grid falls
    frequency_hz = np.unique(np.append(np.geomspace(low_hz, high_hz, count), peaks_hz))
    stretches = (frequency_hz >= near_hz[0][:, None] - 1e-9) & (
        frequency_hz <= near_hz[1][:, None] + 1e-9
    )
    if measured is None:
        level_db = _resonance_db(frequency_hz, target)
        said += (
            f"Level before: a resonance with half-power points at {target.low_hz:.1f} and "
            f"{target.high_hz:.1f} Hz, {_ASSUMED_RISE_DB:.0f} dB above an even trend (no measured "
            "curve).",
        )
    else:
        level_db = np.interp(frequency_hz, *measured)
    level_db = level_db - level_db[stretches[0]].max()
    return DroneCurve(
        frequency_hz=frequency_hz,
        level_db=level_db,
        stretches=stretches,
        is_measured=measured is not None,
        assumptions=said,
    )


def _measured_hz(
    target: Target, levels: OrderLevels | None
) -> tuple[FloatArray, FloatArray] | None:
    """Measured frequency and level; None without a curve that holds the whole drone."""
    if levels is None or target.engine_order is None:
        return None
    known = np.isfinite(levels.rpm) & np.isfinite(levels.level_db)
    frequency_hz = target.engine_order / 60.0 * levels.rpm[known]
    if frequency_hz.size < 2 or not (
        frequency_hz[0] <= target.low_hz and target.high_hz <= frequency_hz[-1]
    ):
        return None
    return frequency_hz, levels.level_db[known]


def _driven_hz(
    request: SizingRequest, measured: tuple[FloatArray, FloatArray] | None
) -> tuple[float, float, tuple[str, ...]]:
    """Frequencies that the driving range gives this order, within what was measured."""
    order = request.target.engine_order
    if request.driving_range_rpm is not None and order is not None:
        low_hz, high_hz = (order / 60.0 * rpm for rpm in request.driving_range_rpm)
        if measured is None:
            return low_hz, high_hz, ()
        return _within_measured_hz(low_hz, high_hz, measured[0], order)
    if measured is not None:
        return float(measured[0][0]), float(measured[0][-1]), ()
    low, high = _ASSUMED_RANGE
    return (
        low * request.target.peak_hz,
        high * request.target.peak_hz,
        (f"Driving range: not given; {low:g} to {high:g} times the drone's engine speed assumed.",),
    )


def _within_measured_hz(
    low_hz: float, high_hz: float, measured_hz: FloatArray, order: float
) -> tuple[float, float, tuple[str, ...]]:
    first_hz, last_hz = float(measured_hz[0]), float(measured_hz[-1])
    said: tuple[str, ...] = ()
    if low_hz * _MUCH_BEYOND < first_hz or high_hz > last_hz * _MUCH_BEYOND:
        ends = [60.0 * hz / order for hz in (first_hz, last_hz)]
        said = (
            f"Level before: known from {ends[0]:,.0f} to {ends[1]:,.0f} rpm, where the drive has "
            "sweeps; the rest of the driving range is left out.",
        )
    return max(low_hz, first_hz), min(high_hz, last_hz), said


def _resonance_db(frequency_hz: FloatArray, target: Target) -> FloatArray:
    """3 dB down at the target's two edges, on a flat trend."""
    below = frequency_hz < target.peak_hz
    half_width = np.where(below, target.peak_hz - target.low_hz, target.high_hz - target.peak_hz)
    offset = (frequency_hz - target.peak_hz) / half_width
    trend = 10.0 ** (-0.1 * _ASSUMED_RISE_DB)
    return np.asarray(10.0 * np.log10(1.0 / (1.0 + offset**2) + trend), dtype=np.float64)
