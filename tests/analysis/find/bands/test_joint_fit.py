"""All orders in one fit: it finds what the curves were made of, and says where it does not meet."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.find.bands.hill_shapes import shapes_of
from analysis.find.bands.hills import hills, seen_level
from analysis.find.bands.joint_fit import fit_together
from analysis.find.bands.resonance_model import MODE_TERMS, CurveData

ORDERS = (2.0, 4.0, 6.0)
TRUE = np.array([[np.log(70.0), np.log(0.1), 0.9, 0.2], [np.log(120.0), np.log(0.15), 1.2, -0.25]])
BEGIN = TRUE + np.array([[0.02, 0.3, -0.4, -0.2], [-0.03, -0.2, 0.3, 0.25]])


def curve(order: float, own_db: FloatArray, rng: np.random.Generator) -> CurveData:
    """Worked out from the closed form: a bent trend, two modes beside a direct path, noise."""
    frequency_hz = order * np.geomspace(1000.0, 4200.0, 140) / 60.0
    path = np.ones(frequency_hz.size, dtype=np.complex128)
    for log_hz, log_width, log_gain, angle in TRUE:
        ratio = frequency_hz / np.exp(log_hz)
        path += np.exp(log_gain + 1j * angle) / (
            1.0 + 1j * (ratio - 1.0 / ratio) / np.exp(log_width)
        )
    place = np.linspace(-1.0, 1.0, frequency_hz.size)
    level_db = -40.0 + 4.0 * place - 2.0 * place**2 + 20.0 * np.log10(np.abs(path)) + own_db
    level_db += rng.normal(0.0, 0.25, frequency_hz.size)
    return CurveData(
        frequency_hz=frequency_hz,
        total_ms=10.0 ** (0.1 * level_db) + 1e-8,
        background_ms=np.full(frequency_hz.size, 1e-8),
        sigma_db=np.full(frequency_hz.size, 0.45),
    )


def test_modes_that_curves_were_made_of_are_found() -> None:
    rng = np.random.default_rng(5)
    fits = fit_together([curve(order, np.zeros(140), rng) for order in ORDERS], BEGIN)
    assert fits is not None
    for fit in fits:
        found = fit.modes.reshape(TRUE.shape)
        assert found[:, 0] == pytest.approx(TRUE[:, 0], abs=0.004)  # of frequency
        assert found[:, 1] == pytest.approx(TRUE[:, 1], abs=0.08)
        assert found[:, 2] == pytest.approx(TRUE[:, 2], abs=0.15)
        errors = np.sqrt(np.diag(fit.covariance)).reshape(TRUE.shape)
        assert (np.abs(found - TRUE) < 4.0 * errors).all()


def test_an_engine_that_does_much_of_its_own_is_not_met() -> None:
    """Two decibels, other ones in each order, over a few percent of engine speed."""
    rng = np.random.default_rng(6)
    turns = np.linspace(0.0, 30.0, 140)
    own = [2.0 * np.sin(turns + angle) for angle in (0.0, 2.0, 4.0)]
    curves = [curve(order, own_db, rng) for order, own_db in zip(ORDERS, own, strict=True)]
    assert fit_together(curves, BEGIN) is None


def test_what_noise_hides_of_an_engine_its_hills_still_show() -> None:
    """The same engine, with so much noise in each bin that the misfit of all orders is no more."""
    rng = np.random.default_rng(6)
    turns = np.linspace(0.0, 30.0, 140)
    for own_db, are_together in ((0.0, True), (1.5, False)):
        curves = {
            order: replace(
                curve(order, own_db * np.sin(turns + angle), rng), sigma_db=np.full(140, 1.5)
            )
            for order, angle in zip(ORDERS, (0.0, 2.0, 4.0), strict=True)
        }
        assert fit_together(list(curves.values()), BEGIN) is not None
        seen = [(order, hill) for order in ORDERS for hill in hills(seen_level(curves[order]), 3.0)]
        shapes, _ = shapes_of(curves, seen)
        fits = [fit for found in shapes.values() for _, fit in found]
        # one mode for each hill, or as many in each fit as there are resonances
        assert any(fit.modes.size > MODE_TERMS for fit in fits) == are_together
