"""What an engine's level does of its own, without any resonance.

Engines have levels of their own that rise and fall by a decibel or three over a few percent of
engine speed, alike from sweep to sweep. So bins near each other err together (a Gaussian process;
Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, eq. 4.17).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray

# judgement: its standard deviation and over how much of ln f it keeps its sign; measured on
# recorded engines, 0.5 to 2 dB
OWN_DB = (0.1, 0.5, 2.0)
_OWN_LENGTH = 0.06
_USUAL_DB = 1.0  # judgement: half-way between 0.5 and 2, as a ratio


def alike(apart: FloatArray) -> FloatArray:
    """Correlation of the engine's own level at places so far apart in ln f (Matern, order 3/2)."""
    scaled = np.sqrt(3.0) * np.abs(apart) / _OWN_LENGTH
    return np.asarray((1.0 + scaled) * np.exp(-scaled))


def usual_step_db(apart: float) -> float:
    """Give the usual change of an engine's own level over so much of ln f, as one sigma."""
    return float(_USUAL_DB * np.sqrt(2.0 - 2.0 * alike(np.array(apart))))
