"""The nodal network against a general network library, finite elements and symmetry."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.garage import waves
from tests.garage.gas import FloatArray
from tests.garage.waves import ComplexArray
from tests.worlds.cars import Link, Welded, level_db, mouth_m, paths
from tests.worlds.draw import WORLDS, draw_car, drone_of, droning_car
from tests.worlds.mufflers import KINDS, Spot, through_muffler
from tests.worlds.network import Net

WORLD = {world.name: world for world in WORLDS}
RPM = np.geomspace(1200.0, 3600.0, 60)


def loss_db(net: Net, start: int, end: int, impedance: ComplexArray) -> FloatArray:
    """Transmission loss between two matched ends."""
    net.shunt(start, 1.0 / impedance)
    net.shunt(end, 1.0 / impedance)
    net.drive(start, np.ones_like(impedance))
    through = impedance / 2.0
    return np.asarray(20.0 * np.log10(np.abs(through / net.pressures()[:, end])))


def _lossless(length_m: float, area_m2: float, hz: FloatArray) -> ComplexArray:
    phase, z = 2.0 * np.pi * hz / 343.0 * length_m, 1.0 / area_m2
    rows = [np.cos(phase), 1j * z * np.sin(phase), 1j * np.sin(phase) / z, np.cos(phase)]
    return np.stack(rows, axis=-1).reshape(-1, 2, 2).astype(np.complex128)


def test_two_branches_on_a_pipe_are_those_of_scikit_rf() -> None:
    """scikit-rf with lossless lines; open stubs stand for closed branches."""
    skrf = pytest.importorskip("skrf")
    hz = np.linspace(60.0, 180.0, 61)
    areas = (1.0, 0.5625)
    net = Net(hz)
    first, second = net.node(), net.node()
    net.matrix(first, second, _lossless(0.5, 1.0, hz))
    for node, length_m, area in zip((first, second), (0.9, 0.75), areas, strict=True):
        net.matrix(node, net.node(), _lossless(length_m, area, hz))
    frequency = skrf.Frequency.from_f(hz, unit="hz")

    def media(area: float) -> Any:
        gamma = 2j * np.pi * hz / 343.0
        return skrf.media.DefinedGammaZ0(frequency, gamma=gamma, z0=50.0 / area)

    def shunt(length_m: float, area: float) -> Any:
        closed = media(area).line(length_m, "m") ** media(area).open()
        closed.renormalize(50.0)
        return media(1.0).shunt(closed)

    whole = shunt(0.9, areas[0]) ** media(1.0).line(0.5, "m") ** shunt(0.75, areas[1])
    expected = -20.0 * np.log10(np.abs(whole.s[:, 1, 0]))
    ours = loss_db(net, first, second, np.ones(hz.size, dtype=np.complex128))
    np.testing.assert_allclose(ours, expected, atol=1e-9)


def test_a_tee_is_that_of_finite_elements() -> None:
    """Three-dimensional Helmholtz finite elements made for this project with general libraries:
    branch of 0.75 of the pipe's bore, 30 pipe radii long; loss at shares of its own frequency."""
    pipe_m = 0.06
    bore_m, length_m = 0.75 * pipe_m, 15.0 * pipe_m
    whole_m = length_m + mouth_m(bore_m, pipe_m)
    hz = np.array([0.8, 0.9, 0.95, 1.05, 1.1]) * 343.0 / (4.0 * whole_m)
    net = Net(hz)
    mouth, cap = net.node(), net.node()
    net.matrix(mouth, cap, _lossless(whole_m, (bore_m / pipe_m) ** 2, hz))
    ours = loss_db(net, mouth, mouth, np.ones(hz.size, dtype=np.complex128))
    assert ours == pytest.approx([2.424, 6.177, 11.381, 11.387, 6.182], abs=0.05)


@pytest.mark.parametrize("kind", KINDS)
def test_a_muffler_lets_the_lowest_notes_through_and_makes_no_sound(kind: str) -> None:
    """No source inside: power out is never above power in; far below its first note it is open."""
    hz = np.linspace(5.0, 300.0, 60)
    net = Net(hz)
    start, end = net.node(), net.node()
    spot = Spot(start=start, end=end, gas_c=250.0, mach=np.zeros(hz.size))
    through_muffler(net, kind, spot, 0.5, 0.055, 0.17, 0.0)
    z = np.full(hz.size, waves.characteristic(0.0275, 250.0), dtype=np.complex128)
    lost = loss_db(net, start, end, z)
    assert lost.min() > -1e-6
    assert lost[0] < 1.5
    assert lost.max() > 3.0


def test_between_twins_that_pulse_alike_nothing_crosses() -> None:
    """By symmetry: an X between two equal pipes with equal pulses changes nothing."""
    car = draw_car(WORLD["V8, two pipes"], np.random.default_rng(3))
    twins = replace(car, banks=(0.5 + 0.0j, 0.5 + 0.0j))
    crossed = replace(twins, links=(Link(legs=("left", "right"), at_m=(0.7, 0.7)),))
    np.testing.assert_allclose(level_db(crossed, RPM), level_db(twins, RPM), atol=0.02)


def test_one_pipe_of_two_may_be_silent_and_the_other_is_heard() -> None:
    """Without a crossover a branch on the left changes nothing of the right."""
    car = draw_car(WORLD["V8, two pipes"], np.random.default_rng(4))
    deaf = replace(car, tails=((0.0, 2.0), (1.0, 2.0)))
    branch = Welded(leg="left", place_m=0.5, length_m=0.8, bore_m=0.05)
    np.testing.assert_allclose(level_db(deaf, RPM, (branch,)), level_db(deaf, RPM), atol=0.02)
    heard = np.abs(level_db(car, RPM, (branch,)) - level_db(car, RPM))
    assert heard.max() > 0.5


def test_what_the_body_shakes_is_the_share_that_the_world_names() -> None:
    world = WORLD["structure 20 %"]
    car, _ = droning_car(world, np.random.default_rng(5))
    quiet = drone_of(replace(car, structure=0.0))
    assert quiet is not None
    air, shaken = (np.abs(path[0]) ** 2 for path in paths(car, np.array([quiet.peak_rpm])))
    assert shaken / (air + shaken) == pytest.approx(0.20, abs=1e-6)
