"""One order in two channels of one drive, against the filters that the drive was made with."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.drive import Sound
from analysis.find.at_tail import Hill, hill
from analysis.find.drone import find_drone
from analysis.findings import Findings
from tests.drives import DriveSpec, Resonator, generate
from tests.drives.spec import TailMicrophone
from tests.roads.recorder import gain_of
from tests.roads.spec import Leveller

FROM_PIPE = DriveSpec(tail=TailMicrophone())
SHAKEN = replace(FROM_PIPE, shaken=1.5)
BY_CABIN = replace(FROM_PIPE, exhaust=(), cabin=(Resonator(frequency_hz=112.0, gain=3.0, q=9.0),))
IN_WIND = replace(FROM_PIPE, tail=TailMicrophone(wind_db_spl=104.0))


@cache
def found(spec: DriveSpec) -> Findings:
    return find_drone(generate(spec, 3).drive())


def resonance(hz: np.ndarray) -> np.ndarray:
    """The exhaust of `FROM_PIPE`, as textbooks have one degree of freedom."""
    return np.asarray(1.0 + 3.0 / (1.0 + 9j * (hz / 112.0 - 112.0 / hz)))


def test_where_all_comes_from_the_tail_the_ratio_is_gain_and_delay_alone() -> None:
    (tail,) = found(FROM_PIPE).tail
    hz = tail.engine_order * tail.rpm / 60.0
    true = np.exp(2j * np.pi * hz * 0.005) / 3.0
    np.testing.assert_allclose(tail.ratio, true, atol=0.03 / 3.0)
    assert tail.sigma.max() < 0.05


def test_what_comes_past_the_exhaust_is_in_the_ratio() -> None:
    (tail,) = found(SHAKEN).tail
    hz = tail.engine_order * tail.rpm / 60.0
    true = np.exp(2j * np.pi * hz * 0.005) / 3.0 * (1.0 + 1.5 / resonance(hz))
    # a filter of sampled sound is a few degrees off the textbook's
    assert np.abs(tail.ratio / true - 1.0).max() < 0.08


def test_wind_at_the_tail_makes_the_ratio_unsure_but_not_small() -> None:
    (calm,), (tail,) = found(FROM_PIPE).tail, found(IN_WIND).tail
    assert np.median(tail.sigma) > 3.0 * np.median(calm.sigma)
    off_db = 20.0 * np.log10(np.abs(tail.ratio) * 3.0)
    assert abs(np.average(off_db, weights=tail.sigma**-2)) < 0.5


@pytest.mark.parametrize(("spec", "by_pipe"), [(FROM_PIPE, True), (BY_CABIN, False)])
def test_the_hill_at_the_tail_says_whether_the_pipe_makes_it(
    spec: DriveSpec, by_pipe: bool
) -> None:
    findings = found(spec)
    assert seen(findings).is_the_pipes is by_pipe
    cause = findings.causes[0]
    told = " ".join((*cause.evidence, *cause.suspects, *cause.to_decide))
    assert ("comes out of the exhaust" in told) is by_pipe
    assert ("what makes it loud is not the exhaust" in told) is not by_pipe
    assert "second microphone" not in told


def test_a_way_past_the_exhaust_is_told_beside_it() -> None:
    assert seen(found(SHAKEN)).is_the_pipes is True
    assert "something beside it" in " ".join(found(SHAKEN).causes[0].evidence)


def test_without_a_microphone_at_the_tail_it_is_what_would_tell_first() -> None:
    alone = find_drone(replace(generate(FROM_PIPE, 3).drive(), tail=None))
    assert alone.tail == ()
    assert alone.bands == found(FROM_PIPE).bands
    assert hill(alone.bands[0], alone.at_tail(3.0)) is None


def held(samples: np.ndarray) -> np.ndarray:
    """As a phone does that holds its level."""
    leveller = Leveller(attack_s=0.05, release_s=1.0)
    return np.asarray(samples * gain_of(leveller, samples, 8000.0))


@pytest.mark.parametrize(
    ("spoilt", "said"),
    [
        (np.zeros_like, "holds no engine"),
        (held, "turned down by its recorder"),
        (lambda samples: np.clip(samples, -0.1, 0.1), "cut off at its loudest"),
    ],
)
def test_a_tail_that_says_nothing_is_left_out_and_told(
    spoilt: Callable[[np.ndarray], np.ndarray], said: str
) -> None:
    made = generate(FROM_PIPE, 3)
    assert made.tail_samples is not None
    tail = Sound.from_array(spoilt(made.tail_samples.astype(np.float64)), 8000.0)
    findings = find_drone(replace(made.drive(), tail=tail))
    assert findings.tail == ()
    (doubt,) = [each for each in findings.warnings if each.code == "tail_left_out"]
    assert said in doubt.message
    assert not any(each.code == "tail_left_out" for each in found(FROM_PIPE).warnings)


def seen(findings: Findings) -> Hill:
    told = hill(findings.bands[0], findings.at_tail(findings.bands[0].engine_order))
    assert told is not None
    return told
