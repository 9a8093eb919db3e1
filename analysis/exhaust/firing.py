"""How the banks of an engine pulse against each other, order by order."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray

_UNEVEN = "odd-fire V"
# By definition: an order of a bank smaller than this is a rounding of zero.
_NOTHING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """What the car file says of it; empty or None where nobody said."""

    cylinders: int
    stroke_cycle: int
    layout: str | None = None
    firing_order: tuple[int, ...] = ()
    banks: tuple[tuple[int, ...], ...] = ()

    @property
    def is_even(self) -> bool:
        """Whether the cylinders are known to fire at even distances."""
        return self.layout != _UNEVEN and bool(self.layout or self.firing_order)

    def turns_rad(self, engine_order: float | None, n_banks: int) -> FloatArray | None:
        """Phase of each bank's pulses against the first's; None where it is not known.

        Pulses at even distances add up to nothing in every order but multiples of the firing order,
        where they are all in step. So there two banks are in step, and elsewhere just against each
        other, whatever the firing order of the cylinders. More banks, or such of unlike size, are
        added up pulse by pulse.
        """
        if engine_order is None or not self.is_even:
            return None
        in_step = 2.0 * self.cylinders / self.stroke_cycle
        if abs(engine_order / in_step - round(engine_order / in_step)) < _NOTHING:
            return np.zeros(n_banks)
        if self.firing_order and len(self.banks) == n_banks:
            return self._added_up(engine_order)
        return np.array([0.0, np.pi]) if n_banks == 2 else None

    def _added_up(self, engine_order: float) -> FloatArray | None:
        cycle = np.pi * self.stroke_cycle
        when = {
            cylinder: cycle * number / self.cylinders
            for number, cylinder in enumerate(self.firing_order)
        }
        sums = np.array(
            [
                np.sum(np.exp(-1j * engine_order * np.array([when[each] for each in bank])))
                for bank in self.banks
            ]
        )
        if np.abs(sums).min() < _NOTHING * self.cylinders:
            return None
        return np.asarray(np.angle(sums / sums[0]))
