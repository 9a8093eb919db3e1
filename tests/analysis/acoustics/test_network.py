"""Branches on a duct network of any shape, against a dense solver."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.acoustics import duct
from analysis.acoustics.network import (
    Duct,
    Network,
    OpenEnd,
    Source,
    heard,
    look_at,
)
from analysis.acoustics.two_port import (
    Element,
    InSeries,
    Row,
    Tube,
    exponential,
)
from analysis.basics.arrays import ComplexArray
from tests.analysis.acoustics.networks import ONE, lost

# Node pairs of the ducts, nodes with a source, nodes with an open end.
SHAPES = {
    "chain": (((0, 1), (1, 2)), (0,), (2,)),
    "X": (((0, 2), (1, 2), (2, 3), (2, 4)), (0, 1), (3, 4)),
    "balance pipe": (((0, 2), (1, 3), (2, 4), (3, 5), (2, 3)), (0, 1), (4, 5)),
    "two into one": (((0, 2), (1, 2), (2, 3)), (0, 1), (3,)),
    "one into two": (((0, 1), (1, 2), (1, 3)), (0,), (2, 3)),
    "a loop": (((0, 1), (1, 2), (1, 2), (2, 3)), (0,), (3,)),
}


@settings(max_examples=60)
@given(seed=st.integers(0, 10_000), shape=st.sampled_from(sorted(SHAPES)), count=st.integers(1, 4))
def test_branches_are_what_a_network_with_them_in_it_gives(
    seed: int, shape: str, count: int
) -> None:
    """Any topology, with losses, steps in series and any sources and open ends: the branches as
    admittances at nodes of their own, all solved densely at once."""
    rng = np.random.default_rng(seed)

    def drawn(*size: int) -> ComplexArray:
        turned = np.exp(1j * rng.uniform(-1.4, 1.4, size))
        return np.asarray(rng.uniform(0.2, 1.5, size) * turned, dtype=np.complex128)

    def element() -> Element:
        tube = Tube(phase=0.3 * drawn(2, 3), impedance=np.abs(drawn(2, 1)))
        return tube if rng.uniform() < 0.7 else Row((tube, InSeries(impedance=drawn(2, 3))))

    pairs, sources, open_ends = SHAPES[shape]
    network = Network(
        ducts=tuple(Duct(start=a, end=b, elements=[element() for _ in range(3)]) for a, b in pairs),
        sources=tuple(Source(node=n, flow=drawn(2, 3), admittance=drawn(2, 3)) for n in sources),
        open_ends=tuple(
            OpenEnd(node=n, impedance=drawn(2, 3), weight=drawn(2, 3)) for n in open_ends
        ),
    )
    spots = sorted({(int(rng.integers(len(pairs))), int(rng.integers(3))) for _ in range(count)})
    admittances = [drawn(2, 3) for _ in spots]
    flow, here = look_at(network, spots)
    np.testing.assert_allclose(heard(network), flow, rtol=1e-10)
    branches = [(y, here.spot(row)) for row, y in enumerate(admittances)]
    by_hand = _dense(network, dict(zip(spots, admittances, strict=True)))
    np.testing.assert_allclose(flow / lost(here, branches), by_hand, rtol=1e-8)
    whole = flow / lost(here, branches, in_full=True)
    np.testing.assert_allclose(whole, by_hand, rtol=1e-8)


def test_only_a_chain_is_one_way() -> None:
    def of(shape: str) -> bool:
        pairs, sources, open_ends = SHAPES[shape]
        return Network(
            ducts=tuple(Duct(start=a, end=b, elements=[]) for a, b in pairs),
            sources=tuple(Source(node=n, flow=ONE, admittance=ONE) for n in sources),
            open_ends=tuple(OpenEnd(node=n, impedance=ONE, weight=ONE) for n in open_ends),
        ).is_one_way

    assert [shape for shape in SHAPES if of(shape)] == ["chain"]


@given(turn=st.floats(-30.0, 30.0), grow=st.floats(-5.0, 5.0), exact=st.booleans())
def test_the_exponential_is_that_of_numpy(turn: float, grow: float, exact: bool) -> None:
    exponent = np.array([grow + 1j * turn, 0.0, 1e-9j], dtype=np.complex128)
    single = exponent.astype(np.complex64)
    ours = exponential(exponent if exact else single)
    rtol = 1e-13 if exact else 1e-5
    np.testing.assert_allclose(ours, np.exp(exponent if exact else single), rtol=rtol)


def _dense(network: Network, branches: dict[tuple[int, int], ComplexArray]) -> ComplexArray:
    """Every element between two nodes of its own, numpy's solver for all of it."""
    shape = (2, 3)
    count = network.n_nodes + sum(len(duct.elements) - 1 for duct in network.ducts)
    whole = np.zeros((*shape, count, count), dtype=np.complex128)
    flows = np.zeros((*shape, count, 1), dtype=np.complex128)
    fresh = iter(range(network.n_nodes, count))
    for number, each in enumerate(network.ducts):
        here = each.start
        for index, element in enumerate(each.elements):
            last = index == len(each.elements) - 1
            there = each.end if last else next(fresh)
            whole[..., here, here] += branches.get((number, index), 0.0)
            whole_of = element.after(duct.Matrix(a=ONE, b=0.0 * ONE, c=0.0 * ONE, d=ONE))
            a, b, c, d = whole_of.a, whole_of.b, whole_of.c, whole_of.d
            whole[..., here, here] += d / b
            whole[..., there, there] += a / b
            whole[..., here, there] += c - d * a / b
            whole[..., there, here] -= 1.0 / b
            here = there
    for source in network.sources:
        whole[..., source.node, source.node] += source.admittance
        flows[..., source.node, 0] += source.flow
    for end in network.open_ends:
        whole[..., end.node, end.node] += 1.0 / end.impedance
    pressure = np.linalg.solve(whole, flows)[..., 0]
    out = [end.weight / end.impedance * pressure[..., end.node] for end in network.open_ends]
    return np.asarray(np.sum(out, axis=0))
