"""Which edges are sparks: missing and extra ones are counted right or not at all."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.arrays import FloatArray
from logger.sources.pulse.edges import Edges
from logger.sources.pulse.rpm import JumpWatch, MeanRpm, RpmCounter
from logger.sources.pulse.train import Pulse, PulseTrain

RATE_HZ = 48_000


def follow(frames: FloatArray, heights: FloatArray | None = None, step: int = 9_600) -> list[Pulse]:
    """Feed edges a fifth of a second at a time."""
    sizes = np.full(frames.size, 0.4) if heights is None else heights
    train = PulseTrain(RATE_HZ)
    pulses: list[Pulse] = []
    end = int(frames[-1]) + 2 * RATE_HZ if frames.size else RATE_HZ
    for start in range(0, end, step):
        here = (frames >= start) & (frames < start + step)
        pulses += train.feed(
            Edges(frames=frames[here], heights=sizes[here], complete_to=float(start + step))
        )
    return pulses


def sparks(count: int, start_hz: float, end_hz: float) -> FloatArray:
    """Places of sparks whose rate changes evenly."""
    rates = np.linspace(start_hz, end_hz, count)
    return np.asarray(1000.0 + np.cumsum(RATE_HZ / rates))


def assert_counted_right(pulses: list[Pulse], truth: FloatArray) -> None:
    """Between sound pulses of one train lie as many sparks as they say."""
    for train in {pulse.train for pulse in pulses}:
        mine = [pulse for pulse in pulses if pulse.train == train and pulse.is_sound]
        true = [int(np.argmin(np.abs(truth - pulse.frame))) for pulse in mine]
        assert [pulse.number - mine[0].number for pulse in mine] == [
            number - true[0] for number in true
        ]


@settings(max_examples=40)
@given(
    seed=st.integers(0, 2**32 - 1),
    start_hz=st.floats(4.5, 400.0),
    change=st.floats(0.4, 2.5),
    missed=st.floats(0.0, 0.04),
    extra=st.floats(0.0, 0.04),
)
def test_missing_and_extra_pulses(
    seed: int, start_hz: float, change: float, missed: float, extra: float
) -> None:
    rng = np.random.default_rng(seed)
    end_hz = min(600.0, start_hz * change)
    count = 200 + int(2.0 * max(start_hz, end_hz))  # two seconds or more
    truth = sparks(count, start_hz, end_hz)
    there = truth[rng.uniform(size=truth.size) >= missed]
    intervals = np.diff(there)
    after = there[:-1] + rng.uniform(0.05, 0.4, size=intervals.size) * intervals
    doubles = after[rng.uniform(size=after.size) < extra]
    pulses = follow(np.sort(np.concatenate([there, doubles])))
    assert_counted_right(pulses, truth)
    assert len(pulses) > 0.6 * there.size


def test_every_pulse_of_a_clean_row_is_sound_but_the_ends() -> None:
    truth = sparks(100, 10.0, 40.0)
    pulses = follow(truth)
    assert [pulse.frame for pulse in pulses] == list(truth[2:-2])
    assert all(pulse.is_sound for pulse in pulses)
    assert {pulse.train for pulse in pulses} == {0}


def test_a_displaced_pulse_is_not_sound() -> None:
    truth = sparks(60, 30.0, 30.0)
    moved = truth.copy()
    moved[30] += 0.1 * RATE_HZ / 30.0
    unsound = [pulse.number for pulse in follow(moved) if not pulse.is_sound]
    assert 30 in unsound
    assert set(unsound) <= {28, 29, 30, 31, 32}


def test_low_pulses_of_another_lead_are_passed_over() -> None:
    truth = sparks(80, 20.0, 30.0)
    between = 0.5 * (truth[1:] + truth[:-1])
    frames = np.sort(np.concatenate([truth, between]))
    heights = np.where(np.isin(frames, truth), 0.5, 0.15)
    assert [pulse.frame for pulse in follow(frames, heights)] == list(truth[2:-2])


@settings(max_examples=20)
@given(seed=st.integers(0, 2**32 - 1), per_s=st.floats(2.0, 150.0))
def test_edges_without_a_rhythm_are_no_pulses(seed: int, per_s: float) -> None:
    rng = np.random.default_rng(seed)
    frames = np.sort(rng.uniform(0.0, 20.0 * RATE_HZ, size=int(20 * per_s)))
    assert not follow(frames, rng.uniform(0.2, 0.8, size=frames.size))


@pytest.mark.parametrize("mains_hz", [49.95, 50.0, 60.0, 100.1, 120.0])
def test_the_buzz_of_the_mains_is_no_engine(mains_hz: float) -> None:
    assert not follow(sparks(1000, mains_hz, mains_hz))


def test_an_engine_that_starts_at_the_rate_of_the_mains_is_heard_when_it_leaves_it() -> None:
    assert len(follow(sparks(600, 50.0, 60.0))) > 500


# --- rpm ----------------------------------------------------------------------------------------


def means(frames: FloatArray, per_turn: float) -> list[MeanRpm]:
    counter = RpmCounter(RATE_HZ, pulses_per_turn=per_turn, turns_per_cycle=2)
    noted = [counter.note(pulse) for pulse in follow(frames)]
    return [mean for mean in noted if mean is not None]


@pytest.mark.parametrize("per_turn", [0.5, 1.0, 1.5, 2.0, 3.0, 4.0])
def test_means_add_up_to_the_turns_made(per_turn: float) -> None:
    truth = sparks(400, 15.0 * per_turn, 60.0 * per_turn)
    got = means(truth, per_turn)
    turns = sum(mean.rpm / 60.0 * mean.width / RATE_HZ for mean in got)
    first = got[0].frame - 0.5 * got[0].width
    last = got[-1].frame + 0.5 * got[-1].width
    counted = np.sum((truth > first + 0.5) & (truth < last + 0.5))
    assert turns == pytest.approx(counted / per_turn)
    assert all(mean.width >= 0.1 * RATE_HZ for mean in got)


def test_uneven_firing_does_not_show() -> None:
    """Intervals of 90 and 150 degrees, as in a 90-degree six with common pins (textbook)."""
    turns_per_s = 40.0
    degrees = np.cumsum(np.tile([90.0, 150.0], 300))
    frames = 1000.0 + degrees / 360.0 / turns_per_s * RATE_HZ
    counter = RpmCounter(RATE_HZ, pulses_per_turn=3.0, turns_per_cycle=2)
    pulses = [
        Pulse(frame=float(frame), number=number, train=0, is_sound=True)
        for number, frame in enumerate(frames)
    ]
    got = [mean for pulse in pulses if (mean := counter.note(pulse)) is not None]
    assert len(got) > 20
    assert [mean.rpm for mean in got] == pytest.approx([2400.0] * len(got))


def test_a_train_that_begins_at_half_the_rpm_is_not_trusted() -> None:
    watch = JumpWatch(RATE_HZ)

    def mean(train: int, rpm: float, at_s: float) -> MeanRpm:
        return MeanRpm(train=train, rpm=rpm, frame=at_s * RATE_HZ, width=0.1 * RATE_HZ)

    assert watch.trusts(mean(0, 3000.0, 1.0))
    assert not watch.trusts(mean(1, 1510.0, 1.2))
    assert not watch.trusts(mean(1, 1600.0, 1.3))
    assert watch.trusts(mean(2, 2900.0, 1.6))
    assert watch.trusts(mean(3, 1450.0, 9.0))  # long after: it may have slowed down
