"""One hill's resonance: a mode over a straight line, beside what else the engine's level does.

The misfit is taken as correlated over frequency (:mod:`analysis.find.bands.own_level`). How large
the engine's own level is, the hills of a drive tell (Rasmussen & Williams, Gaussian Processes for
Machine Learning, 2006, eq. 5.8).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from analysis.basics.arrays import FloatArray
from analysis.basics.rows import rows
from analysis.find.bands.hills import Hill
from analysis.find.bands.least_squares import Block, huber_cost, minimise
from analysis.find.bands.own_level import OWN_DB, alike
from analysis.find.bands.resonance_model import (
    CurveData,
    ResonanceFit,
    level_and_slopes,
    trend_basis,
)

# judgement: how far around a hill is looked, in ln f to either side of its top
_WINDOW = (0.06, 0.5)
_BESIDE = 1.25  # of the hill's body
# judgement: the mode takes part of the engine's own level into itself, the more the larger that is:
# for each of ``OWN_DB``, what it then may have been. Measured on made-up drives (the first two), on
# roads, and with resonances of known frequency put into the sound of recorded engines (the last)
_MAY_BE_DB = (0.15, 0.3, 1.2, 6.0, 15.0)
# judgement: prior scales, and middle and scale of ln gain
_SLOPE_DB = 10.0  # of the line from the middle of the window to its end
_NEAR = 0.4  # of the hill's width: how far the mode lies beside the top
_WIDTH_LOG = 0.8
_GAIN_LOG = (0.5, 1.5)
_ANGLE_RAD = 0.25  # more, and what else the level does beside a hill makes the mode lean
_WIDTHS = (0.02, 0.6)  # judgement: narrower is chance, wider a trend
_FARTHEST = 1.5  # of the hill's width; judgement: beyond it the mode stands on another hill
# judgement: a chance that is not worth a fit; each moves the mean by less than such a part of what
# the fits differ
_UNLIKELY = 0.02
_HUBER = 2.5  # judgement: misfits beyond so many sigma pull with constant force


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeEstimate:
    """What is said of a mode: ln f0, ln width and angle [shape=(3,)], and their covariance."""

    mean: FloatArray
    covariance: FloatArray

    @property
    def sigma(self) -> FloatArray:
        """Standard errors."""
        return np.sqrt(np.diag(self.covariance))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One hill's fits, one for each of ``OWN_DB`` that was tried.

    ``parameters`` [shape=(n_own, n)] and ``covariance`` [shape=(n_own, n, n)], zero where not
    tried; ``log_likelihood`` [shape=(n_own,)], minus infinity there.
    """

    parameters: FloatArray
    covariance: FloatArray
    log_likelihood: FloatArray
    reference_hz: tuple[float, float]

    def fit(self, chance: FloatArray) -> ResonanceFit:
        """Average over how much of its own the engine does, by its chances [shape=(n_own,)]."""
        mean = chance @ self.parameters
        covariance = np.einsum("i,ijk->jk", chance, self.covariance)
        apart = self.parameters - mean
        covariance += np.einsum("i,ij,ik->jk", chance, apart, apart)
        return ResonanceFit(
            trend=mean[:TREND_TERMS],
            modes=mean[TREND_TERMS:],
            covariance=covariance[TREND_TERMS:, TREND_TERMS:],
            reference_hz=self.reference_hz,
        )


def tried(
    data: CurveData, hill: Hill, hint: ModeEstimate | None = None, chance: FloatArray | None = None
) -> Tried:
    """Fit the curve around a hill; the trend of what is given back is the line under the mode.

    With ``chance`` [shape=(n_own,)] only for what is likely.
    """
    top = np.log(hill.top_hz)
    below, above = np.clip(_BESIDE * np.abs(np.log(hill.foot_hz) - top), *_WINDOW)
    log_f = np.log(data.frequency_hz)
    near = rows(data, (log_f > top - below) & (log_f < top + above))
    local = _Local.of(near, hill, hint)
    likely = np.arange(len(OWN_DB)) if chance is None else np.flatnonzero(chance > _UNLIKELY)
    count = local.start.size
    parameters, covariance = np.zeros((len(OWN_DB), count)), np.zeros((len(OWN_DB), count, count))
    log_likelihood = np.full(len(OWN_DB), -np.inf)
    for index in likely:
        parameters[index], covariance[index], log_likelihood[index] = local.solved(
            OWN_DB[index], _MAY_BE_DB[index]
        )
    return Tried(
        parameters=parameters,
        covariance=covariance,
        log_likelihood=log_likelihood,
        reference_hz=near.reference_hz,
    )


def fit_hill(
    data: CurveData, hill: Hill, hint: ModeEstimate | None, chance: FloatArray
) -> ResonanceFit:
    """Fit a hill whose engine does of its own what ``chance`` [shape=(n_own,)] says."""
    likely = np.where(chance > _UNLIKELY, chance, 0.0)
    return tried(data, hill, hint, chance).fit(likely / likely.sum())


def mode_of(fit: ResonanceFit) -> ModeEstimate:
    """Take what is shared by orders from a fit's first mode."""
    shared = list(_SHARED)
    return ModeEstimate(mean=fit.first[shared], covariance=fit.covariance[np.ix_(shared, shared)])


TREND_TERMS = 2  # a definition: the line under a hill, a level and a slope
_SHARED = (0, 1, 3)  # a definition: places of ln f0, ln width and angle among a mode's terms


