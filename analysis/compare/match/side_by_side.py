"""Two drives' levels over all engine speeds, laid side by side as alike as leaves most of them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.levels import level_db
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.level_change import ENOUGH_SHARED
from analysis.compare.match.like_with_like import Alike, alike, known_in_both, strictest_first
from analysis.find.curves.pass_table import PassTable, table_of_passes
from analysis.findings import Findings, OrderCurve, PassCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """Two drives over the same bins, from the first to the last of either.

    Attributes
    ----------
    bins : consecutive indices of :mod:`analysis.basics.rpm_bins` [shape=(n_bins,)]
    before, after : passes over these bins; what counts for nothing is left out
    alike : how much each point counts, and what was kept alike
    """

    bins: IntArray
    before: PassTable
    after: PassTable
    alike: Alike

    @property
    def shared(self) -> BoolArray:
        """Whether both drives hold a bin [shape=(n_bins,)]."""
        return np.asarray(self.before.held & self.after.held)

    def over_rpm(self, full_scale_db: float) -> dict[str, FloatArray]:
        """Middles of the shared bins, and both levels there [shape=(n_shared,)], by name.

        A level is NaN where an order is lost in its noise.
        """
        before, after = (table.curve_ms[self.shared] for table in (self.before, self.after))
        return {
            "rpm": bin_centre_rpm(self.bins[self.shared]),
            "before_db": level_db(before, full_scale_db),
            "after_db": level_db(after, full_scale_db),
        }


def shared_curves(baseline: Findings, postfix: Findings) -> Iterator[tuple[OrderCurve, OrderCurve]]:
    """Give each order that both drives hold, before and after."""
    for before in baseline.curves:
        if (after := postfix.curve(before.engine_order)) is not None:
            yield before, after


def side_by_side(before: PassCurve, after: PassCurve) -> SideBySide:
    """Lay two drives out, as strictly alike as leaves 70 % of the engine speeds that both hold."""
    held = np.concatenate([before.bin_index, after.bin_index])
    first, last = (held.min(), held.max()) if held.size else (0, 0)
    bins = np.arange(first, last + 1, dtype=np.int64)
    common = np.intersect1d(before.bin_index, after.bin_index).size
    allowed = [*strictest_first(known_in_both(before, after))]
    for count in range(1, len(allowed) + 1):
        counted = alike(before, after, bins, allowed[:count])
        if counted.both_hold(before, after).size >= ENOUGH_SHARED * common:
            break
    return SideBySide(
        bins=bins,
        before=table_of_passes(before, bins, counted.before),
        after=table_of_passes(after, bins, counted.after),
        alike=counted,
    )
