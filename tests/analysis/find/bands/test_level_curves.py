"""All passes of an order in one curve."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.find.bands.level_curves import level_curve
from analysis.find.curves.order_points import OrderPoints
from tests.analysis.find.made_points import made_points

BINS = np.arange(150, 250)
NOISE_MS = 0.05  # of the loud pass's level


def passes(level_ms: FloatArray, rng: np.random.Generator) -> OrderPoints:
    """One pass over the same bins at each level, all in the same noise."""
    count = level_ms.size
    noise_ms = NOISE_MS * rng.gamma(2.0, 0.5, size=(2, count * BINS.size))
    return made_points(
        3.0,
        np.repeat(np.arange(count), BINS.size),
        np.tile(BINS, count),
        np.repeat(level_ms, BINS.size) + noise_ms[0],
        noise_ms[1],
    )


def scatter(level_ms: FloatArray) -> float:
    data = level_curve(passes(level_ms, np.random.default_rng(6)))
    return float((data.total_ms - data.background_ms).std() / data.total_ms.mean())


def test_a_soft_pass_does_not_bring_its_noise_up_with_its_level() -> None:
    """Two readings of one noise, each 1 and 0.1 times the level: their sum over 1.1 scatters by
    sqrt(2) / 1.1 of one; the mean of one and ten times the other by sqrt(101) / 2, propagation of
    errors (GUM, JCGM 100:2008, 5.1.2)."""
    alone, both = scatter(np.array([1.0])), scatter(np.array([1.0, 0.1]))
    assert both < 2.0 * alone
