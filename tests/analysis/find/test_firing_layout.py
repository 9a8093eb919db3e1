"""The layout of the engine, read from drives whose pulses are known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.acoustics.firing import firing_amplitudes
from analysis.find.drone import find_drone
from analysis.find.firing_layout import firing_layout
from tests.drives import generate, random_spec
from tests.drives.spec import DriveSpec, even_fire


def spec_of(engine: str, seed: int) -> DriveSpec:
    spec = random_spec(np.random.default_rng([991, seed]), bands=seed % 2, engine=engine)
    return replace(spec, start_rpm=spec.start_rpm, legs=spec.legs[:4])


def with_pulses(spec: DriveSpec, firing_deg: tuple[float, ...]) -> DriveSpec:
    return replace(spec, source=replace(spec.source, firing_deg=firing_deg))


def hint(spec: DriveSpec) -> str:
    return " ".join(firing_layout(find_drone(generate(spec, 5).drive())))


@pytest.mark.parametrize("engine", ["4", "6", "8"])
def test_an_even_engine_gives_no_hint(engine: str) -> None:
    assert hint(spec_of(engine, int(engine))) == ""


@pytest.mark.parametrize("engine", ["4", "6", "8"])
def test_a_dead_cylinder(engine: str) -> None:
    spec = spec_of(engine, int(engine))
    assert "misfire" in hint(with_pulses(spec, spec.source.firing_deg[1:]))


@pytest.mark.parametrize("engine", ["4", "6", "8"])
def test_every_second_cylinder(engine: str) -> None:
    spec = spec_of(engine, int(engine))
    assert "every second cylinder" in hint(with_pulses(spec, spec.source.firing_deg[::2]))


def test_one_bank_of_a_cross_plane_v8() -> None:
    assert "cross-plane V8" in hint(spec_of("8-bank", 3))


def test_a_dead_cylinder_gives_all_orders_alike() -> None:
    """The premise, from the pulse sums: 1 / (N - 1) of the firing order, in every half order."""
    for cylinders in (4, 6, 8):
        pulses = even_fire(cylinders)[1:]
        firing = cylinders / 2.0
        lacking = np.arange(0.5, firing, 0.5)
        amplitude = np.abs(firing_amplitudes(pulses, lacking))
        of_firing = float(np.abs(firing_amplitudes(pulses, [firing]))[0])
        assert amplitude / of_firing == pytest.approx(1.0 / (cylinders - 1.0))
