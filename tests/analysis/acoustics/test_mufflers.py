"""Mufflers as two-ports: against a general library, against integration, against energy."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from analysis.acoustics import muffler_parts, mufflers
from analysis.acoustics.duct import Matrix, propagation_per_m
from analysis.acoustics.gas import Gas, exhaust_gas
from analysis.acoustics.muffler_parts import Medium, Size, circle_m2, perforated_wall, step
from analysis.acoustics.mufflers import Casing
from analysis.acoustics.packing import packed

HZ = np.linspace(20.0, 320.0, 61)
ONE = np.ones((1, 1))
BORE_M, SHELL_M = 0.06, 0.18
CASING = Casing(length_m=0.45 * ONE, shell_m=SHELL_M, inlet_m=BORE_M, outlet_m=BORE_M)


def medium(mach: float = 0.0, *, frictionless: bool = False, kelvin: float = 550.0) -> Medium:
    gas = exhaust_gas(np.array([kelvin])).spread()
    if frictionless:
        gas = Gas(
            speed_of_sound_m_s=gas.speed_of_sound_m_s,
            kinematic_viscosity_m2_s=0.0 * ONE,
            heat_capacity_ratio=gas.heat_capacity_ratio,
            prandtl=gas.prandtl,
        )
    flow = np.full((1, HZ.size), mach * float(circle_m2(BORE_M)))
    return Medium(frequency_hz=HZ, gas=gas, flow=flow)


def scattered(at: Medium, whole: Matrix) -> tuple[np.ndarray, np.ndarray]:
    """Reflected and passed wave between two endless pipes; Munjal (1987), ch. 2."""
    z = at.impedance(circle_m2(BORE_M))
    total = whole.a + whole.b / z + whole.c * z + whole.d
    return (whole.a + whole.b / z - whole.c * z - whole.d) / total, 2.0 / total


def loss_db(at: Medium, whole: Matrix) -> np.ndarray:
    return np.asarray(-20.0 * np.log10(np.abs(scattered(at, whole)[1][0])))


# --- a general library for lines: pressure as voltage, volume velocity as current -----------------


def test_extended_chamber_agrees_with_scikit_rf() -> None:
    skrf = pytest.importorskip("skrf")
    at = medium()
    frequency = skrf.Frequency.from_f(HZ, unit="hz")
    z = float(at.impedance(circle_m2(BORE_M))[0, 0])
    pipe = skrf.media.DefinedGammaZ0(frequency, gamma=1j * np.ones(HZ.size), z0=z)

    def line(area_m2: Size, wide_m: float) -> Any:
        gamma = propagation_per_m(HZ, at.gas, wide_m)[0]
        own = float(at.impedance(area_m2)[0, 0])
        return skrf.media.DefinedGammaZ0(frequency, gamma=gamma, z0=own)

    def along(bore_m: float, length_m: float) -> Any:
        made = line(circle_m2(bore_m), bore_m).line(length_m, "m")
        made.renormalize(z)
        return made

    def ring(length_m: float) -> Any:
        stub = line(circle_m2(SHELL_M) - circle_m2(BORE_M), SHELL_M - BORE_M)
        closed_end = stub.line(length_m, "m") ** stub.open()
        closed_end.renormalize(z)
        return pipe.shunt(closed_end)

    mouth = pipe.resistor(step(at, BORE_M, SHELL_M)[0])
    inlet = along(BORE_M, 0.2) ** mouth ** ring(0.2)
    theirs = inlet ** along(SHELL_M, 0.15) ** ring(0.1) ** mouth ** along(BORE_M, 0.1)
    ours = mufflers.chamber(at, CASING, inlet_in_m=0.2, outlet_in_m=0.1)
    reflected, passed = scattered(at, ours)
    np.testing.assert_allclose(passed[0], theirs.s[:, 1, 0], atol=1e-9)
    np.testing.assert_allclose(reflected[0], theirs.s[:, 0, 0], atol=1e-9)


def test_simple_chamber_agrees_with_the_formula_where_its_mass_is_nothing() -> None:
    """10 lg (1 + (m - 1/m)^2 sin^2(kL) / 4): Davis et al., NACA report 1192 (1954), from memory.

    The gas that fans out has mass, which the formula leaves out: at 40 Hz it is 0.1 dB.
    """
    at = medium(frictionless=True)
    got_db = loss_db(at, mufflers.chamber(at, CASING))
    ratio = (SHELL_M / BORE_M) ** 2
    kl = 2.0 * np.pi * HZ / float(at.gas.speed_of_sound_m_s[0, 0]) * 0.45
    book_db = 10.0 * np.log10(1.0 + 0.25 * (ratio - 1.0 / ratio) ** 2 * np.sin(kl) ** 2)
    np.testing.assert_allclose(got_db[:8], book_db[:8], atol=0.15)
    np.testing.assert_allclose(got_db, book_db, atol=0.6)


@pytest.mark.parametrize("wider", [1.5, 3.0])
def test_a_stream_loses_as_much_at_a_step_as_tables_say(wider: float) -> None:
    """Widening: Borda and Carnot; narrowing: half of one less the areas' ratio (Idelchik).

    Handbook of Hydraulic Resistance, diagrams 4-1 and 4-9, from memory: loss over the dynamic
    pressure in the narrow tube, so that a wave's resistance is the loss times Mach number.
    """
    at, areas = medium(0.1), 1.0 / wider**2
    per_mach = 0.1 * at.impedance(circle_m2(BORE_M))
    widening = step(at, BORE_M, wider * BORE_M).real / per_mach
    narrowing = step(at, wider * BORE_M, BORE_M).real / per_mach
    np.testing.assert_allclose(widening, (1.0 - areas) ** 2)
    np.testing.assert_allclose(narrowing, 0.5 * (1.0 - areas))


def test_a_ring_a_quarter_wave_long_stops_the_wave() -> None:
    """Munjal (1987), ch. 8: an extended inlet of L / 2 lifts the trough at half a wave."""
    at = medium(frictionless=True)
    quarter_hz = float(at.gas.speed_of_sound_m_s[0, 0]) / 4.0 / 0.42
    got_db = loss_db(at, mufflers.chamber(at, CASING, inlet_in_m=0.42))
    assert HZ[got_db.argmax()] == pytest.approx(quarter_hz, abs=5.0)


# --- perforated tube: the two ducts integrated along the wall -------------------------------------


@pytest.mark.parametrize("resistivity", [0.0, 300.0, 12_000.0])
def test_straight_through_agrees_with_integration_along_it(resistivity: float) -> None:
    """Matrix exponential of the four first-order equations; scipy."""
    at = medium(mach=0.06)
    mach = at.mach(BORE_M)
    filling = packed(HZ, at.gas, np.array([[resistivity]]))
    inside = propagation_per_m(HZ, at.gas, BORE_M) / (1.0 - mach**2)
    outside = propagation_per_m(HZ, at.gas, SHELL_M - BORE_M) * filling.propagation
    z_in = at.impedance(circle_m2(BORE_M))
    z_out = at.impedance(circle_m2(SHELL_M) - circle_m2(BORE_M)) * filling.impedance
    wall = perforated_wall(at, np.pi * BORE_M, 0.1, mach, filling)
    ours = mufflers.straight_through(
        at, CASING, perforated=1.0, open_share=0.1, resistivity=resistivity * ONE
    )
    for n in range(0, HZ.size, 10):
        g_in, g_out, z1, z2, leak = (
            complex(np.broadcast_to(each, (1, HZ.size))[0, n])
            for each in (inside, outside, z_in, z_out, wall)
        )
        along = np.array(
            [
                [0.0, g_in * z1, 0.0, 0.0],
                [g_in / z1 + leak, 0.0, -leak, 0.0],
                [0.0, 0.0, 0.0, g_out * z2],
                [-leak, 0.0, g_out / z2 + leak, 0.0],
            ]
        )
        # scaled, so that flows are as large as pressures
        size = np.array([1.0, z1, 1.0, z1])
        whole = expm(0.45 * along * size[:, None] / size) / size[:, None] * size
        # both ends of the room shut: its pressure downstream follows from no flow upstream
        outer = -whole[3, :2] / whole[3, 2]
        two = whole[:2, :2] + np.outer(whole[:2, 2], outer)
        got = np.array([[ours.a[0, n], ours.b[0, n]], [ours.c[0, n], ours.d[0, n]]])
        np.testing.assert_allclose(got, two, rtol=1e-6)


def test_a_wall_that_is_nearly_all_holes_leaves_the_chamber() -> None:
    at = medium(frictionless=True)
    open_tube = mufflers.straight_through(
        at, CASING, perforated=1.0, open_share=50.0, resistivity=0.0 * ONE
    )
    wide = muffler_parts.tube(at, SHELL_M, 0.45)
    np.testing.assert_allclose(loss_db(at, open_tube), loss_db(at, wide), atol=0.05)


# --- three passes: every node at once -------------------------------------------------------------


def test_three_passes_agree_with_all_their_nodes_at_once() -> None:
    """Admittances of all parts in one matrix per frequency, solved by numpy."""
    at = medium(mach=0.05)
    tube_m, front, rear, perforated, open_share = 0.05, 0.2, 0.25, 0.5, 0.15
    middle_m = 0.45 * (1.0 - front - rear)
    shell_m2, tube_m2 = float(circle_m2(SHELL_M)), float(circle_m2(tube_m))
    links = [
        (0, 1, muffler_parts.tube(at, tube_m, 0.45 * front + middle_m / 2.0)),
        (1, 2, muffler_parts.tube(at, tube_m, middle_m / 2.0)),
        (4, 5, muffler_parts.tube(at, tube_m, middle_m / 2.0)),
        (5, 6, muffler_parts.tube(at, tube_m, middle_m / 2.0)),
        (8, 9, muffler_parts.tube(at, tube_m, middle_m / 2.0)),
        (9, 10, muffler_parts.tube(at, tube_m, middle_m / 2.0 + 0.45 * rear)),
    ]
    into, out_of = step(at, tube_m, SHELL_M)[0], step(at, SHELL_M, tube_m)[0]
    hole = 1.0 / perforated_wall(
        at, np.pi * tube_m * perforated * middle_m, open_share, at.mach(tube_m)
    )
    joints = [(2, 3, into), (3, 4, out_of), (6, 7, into), (7, 8, out_of)]
    joints += [(node, 11, hole[0]) for node in (1, 5, 9)]
    joints += [(12, 0, step(at, BORE_M, tube_m)[0]), (10, 13, step(at, tube_m, BORE_M)[0])]
    rooms = [
        (3, muffler_parts.closed(at, shell_m2 - tube_m2, SHELL_M, 0.45 * rear)[0]),
        (7, muffler_parts.closed(at, shell_m2 - tube_m2, SHELL_M, 0.45 * front)[0]),
        (11, 2.0 * muffler_parts.closed(at, shell_m2 - 3 * tube_m2, SHELL_M, middle_m / 2.0)[0]),
    ]
    whole = np.zeros((HZ.size, 14, 14), dtype=np.complex128)
    for start, end, part in links:
        whole[:, start, start] += (part.d / part.b)[0]
        whole[:, end, end] += (part.a / part.b)[0]
        whole[:, start, end] -= 1.0 / part.b[0]
        whole[:, end, start] -= 1.0 / part.b[0]
    for start, end, impedance in joints:
        for one, other, sign in (
            (start, start, 1),
            (end, end, 1),
            (start, end, -1),
            (end, start, -1),
        ):
            whole[:, one, other] += sign / impedance
    for node, admittance in rooms:
        whole[:, node, node] += admittance
    z = np.linalg.inv(whole)[:, [12, 13]][:, :, [12, 13]]
    ours = mufflers.three_pass(
        at,
        CASING,
        front=front * ONE,
        rear=rear * ONE,
        tube_m=tube_m,
        perforated=perforated,
        open_share=open_share,
    )
    np.testing.assert_allclose(ours.c[0], 1.0 / z[:, 1, 0], rtol=1e-8)
    np.testing.assert_allclose(ours.a[0], z[:, 0, 0] / z[:, 1, 0], rtol=1e-8)
    np.testing.assert_allclose(ours.d[0], z[:, 1, 1] / z[:, 1, 0], rtol=1e-8)


# --- what holds for every kind --------------------------------------------------------------------

KINDS: dict[str, Callable[[Medium, list[float]], Matrix]] = {
    "chamber": lambda at, u: mufflers.chamber(
        at, CASING, damping_np_m=u[0] * ONE, slowing=u[1] * ONE
    ),
    "extended chamber": lambda at, u: mufflers.chamber(
        at, CASING, inlet_in_m=0.2 * u[0] * ONE, outlet_in_m=0.2 * u[1] * ONE
    ),
    "chambers": lambda at, u: mufflers.chambers(
        at,
        CASING,
        shares=(0.3 * ONE, 0.4 * ONE, 0.3 * ONE),
        tube_m=(0.03 + 0.03 * u[0]) * ONE,
        reach=(0.4 * u[1] * ONE, 0.3 * u[2] * ONE, 0.2 * ONE, 0.4 * u[3] * ONE),
    ),
    "straight-through": lambda at, u: mufflers.straight_through(
        at,
        CASING,
        perforated=(0.2 + 0.8 * u[0]) * ONE,
        open_share=(0.02 + 0.5 * u[1]) * ONE,
        resistivity=20_000.0 * u[2] * ONE,
    ),
    "three-pass": lambda at, u: mufflers.three_pass(
        at,
        CASING,
        front=(0.1 + 0.3 * u[0]) * ONE,
        rear=(0.1 + 0.3 * u[1]) * ONE,
        tube_m=(0.035 + 0.03 * u[2]) * ONE,
        perforated=0.5 * ONE,
        open_share=0.3 * u[3] * ONE,
    ),
    "monolith": lambda at, u: mufflers.monolith(
        at,
        CASING,
        channels=(0.3 + 0.6 * u[0]) * ONE,
        open_share=(0.5 + 0.4 * u[1]) * ONE,
        channel_m=(0.0008 + 0.001 * u[2]) * ONE,
    ),
}
INSIDES = st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4)


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=25, deadline=None)
@given(inside=INSIDES, mach=st.floats(0.0, 0.12), kelvin=st.floats(300.0, 900.0))
def test_no_muffler_makes_sound_and_both_ways_are_alike(
    kind: str, inside: list[float], mach: float, kelvin: float
) -> None:
    """A passive two-port gives out no more than comes in; a reciprocal one has determinant one."""
    at = medium(mach, kelvin=kelvin)
    whole = KINDS[kind](at, inside)
    np.testing.assert_allclose(whole.a * whole.d - whole.b * whole.c, 1.0, atol=1e-8)
    for way in (whole, muffler_parts.turned(whole)):
        reflected, passed = scattered(at, way)
        assert np.all(np.abs(reflected) ** 2 + np.abs(passed) ** 2 <= 1.0 + 1e-9)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "monolith"])
def test_without_friction_all_energy_is_accounted_for(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(muffler_parts, "_AT_REST", 0.0)
    at = medium(frictionless=True)
    whole = KINDS[kind](at, [0.0, 0.4, 0.0, 0.3])
    reflected, passed = scattered(at, whole)
    np.testing.assert_allclose(np.abs(reflected) ** 2 + np.abs(passed) ** 2, 1.0, atol=1e-8)
    assert loss_db(at, whole).max() > 3.0
