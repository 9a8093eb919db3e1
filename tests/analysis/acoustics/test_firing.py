"""Firing patterns against their Fourier series, and the order arithmetic of the trade."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest

from analysis.acoustics import firing

# Cross-plane V8, crank angles at which each bank fires. Firing orders: common practice, no source.
CROSS_PLANE = {
    "1-8-4-3-6-5-7-2": ([0, 270, 450, 540], [90, 180, 360, 630]),
    "1-8-7-2-6-5-4-3": ([0, 180, 450, 630], [90, 270, 360, 540]),
    "1-5-4-2-6-3-7-8": ([0, 180, 270, 450], [90, 360, 540, 630]),
    "1-3-7-2-6-5-4-8": ([0, 90, 270, 540], [180, 360, 450, 630]),
}
ORDERS = [0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0]
# |1 + e^{-j a} + ...| / 4 by hand: sin(pi/8) / sqrt 2 = 0.2706, cos(pi/8) / sqrt 2 = 0.6533.
BANK = [0.2706, 0.0, 0.6533, 0.0, 0.6533, 0.0, 0.2706, 1.0]


@pytest.mark.parametrize("order", CROSS_PLANE)
def test_one_bank_of_a_cross_plane_v8_has_half_orders(order: str) -> None:
    for bank in CROSS_PLANE[order]:
        strength = np.abs(firing.firing_amplitudes(bank, ORDERS))
        assert strength == pytest.approx(BANK, abs=5e-5)


@pytest.mark.parametrize("order", CROSS_PLANE)
def test_the_banks_half_orders_cancel_and_order_4_adds(order: str) -> None:
    one, other = (firing.firing_amplitudes(bank, ORDERS) for bank in CROSS_PLANE[order])
    half_orders = [0, 2, 4, 6]
    turned = np.degrees(np.angle(one[half_orders] / other[half_orders]))
    assert np.abs(turned) == pytest.approx(180.0, abs=1e-9)
    assert np.angle(one[7] / other[7]) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("pulses", "per_cycle"), [(4, 2.0), (6, 3.0), (3, 1.5), (5, 2.5)])
def test_even_pulses_leave_only_multiples_of_the_firing_order(
    pulses: int, per_cycle: float
) -> None:
    angles = np.arange(pulses) * 720.0 / pulses
    orders = np.arange(0.5, 12.5, 0.5)
    expected = np.where(np.isclose(orders % per_cycle, 0.0), 1.0, 0.0)
    assert np.abs(firing.firing_amplitudes(angles, orders)) == pytest.approx(expected, abs=1e-12)


def test_90_degree_v6_on_common_pins() -> None:
    # 90/150 degrees apart: (1 + e^{-j pi h / 2}) / 2 at multiples of 1.5.
    angles = [0, 90, 240, 330, 480, 570]
    strength = np.abs(firing.firing_amplitudes(angles, [1.5, 3.0, 4.5, 6.0]))
    assert strength == pytest.approx([0.3827, 0.7071, 0.9239, 0.0], abs=5e-5)


def test_drone_of_the_hand_method() -> None:
    # Common practice, no source: 2000 rpm with 4 pulses a revolution.
    assert firing.order_hz(4.0, 2000.0) == pytest.approx(133.3, abs=0.05)
    assert firing.order_rpm(4.0, firing.order_hz(4.0, 2000.0)) == pytest.approx(2000.0)
