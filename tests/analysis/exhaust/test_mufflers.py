"""Mufflers as they are guessed: every build, at every size that a car has."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.acoustics.gas import exhaust_gas
from analysis.acoustics.muffler_parts import Medium, circle_m2
from analysis.basics.arrays import FloatArray
from analysis.exhaust.fitting import meet, tempered_choice
from analysis.exhaust.line import ExhaustLine, cut, on_pipe
from analysis.exhaust.muffler_guesses import two_port
from analysis.exhaust.mufflers import UNKNOWN
from analysis.exhaust.prior import Prior
from analysis.exhaust.sections import KINDS, MUFFLERS, PIPE, Section, SectionKind
from tests.benchmarks.garage_possible import one_pipe

HZ = np.linspace(35.0, 280.0, 12)
EVERY = {**MUFFLERS, "chamber": KINDS["chamber"], "catalyst": KINDS["catalyst"]}


def with_one(
    kind: SectionKind, *, shell_m: float = 0.18, length_m: float = 0.45, outlet_m: float = 0.06
) -> ExhaustLine:
    sections = (
        Section(kind=PIPE, length_m=1.5, inner_diameter_m=0.06),
        Section(kind=kind, length_m=length_m, inner_diameter_m=shell_m),
        Section(kind=PIPE, length_m=1.5, inner_diameter_m=outlet_m),
    )
    return one_pipe(sections)


def medium(count: int) -> Medium:
    gas = exhaust_gas(np.full(count, 600.0)).spread()
    return Medium(frequency_hz=HZ, gas=gas, flow=np.full((count, HZ.size), 0.06 * circle_m2(0.06)))


@pytest.mark.parametrize("kind", EVERY)
@settings(max_examples=15, deadline=None)
@given(
    shell=st.floats(1.12, 5.0),
    length_m=st.floats(0.1, 1.2),
    outlet=st.floats(0.6, 1.0),
    spread=st.floats(0.0, 4.0),
)
def test_every_guess_is_a_passive_muffler(
    kind: str, shell: float, length_m: float, outlet: float, spread: float
) -> None:
    """Whatever is drawn inside: no sound is made, and both ways are alike."""
    line = with_one(EVERY[kind], shell_m=0.06 * shell, length_m=length_m, outlet_m=0.06 * outlet)
    prior = Prior(line=line)
    drawn = spread * np.random.default_rng(2).standard_normal((12, prior.size))
    members, at = prior.members(drawn), medium(12)
    lengths_m = members.stretch[:, 1] * length_m
    got = two_port(line, 1, members.build[:, 1], members.inside[:, 1], lengths_m, at)
    forth, back = got.a * got.d, got.b * got.c
    # a muffler that lets a thousandth through has products of a million
    assert np.all(np.abs(forth - back - 1.0) <= 1e-7 * np.maximum(np.abs(forth), 1.0))
    z1, z2 = at.impedance(circle_m2(0.06)), at.impedance(circle_m2(0.06 * outlet))
    total = got.a + got.b / z2 + z1 * (got.c + got.d / z2)
    echo = (got.a + got.b / z2 - z1 * (got.c + got.d / z2)) / total
    passed = np.abs(2.0 / total) ** 2 * z1 / z2
    assert np.all(np.abs(echo) ** 2 + passed <= 1.0 + 1e-9)


def test_guesses_of_an_unknown_muffler_are_of_all_kinds_each_as_if_alone() -> None:
    line = with_one(MUFFLERS[UNKNOWN])
    prior = Prior(line=line)
    members = prior.members(np.random.default_rng(1).standard_normal((400, prior.size)))
    shares = np.bincount(members.build[:, 1]) / 400
    np.testing.assert_allclose(shares, [w for _, w in MUFFLERS[UNKNOWN].builds], atol=0.06)
    lengths_m = members.stretch[:, 1] * 0.45
    build, inside = members.build[:, 1], members.inside[:, 1]
    together = two_port(line, 1, build, inside, lengths_m, medium(400))
    for index in range(shares.size):
        one = np.flatnonzero(build == index)[:1]
        alone = two_port(line, 1, build[one], inside[one], lengths_m[one], medium(1))
        np.testing.assert_allclose(together.b[one], alone.b, rtol=1e-12)


def test_three_tubes_do_not_go_into_a_narrow_shell() -> None:
    line = with_one(MUFFLERS[UNKNOWN], shell_m=0.11)
    prior = Prior(line=line)
    members = prior.members(np.random.default_rng(1).standard_normal((400, prior.size)))
    assert set(members.build[:, 1]) == {0, 4}  # straight-through, and a chamber
    told = Prior(line=with_one(MUFFLERS["three-pass"], shell_m=0.11))
    assert set(told.members(np.zeros((1, told.size))).build[0]) == {0}


def test_a_fit_does_not_walk_from_one_kind_to_another() -> None:
    prior = Prior(line=with_one(MUFFLERS[UNKNOWN]))
    assert prior.choices.tolist() == [7 + 3]  # after what is known of gas, source and lengths
    start = np.random.default_rng(1).standard_normal((5, 3))

    def left(at: FloatArray, wanted: FloatArray) -> FloatArray:
        return np.asarray(wanted - at @ np.array([[1.0], [2.0], [3.0]]))

    wanted = np.full((5, 1), 9.0)
    fitted = meet(left, start, wanted, 6, np.array([0, 2]), lambda _: None)
    np.testing.assert_array_equal(fitted[:, 1], start[:, 1])
    assert np.all(np.abs(left(fitted, wanted)) < np.abs(left(start, wanted)))


def test_no_branch_goes_before_a_catalyst() -> None:
    """42 U.S.C. 7522(a)(3): emission devices, and the sensors that watch them, stay undisturbed."""
    pieces, empty = (cut(with_one(EVERY[kind]), 0.04) for kind in ("catalyst", "chamber"))
    assert pieces.position_m[on_pipe(pieces)].min() > 1.5 + 0.45
    assert empty.position_m[on_pipe(empty)].min() < 0.1


def test_types_differ_where_it_matters() -> None:
    """The same shell: at a drone's pitch a wave sees another muffler in each."""
    count = 200
    lost = {}
    for kind in ("chamber", "straight-through", "three-pass", "chambered", "catalyst"):
        line = with_one(EVERY[kind])
        prior = Prior(line=line)
        members = prior.members(np.random.default_rng(1).standard_normal((count, prior.size)))
        at = medium(count)
        lengths_m = members.stretch[:, 1] * 0.45
        got = two_port(line, 1, members.build[:, 1], members.inside[:, 1], lengths_m, at)
        z = at.impedance(circle_m2(0.06))
        passed = np.abs(got.a + got.b / z + z * got.c + got.d) / 2.0
        lost[kind] = np.median(20.0 * np.log10(passed), axis=0)
    for one, other in (
        ("chamber", "three-pass"),
        ("chamber", "chambered"),
        ("chamber", "catalyst"),
    ):
        assert np.abs(lost[one] - lost[other]).max() > 2.0


def test_every_kind_keeps_its_share_of_the_guesses_to_fit() -> None:
    """Those of one kind are all far off before they are fitted, which says nothing against it."""
    kind = np.repeat([0, 1], [300, 100])
    misfit = np.where(kind == 0, 10.0, 500.0) + np.arange(400.0) % 7
    taken = tempered_choice(misfit, kind, 40, np.random.default_rng(4))
    assert 5 <= np.count_nonzero(kind[taken] == 1) <= 15  # a quarter of 40
    one_kind = tempered_choice(misfit, np.zeros_like(kind), 40, np.random.default_rng(4))
    assert not np.any(kind[one_kind] == 1)
