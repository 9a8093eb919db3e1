"""One branch by itself, as every guess has it: what flow it takes for the pressure at its mouth.

Arrays broadcast as (member, frequency).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from analysis.acoustics import duct
from analysis.acoustics.end_correction import junction_correction_m, widening_correction_m
from analysis.acoustics.gas import Gas, exhaust_gas
from analysis.acoustics.two_port import AnyComplexArray, exponential
from analysis.basics.arrays import FloatArray
from analysis.branches import Can

# Branches kept; judgement: memory against time, moves no answer.
_KEPT = 128

_Tube: TypeAlias = tuple[AnyComplexArray, AnyComplexArray]


class BranchInGas:
    """Branches of one bore, with this can or none, of any length, all in the same gas.

    Parameters
    ----------
    bore_m, can : how it is built
    frequency_hz : [shape=(n_frequency,)]
    branch_k, neck_k : gas in the branch; in the neck of a can, [shape=(n_members,)]
    swept : share of the junction's correction that the stream takes away, [shape=(n_members,)]
    precision : of all that is worked out
    """

    def __init__(
        self,
        bore_m: float,
        can: Can | None,
        *,
        frequency_hz: FloatArray,
        branch_k: FloatArray,
        neck_k: FloatArray,
        swept: FloatArray,
        precision: np.dtype[np.floating[Any]],
    ) -> None:
        self._bore_m, self._can = bore_m, can
        self._frequency_hz, self._swept, self._precision = frequency_hz, swept, precision
        gas = at_mouth = exhaust_gas(branch_k)
        if can is not None:
            at_mouth = exhaust_gas(neck_k)
            self._in_can_per_m = self._twice_per_m(gas, can.tube.inner_diameter_m)
            ratio = (can.tube.inner_diameter_m / bore_m) ** 2 * at_mouth.rho_c / gas.rho_c
            self._area_ratio = ratio[:, None].astype(precision)
        self._per_m = self._twice_per_m(at_mouth, bore_m)
        characteristic = np.pi / 4.0 * bore_m**2 / at_mouth.rho_c
        self._characteristic = characteristic[:, None].astype(precision)
        # one length on one bore is one tube, wherever it stands
        self._behind = lru_cache(maxsize=_KEPT)(self._behind_mouth)

    def admittance(
        self, mouth_resistance: NDArray[np.floating[Any]], pipe_bore_m: float, length_m: float
    ) -> AnyComplexArray:
        """Input admittance, m3/(Pa s), behind a resistance over rho c, [(member, frequency)]."""
        taken, back, forth = self._behind(pipe_bore_m, length_m)
        met = mouth_resistance * back
        met += forth
        return np.asarray(np.divide(taken, met, out=met))

    def _twice_per_m(self, gas: Gas, bore_m: float) -> AnyComplexArray:
        per_m = duct.propagation_per_m(self._frequency_hz, gas.spread(), bore_m)
        return (-2.0 * per_m).astype(np.result_type(self._precision, np.complex64))

    def _behind_mouth(self, pipe_bore_m: float, length_m: float) -> tuple[AnyComplexArray, ...]:
        back, forth = self._tubes(pipe_bore_m, length_m)
        return self._characteristic * back, back, forth

    def _tubes(self, pipe_bore_m: float, length_m: float) -> _Tube:
        longer_m = junction_correction_m(self._bore_m, pipe_bore_m) * (1.0 - self._swept)
        can = self._can
        if can is None:
            return self._closed_tube(self._per_m, length_m + longer_m)
        wide_m = can.tube.inner_diameter_m
        neck_m = can.neck_m + longer_m + widening_correction_m(self._bore_m, wide_m)
        neck = self._closed_tube(self._per_m, neck_m)
        behind = self._closed_tube(self._in_can_per_m, np.array([length_m - can.neck_m]))
        # a neck and a can behind it together, as one tube: see branch_shape
        return (
            neck[0] * behind[1] + self._area_ratio * behind[0] * neck[1],
            neck[1] * behind[1] + self._area_ratio * neck[0] * behind[0],
        )

    def _closed_tube(self, twice_per_m: AnyComplexArray, length_m: FloatArray) -> _Tube:
        """Sine and cosine of a closed tube, hyperbolic, over what both grow by."""
        # tanh as a quotient of these, and the quotient only after all is multiplied: fewer
        # divisions
        there_and_back = exponential(twice_per_m * length_m[:, None].astype(self._precision))
        return 1.0 - there_and_back, 1.0 + there_and_back
