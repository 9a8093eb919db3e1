"""Shape of a closed branch, a plain tube or a can on a neck, and where it resonates.

A can on a neck is tuned as low as a plain branch of twice its length: the gas in the neck moves
against the spring of the gas in the can. With phases ``a`` along the neck and ``b`` along the can,
and ``m`` the can's area over the neck's, the admittance of the mouth is

    (tanh a + m tanh b) / (1 + m tanh a tanh b)

in units of the neck's own, which is ``tanh (a + b)`` for m = 1, a plain tube, and Helmholtz's
resonator where both are short. Source: Munjal, Acoustics of Ducts and Mufflers (1987), ch. 2, two
tubes in a row; equation number not quoted: from memory.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.acoustics import duct
from analysis.acoustics.end_correction import junction_correction_m, widening_correction_m
from analysis.acoustics.gas import Gas, exhaust_gas
from analysis.basics.arrays import ComplexArray
from analysis.branches import Can, Tube

# of the plain tube's frequency; judgement: only where the search begins, moves no answer
_LOWEST_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchShape:
    """Bore at the mouth, length added there by the junction, and the can if there is one.

    Lengths called acoustic are the branch's length, as in :class:`analysis.branches.Branch`, and
    ``junction_m`` together.
    """

    bore_m: float
    junction_m: float
    can: Can | None = None

    @property
    def area_ratio(self) -> float:
        """Can's cross-section over the neck's; 1 for a plain tube."""
        return 1.0 if self.can is None else (self.can.tube.inner_diameter_m / self.bore_m) ** 2

    def tangent(self, frequency_hz: ArrayLike, gas: Gas, acoustic_m: ArrayLike) -> ComplexArray:
        """Input admittance in units of the mouth's own ``S / (rho c)``; arguments broadcast."""
        per_m = duct.propagation_per_m(frequency_hz, gas, self.bore_m)
        if self.can is None:
            return np.asarray(np.tanh(per_m * np.asarray(acoustic_m)))
        can_per_m = duct.propagation_per_m(frequency_hz, gas, self.can.tube.inner_diameter_m)
        neck = np.tanh(per_m * self.neck_m)
        behind = self.area_ratio * np.tanh(can_per_m * self.can_m(acoustic_m))
        return np.asarray((neck + behind) / (1.0 + neck * behind))

    @property
    def neck_m(self) -> float:
        """Acoustic length of the neck; zero without a can."""
        if self.can is None:
            return 0.0
        wide_m = self.can.tube.inner_diameter_m
        fans_m = float(widening_correction_m(self.bore_m, wide_m))
        return self.can.neck_m + self.junction_m + fans_m

    def can_m(self, acoustic_m: ArrayLike) -> np.ndarray:
        """Length of the can behind the neck."""
        neck_m = 0.0 if self.can is None else self.can.neck_m
        return np.asarray(acoustic_m) - self.junction_m - neck_m

    def tuned_hz(
        self, acoustic_m: float, temperature_k: float, neck_hotter_k: float = 0.0
    ) -> float:
        """Lowest frequency at which it shorts the pipe, with gas of this temperature.

        The gas in the neck of a can may be hotter than that.
        """
        gas, in_neck = exhaust_gas(temperature_k), exhaust_gas(temperature_k + neck_hotter_k)
        plain_hz = float(duct.quarter_wave_hz(acoustic_m, gas, self.bore_m))
        if self.can is None:
            return plain_hz
        neck_m, can_m = self.neck_m, float(self.can_m(acoustic_m))
        wide_m = self.can.tube.inner_diameter_m
        ratio = self.area_ratio * float(in_neck.rho_c / gas.rho_c)

        def short_of_resonance(hz: float) -> float:
            neck = neck_m * duct.propagation_per_m(hz, in_neck, self.bore_m).imag
            can = can_m * duct.propagation_per_m(hz, gas, wide_m).imag
            # a phase, because the can's tangent jumps at a quarter of a wave and a phase does not
            return float(neck + np.arctan2(ratio * np.sin(can), np.cos(can)) - np.pi / 2.0)

        from scipy.optimize import brentq  # late: it takes 16 MB, and only a can needs it

        # a can tunes lower than plain tube as long; a neck in hotter gas, a little higher
        highest_hz = 1.2 * plain_hz * float(in_neck.speed_of_sound_m_s / gas.speed_of_sound_m_s)
        return float(brentq(short_of_resonance, _LOWEST_SHARE * plain_hz, highest_hz))

    def acoustic_m(self, tuned_hz: float, temperature_k: float) -> float:
        """Acoustic length that is tuned to this frequency; the neck alone where no can is left."""
        gas = exhaust_gas(temperature_k)
        if self.can is None:
            return float(duct.quarter_wave_length_m(tuned_hz, gas, self.bore_m))
        neck = self.neck_m * duct.propagation_per_m(tuned_hz, gas, self.bore_m).imag
        per_m = duct.propagation_per_m(tuned_hz, gas, self.can.tube.inner_diameter_m).imag
        left = np.arctan(1.0 / (self.area_ratio * np.tan(neck))) if neck < np.pi / 2.0 else 0.0
        return self.junction_m + self.can.neck_m + float(left / per_m)


def shape_on(tube: Tube, can: Can | None, pipe_bore_m: float) -> BranchShape:
    """Shape of a branch of this tube on a pipe.

    Raises
    ------
    SizingError
        The tube is wider than the pipe.
    """
    bore_m = tube.inner_diameter_m
    return BranchShape(
        bore_m=bore_m, junction_m=junction_correction_m(bore_m, pipe_bore_m), can=can
    )
