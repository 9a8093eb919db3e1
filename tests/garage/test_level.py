"""The garage's physics against published numbers, and against the sizing's own, kept apart."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import jve

from analysis.acoustics.network import heard
from analysis.exhaust.guesses import make_network
from analysis.exhaust.layout import lay_out
from analysis.exhaust.line import cut
from tests.benchmarks.garage_possible import one_pipe, true_members, true_sections
from tests.garage import waves
from tests.garage.draw import draw_car
from tests.garage.level import level_db
from tests.garage.spec import Cabin

QUIET_CABIN = Cabin(rise_db_per_octave=0.0, low_pass_hz=1e9, hump_hz=100.0, hump_db=0.0, modes=())


@pytest.mark.parametrize(
    ("temperature_c", "bore_mm", "length_m", "drop", "loss_at_peak_db"),
    [(200.0, 47.8, 1.0698, 0.9906, 30.8), (400.0, 47.8, 1.2650, 0.9875, 28.4)],
)
def test_walls_lower_a_closed_tube_and_hold_its_peak(
    temperature_c: float, bore_mm: float, length_m: float, drop: float, loss_at_peak_db: float
) -> None:
    """Wide-tube values with Cantera's gas, worked out for this project by other code: the exact
    solution is within 0.05 % in frequency and 0.2 dB at the peak. The tubes are a quarter wave at
    100 Hz without losses; peak loss as a branch on a pipe of its own bore."""

    def admittance(hz: float) -> complex:
        tube = waves.tube(
            np.array([hz]),
            radius_m=bore_mm / 2e3,
            length_m=length_m,
            temperature_c=temperature_c,
        )
        return complex(tube[0, 1, 0] / tube[0, 0, 0])

    resonance_hz = brentq(lambda hz: (1.0 / admittance(hz)).imag, 95.0, 101.0)
    assert resonance_hz == pytest.approx(100.0 * drop, rel=1e-3)
    in_pipe = admittance(resonance_hz) * waves.characteristic(bore_mm / 2e3, temperature_c)
    assert 20.0 * np.log10(abs(1.0 + in_pipe / 2.0)) == pytest.approx(loss_at_peak_db, abs=0.3)


def test_slip_at_the_wall_is_that_of_bessel_functions() -> None:
    argument = np.geomspace(20.0, 500.0, 300) * np.exp(-0.25j * np.pi)
    expected = 2.0 * jve(1, argument) / (argument * jve(0, argument))
    np.testing.assert_allclose(waves.slip(argument), expected, rtol=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_two_codes_that_know_the_same_car_hear_the_same(seed: int) -> None:
    """The sizing's network, given the truth, against the garage's; they share no code."""
    car = replace(draw_car(6, np.random.default_rng(seed)), cabin=QUIET_CABIN)
    rpm = np.geomspace(1200.0, 3600.0, 80)
    hz = car.order * rpm / 60.0
    line = one_pipe(true_sections(car))
    network = make_network(lay_out(cut(line, 0.05)), true_members(car, 1), hz, rpm)
    ours_db = 20.0 * np.log10(hz * np.abs(heard(network)[0]))
    apart_db = level_db(car, rpm) - ours_db
    assert np.ptp(apart_db) < 1.0
