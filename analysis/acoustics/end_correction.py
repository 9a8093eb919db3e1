"""How much longer a side branch sounds than it is, at its junction with the pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import ArrayLike

from analysis.basics.arrays import FloatArray
from analysis.errors import SizingError
from analysis.words.lengths import diameter

# How much shorter the pipe sounds on each side of a branch as wide as it, over the branch's radius:
# our finite elements of two tees 100 mm apart; half of the 0.29 of Lefebvre and Scavone (2012) for
# a long closed side hole, to 1 %. Moves a length by 2 mm at most.
_TEE = 0.1433
# judgement: bores that differ by less are one: so a width is rounded in files and by a rule
SAME_BORE_M = 1e-4
# mass of a sudden widening, over the narrower radius: Karal, JASA 25 (1953) 327, from memory
_KARAL = 8.0 / (3.0 * np.pi)


def junction_correction_m(branch_bore_m: float, pipe_bore_m: float) -> float:
    """Length to add to a closed round branch at right angles to a round pipe.

    The length it is added to starts at the plane that touches the pipe's *inner* wall at its
    crown. The hole is as large as the branch's bore, nothing sticks into the pipe, and the gas is
    at rest: grazing flow takes away up to all of it (Anderson, J. Sound Vib. 52, 1977), which
    raises the tuned frequency by at most 1.2 %.

    Source: Ji, J. Sound Vib. 283 (2005) 1180 (coefficients from memory; checked in the tests
    against finite elements and against the tone-hole formula of Lefebvre and Scavone, 2012).

    Raises
    ------
    SizingError
        The branch is wider than the pipe by more than rounding, or a bore is not positive.
    """
    if not 0.0 < branch_bore_m <= pipe_bore_m + SAME_BORE_M:
        raise SizingError(
            f"the branch's inner diameter of {diameter(branch_bore_m)} must be above zero and no "
            f"larger than the pipe's, {diameter(pipe_bore_m)}; choose a smaller tube"
        )
    ratio = branch_bore_m / pipe_bore_m
    if ratio <= 0.4:
        per_radius = 0.8216 - 0.0644 * ratio - 0.694 * ratio**2
    else:
        per_radius = 0.9326 - 0.6196 * ratio
    return per_radius * branch_bore_m / 2.0


def tee_shortening_m(branch_bore_m: float, pipe_bore_m: float) -> float:
    """Length by which the pipe's mass of gas is less on each side of a branch's axis.

    Wave fronts bulge into the mouth, so the gas there moves on a wider way. It goes with the square
    of the ratio of the bores, as the series length of a closed side hole does.

    Source: Lefebvre and Scavone, J. Acoust. Soc. Am. 131 (2012) 3153, for the form.
    """
    return _TEE * branch_bore_m / 2.0 * (branch_bore_m / pipe_bore_m) ** 2


def widening_correction_m(narrow_bore_m: ArrayLike, wide_bore_m: ArrayLike) -> FloatArray:
    """Length to add to the narrower of two tubes in a row, for the flow that fans out. Any shapes.

    Source: Karal (1953) at its low-frequency limit, 8/(3 pi) a (1 - 1.25 ratio), from memory.
    """
    narrow_m = np.asarray(narrow_bore_m, dtype=np.float64)
    ratio = narrow_m / np.asarray(wide_bore_m)
    return np.asarray(_KARAL * narrow_m / 2.0 * np.maximum(1.0 - 1.25 * ratio, 0.0))
