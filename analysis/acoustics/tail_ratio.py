"""The drone in the cabin over the same drone at the tail: where it does not come out of the pipe.

Where all comes out of the tail, the ratio of both is slow over frequency, but for a mode of the
cabin: delay, distance and gain of two microphones. What comes another way has no resonance of the
pipe in it, so the ratio then moves against the pipe's. Level and gain of the microphone at the tail
need not be known.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analysis.basics.arrays import ComplexArray, FloatArray
from analysis.basics.rows import in_pairs

# judgement: of the slow factor: even, tilted, bent. More would explain the other way away.
_TERMS = 3
# judgement: what a cabin adds to a ratio beyond that and one mode, over its size: 1.7 dB
_ROUGH = 0.2
# judgement: two recorders laid on one another by their sound, and 10 m of air; and by how much the
# delay that a plain ratio would have may be off, where not all comes from the tail
_LATEST_S, _LATER_S = 0.05, 0.006
_STEP_S = 0.0005  # judgement: a twentieth of a period of the fastest order; moves no answer
_RIDGE = 1e-6  # keeps a solve from failing; judgement: moves no answer


def slow_terms(frequency_hz: FloatArray, count: int) -> FloatArray:
    """Even, tilted, bent: Legendre polynomials of rising log frequency, [(n_frequency, count)]."""
    place = np.log(frequency_hz)
    place = 2.0 * (place - place[0]) / (place[-1] - place[0]) - 1.0
    return np.polynomial.legendre.legvander(place, count - 1)


@dataclass(frozen=True, kw_only=True)
class TailRatio:
    """Cabin over tail, up to a slow factor; ``sigma`` is the noise of its parts over its size.

    Arrays [shape=(n_frequency,)].
    """

    frequency_hz: FloatArray
    ratio: ComplexArray
    sigma: FloatArray
    rough: float = _ROUGH

    @cached_property
    def off(self) -> FloatArray:
        """How far it may be off, over its size: noise, and a cabin that is not as smooth."""
        return np.hypot(self.sigma, self.rough)

    def in_pairs(self) -> TailRatio:
        """Give the mean of each two neighbours, which is off by as much less."""
        return TailRatio(
            frequency_hz=in_pairs(self.frequency_hz),
            ratio=in_pairs(self.ratio),
            sigma=in_pairs(self.sigma) / np.sqrt(2.0),
            rough=self.rough / np.sqrt(2.0),
        )

    @cached_property
    def _terms(self) -> FloatArray:
        """Slow factors, [shape=(n_frequency, _TERMS)]."""
        return slow_terms(self.frequency_hz, _TERMS)

    @cached_property
    def late_s(self) -> float:
        """How late the cabin hears it, as if all came out of the tail."""
        tried_s = np.arange(-_LATEST_S, _LATEST_S, _STEP_S)
        plain = np.ones((tried_s.size, self.frequency_hz.size))
        missed = self._missed(self._turned(tried_s) * plain, self.ratio)
        return float(tried_s[np.sum(np.abs(missed) ** 2, axis=1).argmin()])

    def _turned(self, late_s: FloatArray) -> ComplexArray:
        return np.asarray(np.exp(-2j * np.pi * late_s[:, None] * self.frequency_hz))

    def residual(self, way: ComplexArray, later: FloatArray, ratio: ComplexArray) -> FloatArray:
        """Say what guesses leave of a ratio, over its deviation.

        ``way`` is what each makes of the tail's sound on its way into the cabin, [shape=(n_members,
        n_frequency)], ``later`` a standard normal of each for the delay between the microphones.
        Gives real and imaginary parts, [shape=(n_members, 2 * n_frequency)].
        """
        turned = self._turned(self.late_s + _LATER_S * later)
        missed = self._missed(turned * way, ratio)
        return np.concatenate([missed.real, missed.imag], axis=1)

    def beside(
        self, way: ComplexArray, other: ComplexArray, later: FloatArray, drone_hz: float
    ) -> ComplexArray:
        """Say how much of ``other`` beside the tail's sound meets the ratio best, [(n_members,)].

        ``other`` is what comes another way over what comes from the outlet, up to this factor;
        ``way`` what the cabin makes of both. Arrays as in `residual`.
        """
        turned = self._turned(self.late_s + _LATER_S * later) * way
        terms = np.concatenate(
            [turned[..., None] * self._terms, (turned * other)[..., None]], axis=2
        )
        best = self._best(terms, self.ratio)[..., 0]
        at = int(np.abs(self.frequency_hz - drone_hz).argmin())
        through = best[:, :-1] @ self._terms[at]
        return np.asarray(best[:, -1] / np.where(through == 0.0, np.inf, through))

    def _missed(self, way: ComplexArray, ratio: ComplexArray) -> ComplexArray:
        """Say what the best slow factor leaves, over its deviation, [shape=(n_members, n)]."""
        terms = way[..., None] * self._terms
        best = self._best(terms, ratio)
        return np.asarray(self._per * (ratio - (terms @ best)[..., 0]))

    @property
    def _per(self) -> FloatArray:
        return np.asarray(1.0 / (self.off * np.abs(self.ratio)))

    def _best(self, terms: ComplexArray, ratio: ComplexArray) -> ComplexArray:
        """Least squares, [shape=(n_members, n_terms, 1)]."""
        terms = self._per[:, None] * terms
        wanted = np.broadcast_to(self._per * ratio, terms.shape[:2])
        turned = np.conj(np.swapaxes(terms, 1, 2))
        square = turned @ terms
        size = np.einsum("mii->m", square).real[:, None, None]
        square = square + _RIDGE * size * np.eye(terms.shape[2])
        return np.asarray(np.linalg.solve(square, turned @ wanted[..., None]))

    def noisy(self, count: int, rng: np.random.Generator) -> ComplexArray:
        """Give copies of it, each with its own noise, [shape=(count, n_frequency)]."""
        real, imaginary = rng.standard_normal((2, count, self.ratio.size))
        return np.asarray(self.ratio + np.abs(self.ratio) * self.off * (real + 1j * imaginary))