@dataclass(frozen=True, slots=True, kw_only=True)
class _Local:
    """One order's bins around a hill: what is fitted, from where, and what is thought before.

    Parameters are those of the line, then ln f0, ln width, ln gain and angle of the mode.
    """

    data: CurveData
    basis: FloatArray
    measured_db: FloatArray
    share: FloatArray  # of the total that is not noise: only that moves with the engine
    start: FloatArray
    limits: tuple[FloatArray, FloatArray]
    weight: FloatArray  # of the priors' departures [shape=(n_departures, n_parameters)]
    usual: FloatArray  # where they are none [shape=(n_departures,)]

    @classmethod
    def of(cls, data: CurveData, hill: Hill, hint: ModeEstimate | None) -> Self:
        net = np.maximum(data.total_ms - data.background_ms, 0.1 * data.total_ms)
        log_gain = np.log(10.0 ** (np.clip(hill.prominence_db, 3.0, 25.0) / 20.0) - 1.0)
        base_db = float(np.percentile(10.0 * np.log10(net), 20))
        top, width = np.log(hill.top_hz), np.log(np.clip(0.8 * hill.width, *_WIDTHS))
        usual = np.array([base_db, 0.0, top, width, _GAIN_LOG[0], 0.0])
        near = _NEAR * hill.width
        scale = np.array([np.inf, _SLOPE_DB, near, _WIDTH_LOG, _GAIN_LOG[1], _ANGLE_RAD])
        reach = _FARTHEST * hill.width
        low = np.array([-300.0, -100.0, top - reach, np.log(_WIDTHS[0]), -3.0, -1.5])
        high = np.array([300.0, 100.0, top + reach, np.log(_WIDTHS[1]), 3.0, 1.5])
        weight, departed = np.diag(1.0 / scale), usual / scale
        start = usual.copy()
        start[4] = log_gain
        if hint is not None:
            # what the other orders say is one more prior, tied together by its covariance
            shared = TREND_TERMS + np.array(_SHARED)
            start[shared] = hint.mean
            more = np.zeros((len(_SHARED), usual.size))
            more[:, shared] = cholesky(np.linalg.inv(hint.covariance))
            weight = np.concatenate([weight, more])
            departed = np.concatenate([departed, more[:, shared] @ hint.mean])
        return cls(
            data=data,
            basis=trend_basis(data.frequency_hz, data.reference_hz, TREND_TERMS),
            measured_db=10.0 * np.log10(data.total_ms),
            share=net / data.total_ms,
            start=start,
            limits=(low, high),
            weight=weight,
            usual=departed,
        )

    def solved(self, own_db: float, may_be_db: float) -> tuple[FloatArray, FloatArray, float]:
        """Fit with so much of the engine's own: parameters, covariance and log likelihood of all.

        The covariance is that of an engine which does ``may_be_db`` of its own.
        """
        own, noise = self._own(), np.diag(self.data.sigma_db**2)
        root = np.asarray(cholesky(own_db**2 * own + noise, lower=True))
        columns = np.arange(self.start.size)
        prior = Block(columns=columns, slopes=self.weight)

        def model(parameters: FloatArray) -> tuple[FloatArray, Sequence[Block]]:
            residual, slopes = self._misfit(parameters, root)
            departure = self.weight @ parameters - self.usual
            data = Block(columns=columns, slopes=slopes)
            return np.concatenate([residual, departure]), [data, prior]

        found = minimise(model, self.start, self.limits, _HUBER)
        residual, slopes = self._misfit(found, root)
        departure = self.weight @ found - self.usual
        information = slopes.T @ slopes + self.weight.T @ self.weight
        cost = float(huber_cost(residual, _HUBER).sum() + np.square(departure).sum())
        volume = float(np.log(np.diag(root)).sum())
        volume += 0.5 * float(np.linalg.slogdet(information)[1])
        covariance = _sandwich(information, slopes, root, (may_be_db**2 - own_db**2) * own)
        return found, covariance, -0.5 * cost - volume

    def _own(self) -> FloatArray:
        """Covariance of 1 dB of the engine's own level."""
        log_f = np.log(self.data.frequency_hz)
        near = alike(log_f[:, np.newaxis] - log_f)
        return np.asarray(near * np.outer(self.share, self.share))

    def _misfit(self, parameters: FloatArray, root: FloatArray) -> tuple[FloatArray, FloatArray]:
        line, mode = np.split(parameters, [TREND_TERMS])
        level_db, share, slopes = level_and_slopes(self.basis @ line, mode, self.data)
        whole = share[:, np.newaxis] * np.concatenate([self.basis, slopes], axis=1)
        both = np.concatenate([(level_db - self.measured_db)[:, np.newaxis], whole], axis=1)
        white = solve_triangular(root, both, lower=True, check_finite=False)
        return white[:, 0], white[:, 1:]


def _sandwich(
    information: FloatArray, slopes: FloatArray, root: FloatArray, more: FloatArray
) -> FloatArray:
    """Covariance of the parameters when the misfit has ``more`` of its own than was fitted with."""
    inverse = np.linalg.pinv(information, hermitian=True)
    half = solve_triangular(root, more, lower=True, check_finite=False)
    white = solve_triangular(root, half.T, lower=True, check_finite=False)
    pull = slopes @ inverse
    # the fit answers for the misfit it was told of; this is what the rest would move it by
    return np.asarray(inverse + pull.T @ white @ pull, dtype=np.float64)
