"""The duct network against scikit-rf, finite elements, a placement table and plain matrices."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.acoustics import duct
from analysis.acoustics.duct import ComplexArray
from analysis.acoustics.end_correction import junction_correction_m
from analysis.acoustics.gas import exhaust_gas
from analysis.acoustics.network import (
    AnyComplexArray,
    Chain,
    Places,
    exponential,
    first_of_two,
    insertion_one,
    outlet_flow,
    places,
    power,
    radiation_impedance,
    second_of_two,
)
from analysis.basics.arrays import FloatArray
from tests.analysis.acoustics.test_duct import SCIKIT_RF

SPEED_M_S = 400.0
ROUNDING_DB = 1e-9


def even_chain(
    frequency_hz: FloatArray,
    steps: int,
    step_m: float,
    *,
    speed_m_s: float = SPEED_M_S,
    attenuation_np_m: float = 0.0,
    reflection: float = 0.0,
    outlet: ComplexArray | None = None,
) -> Chain:
    """A pipe of unit impedance in equal pieces; an endless one goes on behind it if not said."""
    phase = (attenuation_np_m + 2j * np.pi * frequency_hz / speed_m_s) * step_m
    shape = (steps, 1, frequency_hz.size)
    return Chain(
        phase=np.broadcast_to(phase, shape),
        impedance=np.ones((steps, 1, 1), dtype=np.complex128),
        two_port={},
        step={},
        reflection=np.full(shape[1:], reflection, dtype=np.complex128),
        outlet=np.ones(shape[1:], dtype=np.complex128) if outlet is None else outlet[None],
    )


def stub(frequency_hz: FloatArray, tuned_hz: float, ratio: float) -> ComplexArray:
    """Lossless closed branch."""
    return np.asarray(1j * ratio * np.tan(np.pi / 2.0 * frequency_hz / tuned_hz))


def pair_lost(
    first: AnyComplexArray, second: AnyComplexArray, here: Places, one: int, other: int
) -> FloatArray:
    """Power without over with these two branches."""
    both = first_of_two(first, here, one) * second_of_two(second, here, other)
    return np.asarray(both.sum(axis=0), dtype=np.float64)


@pytest.mark.parametrize(("frequency_hz", "tunes_hz", "ratios", "spacing_m", "loss_db"), SCIKIT_RF)
def test_branches_agree_with_scikit_rf(
    frequency_hz: float,
    tunes_hz: tuple[float, ...],
    ratios: tuple[float, ...],
    spacing_m: float,
    loss_db: float,
) -> None:
    """Frozen values of scikit-rf, shunt open stubs on a matched line."""
    at = np.array([frequency_hz])
    here = places(even_chain(at, 12, 0.25), np.arange(12))
    first = stub(at, tunes_hz[0], ratios[0])
    if len(tunes_hz) == 1:
        lost = power(insertion_one(first, here.transfer(2, 2)))
    else:
        other = 2 + round(spacing_m / 0.25)
        lost = pair_lost(first, stub(at, tunes_hz[1], ratios[1]), here, 2, other)
    assert 10.0 * np.log10(lost[0, 0]) == pytest.approx(loss_db, abs=5e-5)


def test_cascaded_lines_and_stubs_agree_with_scikit_rf() -> None:
    """Five lines of different impedance, lossy, with an open stub after the third."""
    skrf = pytest.importorskip("skrf")
    rng = np.random.default_rng(3)
    hz = np.linspace(20.0, 300.0, 57)
    wave_per_m = np.asarray(0.02 + 2j * np.pi * hz / SPEED_M_S, dtype=np.complex128)
    impedance, length_m = rng.uniform(0.2, 5.0, 5), rng.uniform(0.2, 1.5, 5)
    stub_z, stub_m = 1.6, 0.9

    frequency = skrf.Frequency.from_f(hz, unit="hz")

    def line(z: float, metres: float) -> object:
        media = skrf.media.DefinedGammaZ0(frequency, gamma=wave_per_m, z0=z)
        return media.line(metres, "m")

    def renormalised(network: object) -> object:
        network.renormalize(1.0)  # type: ignore[attr-defined]
        return network

    matched = skrf.media.DefinedGammaZ0(frequency, gamma=wave_per_m, z0=1.0)
    open_end = skrf.media.DefinedGammaZ0(frequency, gamma=wave_per_m, z0=stub_z)
    side = renormalised(open_end.line(stub_m, "m") ** open_end.open())
    whole = None
    for number in range(5):
        if number == 3:
            whole = whole ** matched.shunt(side)
        piece = renormalised(line(impedance[number], length_m[number]))
        whole = piece if whole is None else whole**piece
    passed_db = 20.0 * np.log10(np.abs(whole.s[:, 1, 0]))  # type: ignore[union-attr]

    shape = (6, 1, hz.size)
    lengths = np.concatenate([[0.0], length_m])  # a matched piece in front: the source's
    chain = Chain(
        phase=wave_per_m * lengths[:, None, None],
        impedance=np.concatenate([[1.0], impedance])[:, None, None].astype(np.complex128),
        two_port={},
        step={},
        reflection=np.zeros(shape[1:], dtype=np.complex128),
        outlet=np.ones(shape[1:], dtype=np.complex128),
    )
    side_in = duct.closed_branch_admittance(np.tanh(wave_per_m * stub_m), 1.0 / stub_z)
    lost = insertion_one(side_in, places(chain, [4]).transfer(0, 0))
    ours_db = 20.0 * np.log10(np.abs(outlet_flow(chain) / lost))[0]
    np.testing.assert_allclose(ours_db, passed_db, rtol=0.0, atol=ROUNDING_DB)


# Three-dimensional finite elements of a tee, branch 0.75 of the pipe's bore and 30 pipe radii
# long, made with general libraries for this project: loss in dB at shares of the tuned frequency.
TEE_DB = {0.8: 2.424, 0.9: 6.177, 0.95: 11.381, 1.05: 11.387, 1.1: 6.182}


@pytest.mark.parametrize(("share", "loss_db"), TEE_DB.items())
def test_a_tee_of_finite_elements(share: float, loss_db: float) -> None:
    pipe_m = 0.06
    branch_m = 0.75 * pipe_m
    acoustic_m = 15.0 * pipe_m + junction_correction_m(branch_m, pipe_m)
    hz = np.array([share * SPEED_M_S / 4.0 / acoustic_m])
    admittance = duct.closed_branch_admittance(
        np.tanh(2j * np.pi * hz / SPEED_M_S * acoustic_m), 0.75**2
    )
    lost = insertion_one(admittance, places(even_chain(hz, 4, 0.3), [2]).transfer(0, 0))
    assert 20.0 * np.log10(np.abs(lost[0, 0])) == pytest.approx(loss_db, abs=0.1)


# Loss of energy between 131.4 and 145.2 Hz by a branch at some distance (m) from the open outlet of
# a 3 m pipe of 60 mm, sound at 420 m/s, attenuation 0.012 Np/m, branch of half the area: worked out
# for this project with other code. Anechoic source; source of a twentieth of the pipe's impedance.
PLACEMENT_DB = {
    0.1: (4.8, 11.7),
    0.3: (15.9, 27.4),
    0.5: (19.4, 34.5),
    0.7: (20.5, 36.7),
    0.9: (19.9, 35.6),
    1.1: (17.3, 30.7),
    1.3: (8.6, 17.6),
    1.5: (5.9, 4.5),
    1.7: (6.9, 19.0),
    1.9: (16.7, 31.4),
    2.1: (19.5, 35.9),
    2.3: (20.1, 36.7),
}
PLENUM_LIKE = (0.05 - 1.0) / (0.05 + 1.0)


@pytest.mark.parametrize(("column", "reflection"), [(0, 0.0), (1, PLENUM_LIKE)])
def test_place_along_the_pipe_counts_as_tabulated(column: int, reflection: float) -> None:
    speed_m_s, tuned_hz, attenuation = 420.0, 138.3, 0.012
    hz = np.linspace(0.95, 1.05, 41) * tuned_hz
    open_end = radiation_impedance(hz, 0.03, speed_m_s, 1.0)
    chain = even_chain(
        hz,
        30,
        0.1,
        speed_m_s=speed_m_s,
        attenuation_np_m=attenuation,
        reflection=reflection,
        outlet=open_end,
    )
    wave_per_m = np.asarray(attenuation + 2j * np.pi * hz / speed_m_s, dtype=np.complex128)
    admittance = duct.closed_branch_admittance(
        np.tanh(wave_per_m * speed_m_s / 4.0 / tuned_hz), 0.5
    )
    numbers = [30 - round(distance / 0.1) for distance in PLACEMENT_DB]
    here = places(chain, numbers)
    before = np.sum(np.abs(outlet_flow(chain)[0]) ** 2)
    for row, wanted_db in enumerate(PLACEMENT_DB.values()):
        after = outlet_flow(chain) / insertion_one(admittance, here.transfer(row, row))
        lost_db = 10.0 * np.log10(before / np.sum(np.abs(after) ** 2))
        assert lost_db == pytest.approx(wanted_db[column], abs=0.5)


# Least loss half-way between two branches tuned to 95 and 105 Hz, gas at 400 degC, bore of about
# 60 mm, by their spacing (m): worked out for this project with Bessel-function wall losses. Here
# the losses are the wide tube's, within 0.2 dB of those. Wider spacings are left out: there the
# least loss is no longer half-way, but at whatever edge one looks at.
STAGGERED_DB = {
    0.5: {0.0: 7.0, 0.05: 7.4, 0.10: 8.6, 0.15: 10.4},
    1.0: {0.0: 10.8, 0.05: 12.3},
}


@pytest.mark.parametrize("ratio", STAGGERED_DB)
def test_two_branches_at_one_station_cancel_each_other(ratio: float) -> None:
    branch_m, gas = 0.060, exhaust_gas(673.15)
    hz = np.linspace(96.0, 104.0, 321)
    pipe_per_m = duct.propagation_per_m(hz, gas, branch_m / np.sqrt(ratio))
    branch_per_m = duct.propagation_per_m(hz, gas, branch_m)
    low, high = (
        duct.closed_branch_admittance(
            np.tanh(branch_per_m * duct.quarter_wave_length_m(tuned_hz, gas, branch_m)), ratio
        )
        for tuned_hz in (95.0, 105.0)
    )
    for spacing_m, wanted_db in STAGGERED_DB[ratio].items():
        shape = (3, 1, hz.size)
        lengths = np.array([0.2, spacing_m, 0.2])[:, None, None]
        chain = Chain(
            phase=pipe_per_m * lengths,
            impedance=np.ones((3, 1, 1), dtype=np.complex128),
            two_port={},
            step={},
            reflection=np.zeros(shape[1:], dtype=np.complex128),
            outlet=np.ones(shape[1:], dtype=np.complex128),
        )
        here = places(chain, [1, 2])
        lost = pair_lost(low, high, here, 0, 1)
        assert 10.0 * np.log10(lost.min()) == pytest.approx(wanted_db, abs=0.5)


@settings(max_examples=30)
@given(seed=st.integers(0, 10_000), first=st.integers(0, 6), apart=st.integers(0, 4))
def test_branches_are_what_multiplying_out_all_matrices_gives(
    seed: int, first: int, apart: int
) -> None:
    """Any chain, with losses, steps in series and any source and outlet."""
    rng = np.random.default_rng(seed)
    second = min(first + apart, 6)

    def drawn(*shape: int) -> ComplexArray:
        turned = np.exp(1j * rng.uniform(-1.5, 1.5, shape))
        return np.asarray(rng.uniform(0.1, 1.5, shape) * turned, dtype=np.complex128)

    chain = Chain(
        phase=drawn(7, 2, 3),
        impedance=np.abs(drawn(7, 2, 1)),
        two_port={},
        step=dict(enumerate(drawn(7, 2, 3))),
        reflection=0.6 * drawn(2, 3),
        outlet=drawn(2, 3),
    )
    one, two = drawn(2, 3), drawn(2, 3)
    here = places(chain, [first, second] if second > first else [first])
    last = min(second - first, 1)
    lost = pair_lost(one, two, here, 0, last)
    ours = power(outlet_flow(chain)) / lost
    by_hand = _multiplied_out(chain, {first: [one], second: [two]}, first == second, one, two)
    np.testing.assert_allclose(ours, power(by_hand), rtol=1e-8)


def test_a_piece_told_by_its_matrix_is_that_piece() -> None:
    rng = np.random.default_rng(3)
    phase = 0.1 + 1j * rng.uniform(0.1, 1.5, (5, 2, 3))
    z = rng.uniform(0.5, 2.0, (5, 2, 1))
    plain = Chain(
        phase=phase,
        impedance=z,
        two_port={},
        step={},
        reflection=np.full((2, 3), 0.3 + 0.2j),
        outlet=np.full((2, 3), 0.1 + 0.4j),
    )
    told = {
        piece: duct.Matrix(
            a=np.cosh(phase[piece]),
            b=z[piece] * np.sinh(phase[piece]),
            c=np.sinh(phase[piece]) / z[piece],
            d=np.cosh(phase[piece]),
        )
        for piece in (1, 4)
    }
    other = replace(plain, two_port=told)
    np.testing.assert_allclose(outlet_flow(other), outlet_flow(plain), rtol=1e-12)
    ours, theirs = places(other, [0, 2, 3]), places(plain, [0, 2, 3])
    np.testing.assert_allclose(ours.from_source, theirs.from_source, rtol=1e-12)
    np.testing.assert_allclose(ours.to_outlet, theirs.to_outlet, rtol=1e-12)


@given(turn=st.floats(-30.0, 30.0), grow=st.floats(-5.0, 5.0), exact=st.booleans())
def test_the_exponential_is_that_of_numpy(turn: float, grow: float, exact: bool) -> None:
    exponent = np.array([grow + 1j * turn, 0.0, 1e-9j], dtype=np.complex128)
    single = exponent.astype(np.complex64)
    ours = exponential(exponent if exact else single)
    rtol = 1e-13 if exact else 1e-5
    np.testing.assert_allclose(ours, np.exp(exponent if exact else single), rtol=rtol)


def _multiplied_out(
    chain: Chain,
    branches: dict[int, list[ComplexArray]],
    same: bool,
    one: ComplexArray,
    two: ComplexArray,
) -> ComplexArray:
    pressure, flow = chain.outlet, np.ones_like(chain.outlet)
    at = {**branches, **({next(iter(branches)): [one, two]} if same else {})}
    for piece in reversed(range(7)):
        phase, z = chain.phase[piece], chain.impedance[piece]
        pressure, flow = (
            np.cosh(phase) * pressure + z * np.sinh(phase) * flow,
            np.sinh(phase) / z * pressure + np.cosh(phase) * flow,
        )
        for admittance in at.get(piece, []):
            flow = flow + admittance * pressure
        pressure = pressure + chain.step[piece] * flow
    sent = (pressure + chain.impedance[0] * flow) / 2.0
    back = (pressure - chain.impedance[0] * flow) / 2.0
    return np.asarray(1.0 / (sent - chain.reflection * back))
