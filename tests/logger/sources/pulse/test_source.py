"""The ignition as a source of rpm: right under faults, silent about what is none, told in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from logger.sources.contract import SoundListener, SourceError
from logger.sources.pulse.source import PulseSource
from tests.drives.spec import Leg
from tests.logger.sources.drives_with import Drive
from tests.logger.sources.pulse.channel import Ignition
from tests.logger.sources.pulse.drives import (
    ARRIVED_S,
    errors,
    listen,
    pickup,
    random_pickup,
)

RATE_HZ = 48_000
SWEEP = (
    Leg(duration_s=2.0, end_rpm=800.0, gear=None),
    Leg(duration_s=6.0, end_rpm=5000.0, gear=2),
    Leg(duration_s=3.0, end_rpm=1500.0, gear=2, load=0.2),
)
STEADY = (Leg(duration_s=14.0, end_rpm=2300.0, gear=4),)


def in_seconds(made_frames: NDArray[np.float64]) -> NDArray[np.float64]:
    return made_frames / RATE_HZ


# --- right ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("per_turn", [0.5, 1.0, 4.0])
def test_clean_rpm_is_within_a_tenth_of_a_percent(per_turn: float) -> None:
    made = pickup(SWEEP, 800.0, Ignition(pulses_per_turn=per_turn))
    heard = listen(made.stereo(), RATE_HZ, f"2@{per_turn:g}")
    rpm = made.motion.rpm(in_seconds(heard.frames))
    assert np.sqrt(np.mean((heard.rpm / rpm - 1.0) ** 2)) < 0.001
    assert not heard.troubles
    at_s = in_seconds(heard.frames)
    assert at_s[0] < 0.6
    assert at_s[-1] > made.spec.duration_s - 0.7
    assert np.max(np.diff(at_s)) < 0.3
    assert len(heard.readings) < 11 * made.spec.duration_s


def test_nothing_lags_when_the_speed_changes() -> None:
    """The delay that makes the values fit the truth best is less than a millisecond."""
    made = pickup(SWEEP, 800.0, Ignition(pulses_per_turn=1.0))
    heard = listen(made.stereo(), RATE_HZ, "2@1")
    at_s = in_seconds(heard.frames)
    slope = made.motion.rpm_spline.derivative(1)(at_s)
    off = heard.rpm - made.motion.rpm(at_s)
    delay_s = -float(np.sum(slope * off) / np.sum(slope * slope))
    assert abs(delay_s) < 1e-3


@pytest.mark.parametrize("seed", range(4))
def test_no_rpm_is_wrong_with_missed_and_double_pulses_hum_and_jitter(seed: int) -> None:
    made = random_pickup(np.random.default_rng([seed, 5]), rounds=2)
    heard = listen(made.stereo(), made.rate_hz, f"2@{made.ignition.pulses_per_turn:g}")
    assert len(heard.readings) > 5 * made.spec.duration_s
    assert errors(heard, made).max() < 0.01
    assert not heard.troubles


def test_an_ignition_that_comes_earlier_at_light_load_shows_only_while_it_moves() -> None:
    """20 degrees within half a second are 1/18 of a turn: 6.7 rpm for that time."""
    legs = (
        Leg(duration_s=4.0, end_rpm=2500.0, gear=4),
        Leg(duration_s=4.0, end_rpm=2500.0, gear=4, load=0.0),
    )
    made = pickup(legs, 2500.0, Ignition(advance_deg=20.0))
    heard = listen(made.stereo(), RATE_HZ, "2@0.5")
    at_s = in_seconds(heard.frames)
    off = np.abs(heard.rpm - made.motion.rpm(at_s))
    changes = np.abs(at_s - 4.0) < 2.0
    assert off[~changes].max() < 1.5
    assert off[changes].max() < 12.0


def test_the_time_of_a_reading_is_that_of_its_frame() -> None:
    made = pickup(SWEEP, 800.0, Ignition())
    heard = listen(made.stereo(), RATE_HZ, "2@0.5")
    times_s = np.array([reading.midpoint_s for reading in heard.readings])
    assert times_s == pytest.approx(ARRIVED_S + in_seconds(heard.frames), abs=1e-6)
    assert all(reading.half_round_trip_s == 0.0 for reading in heard.readings)


# --- gaps and faults -----------------------------------------------------------------------------


def test_nothing_is_counted_across_a_gap() -> None:
    """A quarter of a second was lost, and the frames go on without a jump."""
    made = pickup(STEADY, 2300.0, Ignition(pulses_per_turn=1.0))
    whole = made.stereo()
    cut = np.concatenate([whole[: 6 * RATE_HZ], whole[6 * RATE_HZ + 12_345 :]])
    heard = listen(cut, RATE_HZ, "2@1", breaks=(6 * RATE_HZ,))
    assert np.abs(heard.rpm / 2300.0 - 1.0).max() < 0.01
    at_s = in_seconds(heard.frames)
    assert at_s[at_s < 6.0].max() > 5.7
    assert at_s[at_s > 6.0].min() < 6.3
    assert not heard.troubles


def test_the_engine_stops_and_starts_again() -> None:
    made = pickup(STEADY, 2300.0, Ignition(stops_s=((4.0, 11.0),)))
    heard = listen(made.stereo(), RATE_HZ, "2@0.5")
    at_s = in_seconds(heard.frames)
    assert not np.any((at_s > 4.1) & (at_s < 11.0))
    assert np.any(at_s < 4.0)
    assert np.any((at_s > 11.0) & (at_s < 11.6))
    assert heard.codes == ["telemetry_silent"]
    assert "hears no pulses on channel 2" in heard.troubles[0].message
    assert "clip it on again" in heard.troubles[0].message
    assert "switch the engine off" in heard.troubles[0].message
    assert heard.troubles[0].at_s == pytest.approx(ARRIVED_S + 4.0, abs=0.5)


def test_sound_that_found_no_room_is_told_and_makes_no_rpm() -> None:
    made = pickup(STEADY, 2300.0, Ignition())
    sound = made.stereo()
    source = PulseSource("2@0.5")
    for first in [*range(0, 3 * RATE_HZ, 960), *range(4 * RATE_HZ, 8 * RATE_HZ, 960)]:
        source.hear(
            sound[first : first + 960],
            first_frame=first,
            sample_rate_hz=RATE_HZ,
            arrived_s=first / RATE_HZ,
        )
    drive = Drive(source, timeout_s=0.0)
    drive.read(200)
    assert [one.code for one in drive.troubles] == ["telemetry_lost"]
    assert len(drive.rpm) > 40
    assert drive.rpm == pytest.approx([2300.0] * len(drive.rpm), rel=0.01)


def test_a_recording_without_the_channel_is_told_once() -> None:
    heard = listen(np.zeros((RATE_HZ, 1), dtype=np.float32), RATE_HZ, "2")
    assert heard.codes == ["pulse_channel_missing"]
    assert "the recording has 1 channel;" in heard.troubles[0].message


def test_a_clip_that_begins_to_hear_a_second_lead_gives_no_doubled_rpm() -> None:
    made = pickup(STEADY, 2300.0, Ignition(pulses_per_turn=0.5))
    other = pickup(STEADY, 2300.0, Ignition(pulses_per_turn=1.0))
    sound = made.stereo()
    sound[7 * RATE_HZ :] = other.stereo()[7 * RATE_HZ :]
    heard = listen(sound, RATE_HZ, "2@0.5")
    assert np.abs(heard.rpm / 2300.0 - 1.0).max() < 0.01
    assert "telemetry_garbled" in heard.codes
    assert "another lead" in heard.troubles[0].message


# --- what is no engine ---------------------------------------------------------------------------


def hum(time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mains hum of a dimmer: forty harmonics."""
    return sum(
        (0.3 / n * np.sin(100.0 * np.pi * n * time_s) for n in range(1, 40)),
        start=np.zeros_like(time_s),
    )


