"""Guesses at the exhaust that would sound as the drive did.

Drawn within what the owner's measurements leave open, the guesses that come nearest the measured
curve are each fitted to it: a curve with noise of its own is met, and straying from the draw costs
(randomised maximum likelihood; Oliver, He and Reynolds, 1996, from memory). What the curve does not
tell stays as wide as it was drawn. Source and cabin are taken to change slowly with frequency, so a
polynomial trend is left out of the comparison.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.drive import FloatArray, IntArray
from analysis.exhaust_line import ExhaustLine, cut
from analysis.exhaust_members import Members, make_chain
from analysis.exhaust_network import outlet_flow
from analysis.network_prior import Prior

_DRAWN, _FITTED = 1200, 128
_STEPS = 8
_COARSE_M = 0.30
_TEMPER = 4.0  # how much less than its likelihood a guess's misfit counts: the model is not all
_NUDGE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """The order's level before, [shape=(n,)]; frequency and engine speed rise together.

    ``sigma_db`` is its noise, and what the model leaves out; ``trend_terms`` how many terms the
    slow trend of source and cabin may have.
    """

    frequency_hz: FloatArray
    rpm: FloatArray
    level_db: FloatArray
    sigma_db: float
    trend_terms: int

    @property
    def trend(self) -> FloatArray:
        """Even polynomials that make up any slow trend, [shape=(n, trend_terms)], orthonormal."""
        place = np.log(self.frequency_hz)
        place = 2.0 * (place - place[0]) / (place[-1] - place[0]) - 1.0
        basis = np.polynomial.legendre.legvander(place, self.trend_terms - 1)
        return np.linalg.qr(basis)[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ensemble:
    """Fitted guesses with their weights [shape=(n_members,)], which add up to one.

    ``misfit_db`` is the weighted root mean square of what is left between curve and model.
    """

    members: Members
    weight: FloatArray
    misfit_db: float


def fit_ensemble(
    line: ExhaustLine,
    heard: Heard,
    rng: np.random.Generator,
    progress: Callable[[float], None],
) -> Ensemble:
    """Draw guesses and fit them to what was heard."""
    prior = Prior(line=line)
    model = _Model(line, heard)
    drawn = rng.standard_normal((_DRAWN, prior.size))
    misfit = np.concatenate(
        [
            np.sum(model.left(prior.members(part), heard.level_db) ** 2, axis=1)
            for part in np.array_split(drawn, 8)
        ]
    )
    start = drawn[_tempered_choice(misfit, rng)]
    noise = heard.sigma_db * rng.standard_normal((_FITTED, heard.level_db.size))
    wanted = heard.level_db + noise
    fitted = start.copy()
    damping = np.full(_FITTED, 1.0)
    cost, left = _cost(model, prior, fitted, start, wanted)
    for step in range(_STEPS):
        slopes = _slopes(model, prior, fitted, left, wanted)
        moved = fitted + _newton(slopes, left, fitted - start, damping)
        moved = np.clip(moved, -4.0, 4.0)
        new_cost, new_left = _cost(model, prior, moved, start, wanted)
        better = new_cost < cost
        fitted[better], left[better], cost[better] = (
            moved[better],
            new_left[better],
            new_cost[better],
        )
        damping = np.where(better, damping / 4.0, damping * 6.0)
        progress((step + 1) / _STEPS)
    members = prior.members(fitted)
    misfit = np.sum(model.left(members, heard.level_db) ** 2, axis=1)
    weight = np.exp(-(misfit - misfit.min()) / 2.0 / _TEMPER)
    weight /= weight.sum()
    misfit_db = heard.sigma_db * float(np.sqrt(np.sum(weight * misfit) / heard.rpm.size))
    return Ensemble(members=members, weight=weight, misfit_db=misfit_db)


class _Model:
    """Level that guesses give, compared with one curve, its slow trend left out."""

    def __init__(self, line: ExhaustLine, heard: Heard) -> None:
        self._line, self._pieces, self._heard = line, cut(line, _COARSE_M), heard
        self._trend = heard.trend

    def level_db(self, members: Members) -> FloatArray:
        """[shape=(n_members, n_frequency)], with an arbitrary zero."""
        heard = self._heard
        chain = make_chain(self._line, self._pieces, members, heard.frequency_hz, heard.rpm)
        flow = outlet_flow(chain.in_single())
        return np.asarray(20.0 * np.log10(heard.frequency_hz * np.abs(flow)))

    def left(self, members: Members, wanted_db: FloatArray) -> FloatArray:
        """Give what the model leaves, over sigma."""
        rest = wanted_db - self.level_db(members)
        rest = rest - (rest @ self._trend) @ self._trend.T
        return np.asarray(rest / self._heard.sigma_db)


def _tempered_choice(misfit: FloatArray, rng: np.random.Generator) -> IntArray:
    """Numbers of the drawn guesses to fit, likelier the nearer, none twice."""
    likely = -(misfit - misfit.min()) / 2.0 / (2.0 * _TEMPER)
    luck = rng.gumbel(size=misfit.size)
    return np.asarray(np.argsort(-(likely + luck))[:_FITTED], dtype=np.int64)


def _cost(
    model: _Model, prior: Prior, at: FloatArray, start: FloatArray, wanted: FloatArray
) -> tuple[FloatArray, FloatArray]:
    left = model.left(prior.members(at), wanted)
    return np.sum(left**2, axis=1) + np.sum((at - start) ** 2, axis=1), left


def _slopes(
    model: _Model, prior: Prior, at: FloatArray, left: FloatArray, wanted: FloatArray
) -> FloatArray:
    """[shape=(n_members, n_frequency, n_coordinates)] of the level, over sigma."""
    slopes = np.empty((*left.shape, at.shape[1]))
    for index in range(at.shape[1]):
        moved = at.copy()
        moved[:, index] += _NUDGE
        slopes[..., index] = (left - model.left(prior.members(moved), wanted)) / _NUDGE
    return slopes


def _newton(
    slopes: FloatArray, left: FloatArray, strayed: FloatArray, damping: FloatArray
) -> FloatArray:
    turned = np.swapaxes(slopes, 1, 2)
    curvature = turned @ slopes
    curvature += (1.0 + damping)[:, None, None] * np.eye(slopes.shape[2])
    downhill = (turned @ left[..., None])[..., 0] - strayed
    return np.asarray(np.linalg.solve(curvature, downhill[..., None])[..., 0])
