"""The minimiser against scipy.optimize.least_squares with the same loss."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from analysis.basics.arrays import FloatArray
from analysis.find.bands.least_squares import Block, huber_cost, minimise

THRESHOLD = 2.5
LOW, HIGH = np.array([-5.0, 0.0, -1.0, 0.02]), np.array([5.0, 20.0, 1.0, 1.0])


class Bump:
    """A level, a height, a place and a width, seen through noise with outliers."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        self.x = np.linspace(-1.0, 1.0, 80)
        self.truth = np.array(
            [rng.uniform(-2, 2), rng.uniform(3, 12), rng.uniform(-0.5, 0.5), rng.uniform(0.1, 0.4)]
        )
        noise = rng.normal(size=80) + np.where(rng.uniform(size=80) < 0.1, 30.0, 0.0)
        self.y = np.zeros(80)
        self.y = 0.3 * (self(self.truth)[0] + noise)
        self.start = np.clip(self.truth + rng.normal(size=4) * [1.0, 1.5, 0.05, 0.05], LOW, HIGH)

    def blocks(self, p: FloatArray) -> tuple[FloatArray, list[Block]]:
        """In two blocks, the second without the parameters that it does not depend on."""
        residual, slopes = self(p)
        few = np.flatnonzero(np.abs(slopes[50:]).sum(axis=0) > 0.0)
        whole = Block(columns=np.arange(4), slopes=slopes[:50])
        return residual, [whole, Block(columns=few, slopes=slopes[50:, few])]

    def __call__(self, p: FloatArray) -> tuple[FloatArray, FloatArray]:
        part = (self.x - p[2]) / p[3]
        shape = 1.0 / (1.0 + part**2)
        by_place = 2.0 * p[1] * part * shape**2 / p[3]
        slopes = np.stack([np.ones(80), shape, by_place, by_place * part], axis=1)
        return (p[0] + p[1] * shape - self.y) / 0.3, slopes / 0.3

    def cost(self, p: FloatArray) -> float:
        return float(huber_cost(self(p)[0], THRESHOLD).sum())


def scipys(bump: Bump, low: FloatArray, high: FloatArray) -> FloatArray:
    solved = least_squares(
        lambda p: bump(p)[0],  # type: ignore[misc]
        np.clip(bump.start, low + 1e-9, high - 1e-9),
        jac=lambda p: bump(p)[1],  # type: ignore[misc]
        bounds=(low, high),
        loss="huber",
        f_scale=THRESHOLD,
    )
    return np.asarray(solved.x)


@settings(max_examples=60)
@given(st.integers(0, 10_000))
def test_as_good_as_scipy(seed: int) -> None:
    bump = Bump(seed)
    ours = minimise(bump.blocks, bump.start, (LOW, HIGH), THRESHOLD)
    theirs = scipys(bump, LOW, HIGH)
    assert bump.cost(ours) == pytest.approx(bump.cost(theirs), rel=2e-3)


@settings(max_examples=60)
@given(st.integers(0, 10_000), st.floats(0.3, 0.9), st.floats(0.5, 0.9))
def test_as_good_as_scipy_where_limits_bind(seed: int, height: float, width: float) -> None:
    bump = Bump(seed)
    high = np.where([False, True, False, True], bump.truth * [1.0, height, 1.0, width], HIGH)
    ours = minimise(bump.blocks, bump.start, (LOW, high), THRESHOLD)
    theirs = scipys(bump, LOW, high)
    assert bump.cost(ours) < 1.002 * bump.cost(theirs)


@given(st.floats(-100.0, 100.0), st.floats(0.1, 10.0))
def test_cost_is_the_loss_of_scipy(residual: float, threshold: float) -> None:
    """scipy: cost = f**2 rho((r / f)**2) with rho(z) = z to 1, 2 sqrt(z) - 1 beyond."""
    z = (residual / threshold) ** 2
    rho = z if z <= 1.0 else 2.0 * np.sqrt(z) - 1.0
    ours = huber_cost(np.array([residual]), threshold)[0]
    assert ours == pytest.approx(threshold**2 * rho, rel=1e-9, abs=1e-12)


@settings(max_examples=30)
@given(st.integers(0, 10_000))
def test_stays_within_limits_and_never_gets_worse(seed: int) -> None:
    bump = Bump(seed)
    low, high = bump.start - 0.01, bump.start + 0.01
    ours = minimise(bump.blocks, bump.start, (low, high), THRESHOLD)
    assert (ours >= low).all()
    assert (ours <= high).all()
    assert bump.cost(ours) <= bump.cost(bump.start)


def test_a_parameter_that_matters_to_nothing_stays_put() -> None:
    def model(p: FloatArray) -> tuple[FloatArray, list[Block]]:
        block = Block(columns=np.arange(2), slopes=np.array([[1.0, 0.0]]))
        return np.array([p[0] - 3.0]), [block]

    found = minimise(model, np.array([0.0, 7.0]), (np.full(2, -10.0), np.full(2, 10.0)), 1e9)
    assert found == pytest.approx([3.0, 7.0], abs=1e-3)
