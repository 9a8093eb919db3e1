"""Level over engine speed and engine order, for the colour map.

An engine order is an upright line there and a resonance a slanting one; in a map over frequency
it is the other way round. What is upright in neither is not the engine's.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable, Iterator

import numpy as np

from analysis.basics.rpm_bins import bin_centre_rpm, bin_of
from analysis.find.sound.frame_power import add_to_rows
from analysis.find.sound.order_tracking import REVOLUTIONS, OrderSpectra
from analysis.findings import OrderMap

# judgement: size of a picture; no drone is from it.
_ROWS = 600  # up to the highest engine speed that is believed, with rows 2 % high
_BINS_PER_ROW = 2
_HANN_LINES = 1.5  # a Hann line passes the noise of 1.5 line spacings, by definition


class OrderSums:
    """Mean squares of order spectra, added up by engine speed while they pass by."""

    def __init__(self) -> None:
        self._sum: np.ndarray | None = None
        self._count = np.zeros(_ROWS)

    def watching(self, spectra: Iterable[OrderSpectra]) -> Iterator[OrderSpectra]:
        """Hand on every part, counted in."""
        for part in spectra:
            self._add(part)
            yield part

    def picture(self, level_offset_db: float) -> OrderMap:
        """Mean level of every engine speed met; no rows when nothing passed by."""
        seen = np.flatnonzero(self._count)
        total = np.zeros((_ROWS, 0)) if self._sum is None else self._sum
        mean = total[seen] / self._count[seen, np.newaxis]
        return OrderMap(
            rpm=bin_centre_rpm(seen * _BINS_PER_ROW),
            engine_order=np.arange(mean.shape[1]) / REVOLUTIONS,
            level_db=10.0 * np.log10(_HANN_LINES * mean + 1e-20) + level_offset_db,
        )

    def _add(self, part: OrderSpectra) -> None:
        # at the edges a rounding may lead beyond the picture
        rows = np.clip(bin_of(part.rpm) // _BINS_PER_ROW, 0, _ROWS - 1)
        if self._sum is None:
            self._sum = np.zeros((_ROWS, part.mean_square.shape[1]))
        add_to_rows(self._sum, rows, part.mean_square)
        self._count += np.bincount(rows, minlength=_ROWS)