def crackle(time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """A loose plug: clicks at random."""
    rng = np.random.default_rng(6)
    sound = 1e-4 * rng.normal(size=time_s.size)
    sound[rng.integers(0, time_s.size, size=160)] = 0.5
    return sound


def white(time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.random.default_rng(7).normal(scale=0.1, size=time_s.size)


@pytest.mark.parametrize("made", [hum, crackle, white, np.zeros_like])
@pytest.mark.parametrize("word", ["2", "2@1"])
def test_no_rpm_is_made_up(
    made: Callable[[NDArray[np.float64]], NDArray[np.float64]], word: str
) -> None:
    time_s = np.arange(8 * RATE_HZ) / RATE_HZ
    sound = np.stack([np.zeros_like(time_s), made(time_s)], axis=1).astype(np.float32)
    heard = listen(sound, RATE_HZ, word)
    assert not heard.readings
    assert len(heard.codes) == 1
    assert heard.codes[0] in ("telemetry_silent", "telemetry_garbled")


# --- words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("word", ["0", "x", "2@", "2@0", "2@x", "-1", "2@-1", "2.5", "2@1e3", "@2"])
def test_bad_words_are_refused(word: str) -> None:
    with pytest.raises(SourceError, match=r"use pulse:2 for the second one"):
        PulseSource(word)


def test_it_listens_to_the_sound_and_says_what_it_knows() -> None:
    source = PulseSource("1@0.5")
    assert isinstance(source, SoundListener)
    assert source.description == ""
    made = pickup(SWEEP, 800.0, replace(Ignition(), sample_rate_hz=44_100))
    heard = listen(made.stereo()[:, 1:], 44_100, "1@0.5")
    assert heard.source.description == "0.5 pulses for each turn of the crankshaft (as given)"
    assert heard.readings
