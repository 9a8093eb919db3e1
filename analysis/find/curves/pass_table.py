"""One order's passes of a drive, or its overall level's, laid out on the fixed rpm grid."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rpm_bins import bin_centre_rpm, bin_of
from analysis.find.curves.passes import sweeps
from analysis.findings import PassCurve

# of full load: passes as near as this are of one kind; judgement: as drivers hold it
_ONE_LOAD = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class PassTable:
    """One order of one drive over a run of neighbouring rpm bins.

    Attributes
    ----------
    bin_index : which rpm bins [shape=(n_bins,)]
    net_ms, background_ms : mean square without the background, and the background itself
        [shape=(n_passes, n_bins)], NaN where a pass holds no data; ``net_ms`` may be negative,
        because clipping it at zero would make a buried order look louder than it is
    seconds : dwell time [shape=(n_passes, n_bins)], 0 where a pass holds no data
    weight : how much a pass counts in each bin [shape=(n_passes, n_bins)]; all of ``seconds``, or
        what :mod:`analysis.compare.match.like_with_like` leaves of it
    kind : the same number for passes of one gear, load and direction [shape=(n_passes,)]
    """

    bin_index: IntArray
    net_ms: FloatArray
    background_ms: FloatArray
    seconds: FloatArray
    weight: FloatArray
    kind: IntArray

    @property
    def held(self) -> NDArray[np.bool_]:
        """Whether any pass holds data in a bin [shape=(n_bins,)]."""
        return np.asarray(self.seconds.sum(axis=0) > 0.0)

    @property
    def curve_ms(self) -> FloatArray:
        """Net mean square over rpm, passes weighted; NaN where none is held."""
        return _mean_over_passes(self.net_ms, self.weight)

    @property
    def background_curve_ms(self) -> FloatArray:
        """Background over rpm, passes weighted; NaN where none is held."""
        return _mean_over_passes(self.background_ms, self.weight)

    def keep(self, wanted: NDArray[np.bool_]) -> "PassTable":
        """Empty every bin that is not wanted [shape=(n_bins,)], and drop passes left empty."""
        seconds = np.where(wanted, self.seconds, 0.0)
        rows = seconds.sum(axis=1) > 0.0
        return PassTable(
            bin_index=self.bin_index,
            net_ms=np.where(wanted, self.net_ms, np.nan)[rows],
            background_ms=np.where(wanted, self.background_ms, np.nan)[rows],
            seconds=seconds[rows],
            weight=np.where(wanted, self.weight, 0.0)[rows],
            kind=self.kind[rows],
        )


def table_of_passes(
    curve: PassCurve, bins: IntArray, weight: FloatArray | None = None
) -> PassTable:
    """Lay points out on ``bins`` (consecutive indices, [shape=(n_bins,)]).

    ``weight`` [shape=(n_points,)] is how much each point counts, by its seconds if not given; what
    counts nothing is left out.
    """
    counts = curve.seconds if weight is None else weight
    inside = (curve.bin_index >= bins[0]) & (curve.bin_index <= bins[-1]) & (counts > 0.0)
    passes, row = np.unique(curve.pass_index[inside], return_inverse=True)
    column = curve.bin_index[inside] - bins[0]
    shape = (passes.size, bins.size)
    seconds = _summed(shape, row, column, curve.seconds[inside])
    net = (curve.total_ms - curve.background_ms)[inside] * curve.seconds[inside]
    background = curve.background_ms[inside] * curve.seconds[inside]
    dwell = np.where(seconds > 0.0, seconds, np.nan)
    return PassTable(
        bin_index=bins,
        net_ms=_summed(shape, row, column, net) / dwell,
        background_ms=_summed(shape, row, column, background) / dwell,
        seconds=seconds,
        weight=_summed(shape, row, column, counts[inside]),
        kind=_kinds(curve, inside, row, passes.size),
    )


def _kinds(
    curve: PassCurve, inside: NDArray[np.bool_], row: NDArray[np.intp], passes: int
) -> IntArray:
    """Tell kinds of pass apart: each has one gear and one direction, and here one load."""
    counts = np.maximum(np.bincount(row, minlength=passes), 1)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(
            np.bincount(row, weights=np.nan_to_num(values), minlength=passes) / counts
        )

    load = np.rint(mean(curve.load_part[inside]) / _ONE_LOAD)
    gear, way = mean(curve.gear[inside]), mean(direction(curve)[inside].astype(np.float64))
    _, kind = np.unique(np.stack([gear, way, load]), axis=1, return_inverse=True)
    return np.asarray(kind.ravel(), dtype=np.int64)


def bins_within(low_rpm: float, high_rpm: float) -> IntArray:
    """Bins whose middle lies in ``low_rpm..high_rpm``; the nearest bin if there is none."""
    first, last = (int(i) for i in bin_of(np.array([low_rpm, high_rpm])))
    bins = np.arange(first, last + 1, dtype=np.int64)
    middle = bin_centre_rpm(bins)
    inside = bins[(middle >= low_rpm) & (middle <= high_rpm)]
    return inside if inside.size else bin_of(np.array([np.sqrt(low_rpm * high_rpm)]))


def _summed(
    shape: tuple[int, int], row: NDArray[np.intp], column: IntArray, values: FloatArray
) -> FloatArray:
    total = np.zeros(shape)
    np.add.at(total, (row, column), values)
    return total


def _mean_over_passes(values: FloatArray, weight: FloatArray) -> FloatArray:
    total = weight.sum(axis=0)
    weighted = np.where(weight > 0.0, values * weight, 0.0).sum(axis=0)
    return np.asarray(weighted / np.where(total > 0.0, total, np.nan))


def direction(curve: PassCurve) -> IntArray:
    """1 for a climb of engine speed, -1 for a fall, 0 for a rest [shape=(n_points,)]."""
    signed = np.where(curve.rising, 1, -1)
    return np.where(sweeps(curve.pass_index, curve.rpm), signed, 0).astype(np.int64)
