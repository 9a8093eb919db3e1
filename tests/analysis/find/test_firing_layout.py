"""The layout of the engine, read from drives whose pulses are known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.drive import Engine
from analysis.find.drone import find_drone
from analysis.find.firing_layout import firing_layout
from analysis.find.sound.order_tracking import ORDERS
from analysis.words.quantities import engine_name
from tests.analysis.made_findings import grid, make_curve, make_findings
from tests.drives import generate, random_spec
from tests.drives.spec import CROSS_PLANE_BANK_DEG, DriveSpec, even_fire

EVERY_ENGINE = [Engine(cylinders=n, stroke_cycle=s) for s in (4, 2) for n in range(1, 17)]


def spec_of(engine: str, seed: int) -> DriveSpec:
    spec = random_spec(np.random.default_rng([991, seed]), bands=seed % 2, engine=engine)
    return replace(spec, start_rpm=spec.start_rpm, legs=spec.legs[:4])


def with_pulses(spec: DriveSpec, firing_deg: tuple[float, ...]) -> DriveSpec:
    return replace(spec, source=replace(spec.source, firing_deg=firing_deg))


def hint(spec: DriveSpec) -> str:
    return " ".join(firing_layout(find_drone(generate(spec, 5).drive())))


def strengths(firing_deg: tuple[float, ...], orders: FloatArray) -> FloatArray:
    """How strongly equal, short pulses at these crank angles excite each order."""
    turned = np.exp(-1j * np.outer(orders, np.deg2rad(firing_deg)))
    return np.asarray(np.abs(turned.mean(axis=1)))


def hint_of_pulses(engine: Engine, firing_deg: tuple[float, ...]) -> str:
    """From the pulse sums alone, each order at its level over a little noise."""
    rpm = grid(2000.0, 2200.0)
    strength = strengths(firing_deg, ORDERS) ** 2
    curves = [
        make_curve(order, np.full(rpm.size, ms), rpm, passes=1, background_ms=1e-4)
        for order, ms in zip(ORDERS.tolist(), strength, strict=True)
    ]
    return " ".join(firing_layout(make_findings(curves, engine=engine)))


@pytest.mark.parametrize("engine", EVERY_ENGINE, ids=engine_name)
def test_every_engine_there_is(engine: Engine) -> None:
    """Even, with a dead cylinder, and with every second one alone."""
    pulses = even_fire(round(2.0 * engine.firing_order))  # of two turns
    one_dead = tuple(deg for k, deg in enumerate(pulses) if k % engine.cylinders)
    can_tell = engine.cylinders > 2 and engine.firing_order <= ORDERS[-1]
    assert hint_of_pulses(engine, pulses) == ""
    if engine.cylinders > 1:
        assert ("misfire" in hint_of_pulses(engine, one_dead)) == can_tell
    if engine.cylinders % 2 == 0:
        assert ("every second" in hint_of_pulses(engine, pulses[::2])) == can_tell


def test_an_even_engine_gives_no_hint() -> None:
    assert hint(spec_of("8", 8)) == ""


@pytest.mark.parametrize("engine", ["4", "6"])
def test_a_dead_cylinder(engine: str) -> None:
    spec = spec_of(engine, int(engine))
    assert "misfire" in hint(with_pulses(spec, spec.source.firing_deg[1:]))


def test_every_second_cylinder() -> None:
    spec = spec_of("6", 6)
    assert "every second cylinder" in hint(with_pulses(spec, spec.source.firing_deg[::2]))


def test_one_bank_of_a_cross_plane_v8() -> None:
    assert "cross-plane V8" in hint(spec_of("8-bank", 3))


def test_the_premise_of_one_bank() -> None:
    """By hand: cos(pi/8) / sqrt 2 = 0.6533 of order 4, sin(pi/8) / sqrt 2 = 0.2706."""
    found = strengths(CROSS_PLANE_BANK_DEG, np.arange(0.5, 4.1, 0.5))
    assert found == pytest.approx([0.2706, 0.0, 0.6533, 0.0, 0.6533, 0.0, 0.2706, 1.0], abs=5e-5)


def test_the_premise_of_a_dead_cylinder() -> None:
    """1 / (N - 1) of the firing order, in every half order."""
    for cylinders in (4, 6, 8):
        pulses = even_fire(cylinders)[1:]
        firing = cylinders / 2.0
        lacking = np.arange(0.5, firing, 0.5)
        (of_firing,) = strengths(pulses, np.array([firing]))
        assert strengths(pulses, lacking) / of_firing == pytest.approx(1.0 / (cylinders - 1.0))
