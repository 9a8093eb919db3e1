"""The two kinds of array: measured values, and samples as sound systems give them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Samples = NDArray[np.float32]
