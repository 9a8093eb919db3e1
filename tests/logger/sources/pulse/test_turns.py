"""Pulses for each turn of the crankshaft: worked out right, or not at all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from logger.sources.pulse.turns import ANY_CYLINDERS, possible_pulses
from tests.drives.draw import random_spec
from tests.drives.generate import generate
from tests.drives.motion import drive_motion
from tests.drives.spec import Leg
from tests.logger.sources.pulse.channel import Ignition, make_channel
from tests.logger.sources.pulse.drives import Pickup, errors, listen, pickup

RATE_HZ = 48_000
IDLE_THEN_DRIVE = (
    Leg(duration_s=12.0, end_rpm=820.0, gear=None),
    Leg(duration_s=5.0, end_rpm=5200.0, gear=2),
    Leg(duration_s=3.0, end_rpm=5200.0, gear=2),
)
CRUISE = (Leg(duration_s=40.0, end_rpm=2300.0, gear=4),)


@pytest.mark.parametrize(
    ("cylinders", "turns_per_cycle", "expected"),
    [  # common practice, no source: one plug lead, wasted spark, one or two coils
        (None, 2, ANY_CYLINDERS),
        (1, 2, (0.5, 1.0)),
        (3, 2, (0.5, 1.0, 1.5)),
        (4, 2, (0.5, 1.0, 2.0)),
        (6, 2, (0.5, 1.0, 1.5, 3.0)),
        (8, 2, (0.5, 1.0, 2.0, 4.0)),
        (2, 1, (1.0, 2.0)),
    ],
)
def test_what_occurs_in_practice(
    cylinders: int | None, turns_per_cycle: int, expected: tuple[float, ...]
) -> None:
    assert possible_pulses(cylinders, turns_per_cycle) == expected


def test_one_plug_lead_is_known_from_a_slow_idle_and_nothing_is_lost() -> None:
    """With one pulse a turn or more the engine would idle at 410 rpm or less."""
    made = pickup(IDLE_THEN_DRIVE, 820.0, Ignition(pulses_per_turn=0.5))
    heard = listen(made.stereo(), RATE_HZ)
    assert heard.source.description.startswith("0.5 pulses")
    assert errors(heard, made).max() < 0.01
    assert heard.frames[0] < 1.0 * RATE_HZ  # held back, not thrown away
    assert not heard.troubles


def test_wasted_spark_of_a_four_is_known_from_a_fast_sweep_too() -> None:
    """Idle leaves 0.5 and 1; 5,200 rpm would be 10,400 with half a pulse."""
    made = pickup(IDLE_THEN_DRIVE, 820.0, Ignition(pulses_per_turn=1.0))
    heard = listen(made.stereo(), RATE_HZ, cylinders=4)
    assert heard.source.description.startswith("1 pulses")
    assert errors(heard, made).max() < 0.01


def test_what_cannot_be_known_is_said_and_gives_no_rpm() -> None:
    made = pickup(CRUISE, 2300.0, Ignition(pulses_per_turn=1.0))
    heard = listen(made.stereo(), RATE_HZ)
    assert not heard.readings
    assert heard.codes == ["pulses_per_turn_unknown"]
    message = heard.troubles[0].message
    assert "--rpm pulse:2@N" in message
    assert "0.5 for a clip on the lead of one plug" in message
    assert "--cylinders" in message


def test_a_number_that_cannot_be_is_told() -> None:
    made = pickup(IDLE_THEN_DRIVE, 820.0, Ignition(pulses_per_turn=1.0))
    heard = listen(made.stereo(), RATE_HZ, "2@0.5")
    assert heard.codes == ["pulses_per_turn_doubtful"]
    assert "pulse:2@N" in heard.troubles[0].message


def with_cabin(
    engine: str, per_turn: float, seed: int, *, road_drone: bool = False
) -> tuple[Pickup, NDArray[np.float32]]:
    """A drawn car that never idles, its cabin sound, and its pickup."""
    rng = np.random.default_rng([seed, 9])
    spec = random_spec(rng, bands=1, engine=engine, road_drone=road_drone)
    spec = replace(spec, legs=spec.legs[:4])  # a rest, one sweep up, a rest, one sweep down
    cabin = signal.resample_poly(generate(spec, seed).samples, RATE_HZ // 8000, 1)
    motion = drive_motion(spec, np.random.default_rng([seed, 1, 0]))  # as in generate
    ignition = Ignition(
        pulses_per_turn=per_turn, missed_share=0.02, double_share=0.02, jitter_deg=0.5
    )
    channel = make_channel(ignition, motion, spec.duration_s, rng)
    made = Pickup(spec=spec, motion=motion, ignition=ignition, channel=channel)
    return made, cabin.astype(np.float32)


@pytest.mark.parametrize(("engine", "per_turn"), [("4", 0.5), ("6", 1.0), ("8", 4.0)])
def test_the_firing_order_in_the_cabin_tells(engine: str, per_turn: float) -> None:
    made, cabin = with_cabin(engine, per_turn, seed=3, road_drone=True)
    heard = listen(made.stereo(cabin), RATE_HZ, cylinders=int(engine))
    assert heard.source.description == (
        f"{per_turn:g} pulses for each turn of the crankshaft (worked out)"
    )
    assert errors(heard, made).max() < 0.01


def test_a_cabin_that_tells_nothing_leaves_it_open() -> None:
    made, cabin = with_cabin("4", 1.0, seed=3)
    noise = np.random.default_rng(8).normal(scale=0.01, size=cabin.size).astype(np.float32)
    heard = listen(made.stereo(noise), RATE_HZ, cylinders=4)
    assert not heard.readings
    assert heard.codes == ["pulses_per_turn_unknown"]
