"""Engines and cars drawn at random: cylinders that differ, pipes, cabin modes, intake.

Sizes are judgement: the spread of half orders and the scatter from cycle to cycle were laid beside
those measured on recorded engines (tests/benchmarks/road_calibration.py).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from tests.roads.spec import (
    CarSpec,
    Cause,
    Cylinder,
    EngineSpec,
    Resonance,
    Scatter,
    Way,
)

LAYOUTS = ("3", "4", "4-boxer", "5", "6", "6-vee", "8-cross", "8-flat")
# Which bank fires, in firing order: a cross-plane V8 1-8-4-3-6-5-7-2 with odd numbers on one side;
# the others by turns; common practice, no source.
_BANKS = {
    "4-boxer": (0, 1, 0, 1),
    "6-vee": (0, 1, 0, 1, 0, 1),
    "8-cross": (0, 1, 1, 0, 1, 0, 0, 1),
    "8-flat": (0, 1, 0, 1, 0, 1, 0, 1),
}


def random_engine(
    rng: np.random.Generator, layout: str, climb_db: float, low_rpm: float, high_rpm: float
) -> EngineSpec:
    """An engine whose level climbs by ``climb_db`` over the range, evenly or not."""
    count = int(layout.split("-")[0])
    banks = _BANKS.get(layout, (0,) * count)
    # From an engine that runs evenly to a microphone that hears one runner before the others.
    level_db = float(np.exp(rng.uniform(np.log(0.3), np.log(5.0))))
    timing, width = rng.uniform(0.5, 5.0), rng.uniform(0.02, 0.2)
    echo, delay_s = rng.uniform(0.1, 0.9), float(np.exp(rng.uniform(np.log(5e-5), np.log(2e-3))))
    cylinders = tuple(
        Cylinder(
            fires_deg=720.0 * index / count,
            bank=banks[index],
            level_db=float(level_db * rng.normal()),
            timing_deg=float(timing * rng.normal()),
            width_share=float(np.clip(width * rng.normal(), -0.4, 0.6)),
            echo=float(echo * rng.uniform(-1.0, 1.0)),
            echo_s=float(rng.uniform(0.0015, 0.02)),
            delay_s=float(delay_s * rng.uniform(0.0, 2.0)),
        )
        for index in range(count)
    )
    return EngineSpec(
        layout=layout,
        cylinders=cylinders,
        pulse_deg=float(rng.uniform(10.0, 25.0)),
        pulse_rpm_exponent=float(rng.uniform(0.1, 0.5)),
        climb=_climb(rng, climb_db, low_rpm, high_rpm),
        overrun_db=float(rng.uniform(-14.0, -2.0)),
        scatter=_scatter(rng),
        flow_noise_db=float(rng.uniform(-40.0, -14.0)),
        pops_per_s=float(rng.choice([0.0, 0.0, 1.0, 4.0])),
    )


def _scatter(rng: np.random.Generator) -> Scatter:
    """From an engine that runs like a clock to one that hunts."""
    rough = float(np.exp(rng.uniform(np.log(0.25), np.log(2.0))))
    return Scatter(
        level_db=rough * float(rng.uniform(0.4, 1.2)),
        timing_deg=rough * float(rng.uniform(0.5, 2.5)),
        width_share=rough * float(rng.uniform(0.01, 0.04)),
        wander_db=rough * float(rng.uniform(0.2, 0.8)),
        wander_s=float(rng.uniform(0.5, 4.0)),
    )


def _climb(
    rng: np.random.Generator, climb_db: float, low_rpm: float, high_rpm: float
) -> tuple[tuple[float, float], ...]:
    """Rising points with steps of unlike size: neither a line nor a power of the speed."""
    steps = rng.dirichlet(np.full(6, 2.0)) * climb_db
    level_db = np.concatenate([[0.0], np.cumsum(steps)]) - climb_db / 2.0
    rpm = np.linspace(0.8 * low_rpm, 1.05 * high_rpm, 7)
    return tuple(zip(rpm.tolist(), level_db.tolist(), strict=True))


def resonance(
    cause: Cause, frequency_hz: float, height_db: float, width: float, phase_rad: float = 0.0
) -> Resonance:
    """A resonance that lifts by ``height_db``; ``width`` is one over its quality."""
    gain = float(10.0 ** (height_db / 20.0) - 1.0)
    return Resonance(
        cause=cause, frequency_hz=frequency_hz, gain=gain, q=1.0 / width, phase_rad=phase_rad
    )


def random_car(rng: np.random.Generator, drones: tuple[Resonance, ...]) -> CarSpec:
    """Ways into the cabin; the drones stand among the lesser resonances of their kind."""

    def of(cause: Cause) -> tuple[Resonance, ...]:
        return tuple(item for item in drones if item.cause is cause)

    exhaust = Way(
        high_pass_hz=float(np.exp(rng.uniform(np.log(8.0), np.log(60.0)))),
        low_pass_hz=float(np.exp(rng.uniform(np.log(80.0), np.log(450.0)))),
        resonances=of(Cause.EXHAUST) + _pipe(rng),
    )
    intake = Way(
        level_db=float(rng.uniform(-24.0, -6.0)),
        high_pass_hz=float(rng.uniform(25.0, 60.0)),
        low_pass_hz=float(rng.uniform(150.0, 500.0)),
        resonances=of(Cause.INTAKE) + _small(rng, Cause.INTAKE, 1, (70.0, 260.0)),
        delay_s=float(rng.uniform(0.0, 0.004)),
    )
    structure = Way(
        level_db=float(rng.uniform(-30.0, -14.0)),
        high_pass_hz=10.0,
        low_pass_hz=float(rng.uniform(60.0, 150.0)),
        resonances=of(Cause.STRUCTURE) + _small(rng, Cause.STRUCTURE, 1, (20.0, 120.0)),
    )
    return CarSpec(
        exhaust=exhaust,
        intake=intake,
        structure=structure,
        cabin=of(Cause.CABIN) + _modes(rng),
        bank_level_db=float(rng.normal() * 1.0),
        bank_delay_s=float(rng.uniform(0.0, 0.0015)),
        gas_swing=float(rng.uniform(0.01, 0.06)),
        gas_s=float(rng.uniform(5.0, 40.0)),
    )


def smooth_car(rng: np.random.Generator) -> CarSpec:
    """A car without any resonance, whose banks arrive together."""
    car = random_car(rng, ())
    assert car.intake is not None
    assert car.structure is not None
    return replace(
        car,
        exhaust=replace(car.exhaust, resonances=(), low_pass_hz=float(rng.uniform(300, 700))),
        intake=replace(car.intake, resonances=(), level_db=-40.0),
        structure=replace(car.structure, resonances=(), level_db=-40.0),
        cabin=(),
        bank_delay_s=0.0,
    )


def _pipe(rng: np.random.Generator) -> tuple[Resonance, ...]:
    """Lesser resonances of the tail pipe, one after the other as of a pipe open at both ends."""
    first_hz = float(rng.uniform(50.0, 160.0))
    count = int(rng.integers(2, 7))
    return tuple(
        resonance(
            Cause.EXHAUST,
            first_hz * number * float(rng.uniform(0.97, 1.03)),
            float(rng.uniform(1.0, 13.0)),
            float(rng.uniform(0.04, 0.2)),
            float(rng.uniform(-0.8, 0.8)),
        )
        for number in range(1, count + 1)
    )


def _modes(rng: np.random.Generator) -> tuple[Resonance, ...]:
    """Cabin modes: whether they add or take, and where the hole lies, hangs on the seat."""
    return tuple(
        Resonance(
            cause=Cause.CABIN,
            frequency_hz=float(rng.uniform(50.0, 150.0)),
            gain=float(rng.uniform(0.2, 1.2)),
            q=float(rng.uniform(4.0, 14.0)),
            phase_rad=float(rng.uniform(-np.pi, np.pi)),
        )
        for _ in range(int(rng.integers(1, 4)))
    )


def _small(
    rng: np.random.Generator, cause: Cause, count: int, range_hz: tuple[float, float]
) -> tuple[Resonance, ...]:
    return tuple(
        resonance(
            cause,
            float(rng.uniform(*range_hz)),
            float(rng.uniform(3.0, 14.0)),
            float(rng.uniform(0.06, 0.3)),
        )
        for _ in range(count)
    )
