"""What an engine's level does of its own, without any resonance.

Engines have levels of their own that rise and fall by a decibel or three over a few percent of
engine speed, alike from sweep to sweep. So bins near each other err together (a Gaussian process;
Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, eq. 4.17).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray

# judgement: its standard deviation and over how much of ln f it keeps its sign; recorded engines
# have 1 to 3 dB, one whose cylinders are alike has next to none
OWN_DB = (0.1, 0.25, 0.6, 1.5, 3.5)
_OWN_LENGTH = 0.06
_USUAL_DB = 1.0  # judgement: half-way between 0.5 and 2, as a ratio
# judgement: before a drive's own hills are counted, two are taken for seen, so many of each
_BEFOREHAND = np.array([0.2, 0.2, 0.4, 0.8, 0.4])
_ROUNDS = 30  # judgement: of expectation and maximisation; they settle within ten


def alike(apart: FloatArray) -> FloatArray:
    """Correlation of the engine's own level at places so far apart in ln f (Matern, order 3/2)."""
    scaled = np.sqrt(3.0) * np.abs(apart) / _OWN_LENGTH
    return np.asarray((1.0 + scaled) * np.exp(-scaled))


def usual_step_db(apart: float) -> float:
    """Give the usual change of an engine's own level over so much of ln f, as one sigma."""
    return float(_USUAL_DB * np.sqrt(2.0 - 2.0 * alike(np.array(apart))))


def in_drive(log_likelihood: FloatArray) -> FloatArray:
    """How often each of ``OWN_DB`` occurs among the hills of one drive [shape=(n_own,)].

    ``log_likelihood`` [shape=(n_hills, n_own)]. One hill hardly tells how much its engine does of
    its own, for the mode fitted to it takes most of that; all of a drive tell it together
    (empirical Bayes by expectation and maximisation; Dempster, Laird & Rubin, J. R. Stat. Soc. B
    39, 1977, 1).
    """
    share = _BEFOREHAND / _BEFOREHAND.sum()
    for _ in range(_ROUNDS):
        seen = chances(log_likelihood, share).sum(axis=0) + _BEFOREHAND
        share = seen / seen.sum()
    return np.asarray(share)


def chances(log_likelihood: FloatArray, share: FloatArray) -> FloatArray:
    """Chance of each of ``OWN_DB`` for one hill, when a drive has them so often; same shape."""
    log = log_likelihood + np.log(share)
    chance = np.exp(log - log.max(axis=-1, keepdims=True))
    return np.asarray(chance / chance.sum(axis=-1, keepdims=True))
