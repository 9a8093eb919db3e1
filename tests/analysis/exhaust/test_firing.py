"""Phases of an engine's banks against each other, order by order."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest

from analysis.exhaust.firing import Firing

ODD_LEFT = ((1, 3, 5, 7), (2, 4, 6, 8))
# Firing orders of cross-plane V8s with odd numbers on one bank; common practice, no source.
FIRING_ORDERS = (
    (1, 8, 4, 3, 6, 5, 7, 2),
    (1, 8, 7, 2, 6, 5, 4, 3),
    (1, 5, 4, 8, 6, 3, 7, 2),
)


def v8(firing_order: tuple[int, ...] = ()) -> Firing:
    banks = ODD_LEFT if firing_order else ()
    return Firing(
        cylinders=8,
        stroke_cycle=4,
        layout="cross-plane V",
        firing_order=firing_order,
        banks=banks,
    )


@pytest.mark.parametrize("firing_order", FIRING_ORDERS)
@pytest.mark.parametrize("engine_order", [0.5, 1.5, 2.5, 3.5, 4.0, 8.0])
def test_banks_of_a_v8_are_in_step_at_its_firing_orders_and_against_each_other_elsewhere(
    firing_order: tuple[int, ...], engine_order: float
) -> None:
    """Pulses of both banks added up one by one, at even 90 degrees; the rule needs no order."""
    fired = np.exp(-0.5j * np.pi * engine_order * np.arange(8))
    on_left = np.isin(firing_order, ODD_LEFT[0])
    left, right = fired[on_left].sum(), fired[~on_left].sum()
    assert abs(left) > 1e-3
    for firing in (v8(), v8(firing_order)):
        turns = firing.turns_rad(engine_order, 2)
        assert turns is not None
        np.testing.assert_allclose(np.exp(1j * turns), [1.0, right / left], atol=1e-9)


@pytest.mark.parametrize("engine_order", [1.0, 2.0, 3.0])
def test_an_order_that_no_bank_makes_has_no_phase(engine_order: float) -> None:
    """Each bank of a cross-plane V8 cancels itself in whole orders below the fourth."""
    assert v8(FIRING_ORDERS[0]).turns_rad(engine_order, 2) is None


@pytest.mark.parametrize(
    "firing",
    [
        Firing(cylinders=6, stroke_cycle=4, layout="odd-fire V"),
        Firing(cylinders=6, stroke_cycle=4),
    ],
)
def test_what_nobody_says_is_not_known(firing: Firing) -> None:
    assert firing.turns_rad(3.0, 2) is None


def test_half_the_firing_order_of_an_even_v6_is_against_each_other() -> None:
    """A bank fires every 240 degrees, 120 after the other: at order 1.5 that is half a turn."""
    firing = Firing(cylinders=6, stroke_cycle=4, layout="V (even fire)")
    turns = firing.turns_rad(1.5, 2)
    assert turns is not None
    assert np.exp(1j * turns[1]) == pytest.approx(np.exp(-1.5j * 2.0 * np.pi / 3.0))
    assert firing.turns_rad(1.5, 3) is None
