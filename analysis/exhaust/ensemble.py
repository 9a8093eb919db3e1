"""Guesses at the exhaust that would sound as the drive did.

Drawn within what the owner's measurements leave open, the guesses that come nearest the measured
curve are each fitted to it (see :mod:`analysis.exhaust.fitting`). What the curve does not tell
stays as wide as it was drawn. Source and cabin are taken to change slowly with frequency, so a
polynomial trend is left out of the comparison.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.acoustics.network import heard as heard_flow
from analysis.basics.arrays import FloatArray
from analysis.exhaust.fitting import meet, tempered_choice, tempered_weight
from analysis.exhaust.guesses import Members, make_network
from analysis.exhaust.layout import lay_out
from analysis.exhaust.line import ExhaustLine, cut
from analysis.exhaust.prior import Prior

# judgement: guesses drawn, fitted, and steps of each fit: fewer are quicker and tell the ranges
# more coarsely. 20 % more of any, which also draws other guesses, moves a length by 16 to 26 mm and
# the outlook by 0.5 to 0.8 dB, on a cure that is flat about its best.
_DRAWN, _FITTED, _STEPS = 1200, 128, 8
# judgement: pieces of even gas; 20 % more moves a length by 6 mm, the outlook by 0.1 dB.
COARSE_M = 0.30
# guesses, so that they stay in the processor's cache; judgement: moves no answer
_AT_ONCE = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredCurve:
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

    def on_trend(self, level_db: FloatArray) -> FloatArray:
        """Put levels [shape=(n_members, n)] on the slow trends that bring them nearest to this."""
        trend = self.trend
        return np.asarray(level_db + ((self.level_db - level_db) @ trend) @ trend.T)


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
    engine_order: float | None,
    heard: MeasuredCurve,
    rng: np.random.Generator,
    progress: Callable[[float], None],
) -> Ensemble:
    """Draw guesses and fit them to what was heard."""
    prior = Prior(line=line, engine_order=engine_order)
    model = _Model(prior, heard)
    drawn = rng.standard_normal((_DRAWN, prior.size))
    misfit = np.sum(model.left(drawn, heard.level_db) ** 2, axis=1)
    start = drawn[tempered_choice(misfit, prior.kinds(drawn), _FITTED, rng)]
    # each guess meets its own noisy copy, or all would end in one point and the range be too narrow
    noise = heard.sigma_db * rng.standard_normal((_FITTED, heard.level_db.size))
    fitted = meet(model.left, start, heard.level_db + noise, _STEPS, prior.choices, progress)
    misfit = np.sum(model.left(fitted, heard.level_db) ** 2, axis=1)
    weight = tempered_weight(misfit)
    misfit_db = heard.sigma_db * float(np.sqrt(np.sum(weight * misfit) / heard.rpm.size))
    return Ensemble(members=prior.members(fitted), weight=weight, misfit_db=misfit_db)


class _Model:
    """Level that guesses give, compared with one curve, its slow trend left out."""

    def __init__(self, prior: Prior, heard: MeasuredCurve) -> None:
        self._prior, self._heard = prior, heard
        self._layout = lay_out(prior.line, cut(prior.line, COARSE_M))
        self._trend = heard.trend

    def level_db(self, at: FloatArray) -> FloatArray:
        """[shape=(n_guesses, n_frequency)], with an arbitrary zero."""
        heard, levels_db = self._heard, np.empty((at.shape[0], self._heard.rpm.size))
        for start in range(0, at.shape[0], _AT_ONCE):
            few = slice(start, start + _AT_ONCE)
            parts = (self._prior.line, self._layout, self._prior.members(at[few]))
            flow = heard_flow(make_network(*parts, heard.frequency_hz, heard.rpm))
            levels_db[few] = 20.0 * np.log10(heard.frequency_hz * np.abs(flow))
        return levels_db

    def left(self, at: FloatArray, wanted_db: FloatArray) -> FloatArray:
        """Give what guesses at these coordinates leave, over sigma."""
        rest = wanted_db - self.level_db(at)
        rest = rest - (rest @ self._trend) @ self._trend.T
        return np.asarray(rest / self._heard.sigma_db)
