"""The arrays that everything is computed with; shapes stand in the docstrings."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
ComplexArray = NDArray[np.complex128]
