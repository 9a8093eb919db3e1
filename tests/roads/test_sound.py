"""The sound of engines, pipes and what plays beside them, against textbook sums and definitions."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
import pytest

import tests.roads as roads
from tests.roads import (
    CarSpec,
    Cause,
    Deactivation,
    Hum,
    Leg,
    Scatter,
    Way,
    drive_on,
    resonance,
)
from tests.roads.engines import random_car, random_engine
from tests.roads.interference import hum, speech
from tests.roads.music import music
from tests.roads.noise import clicks
from tests.roads.steady_drives import RATE_HZ, SILENT, drive_of, even_engine, line_db, steady
from tests.roads.truth import car_curves, hills, order_level_db, sound_late_s, speeds_between


@pytest.mark.parametrize("layout", ["4", "8-cross"])
def test_orders_in_the_sound_are_those_of_the_truth(layout: str) -> None:
    """The sum over cylinders and filters in the frequency domain, against the sound in time."""
    rng = np.random.default_rng(4)
    engine = replace(random_engine(rng, layout, 12.0, 1000.0, 4500.0))
    spec = steady(engine, 2400.0, random_car(rng, ()))
    sound = drive_on(spec, 1).truth.engine_sound
    orders = [0.5 * k for k in range(1, 13)]
    rpm = np.array([2400.0])
    true = np.array([order_level_db(spec.engine, spec.car, each, rpm)[0] for each in orders])
    heard = np.array([line_db(sound, each * 40.0) for each in orders])
    strong = true > true.max() - 40.0
    assert strong.sum() > 6
    # The sound is scaled to a root mean square of 1; levels against the strongest stay.
    assert (heard - heard.max())[strong] == pytest.approx((true - true.max())[strong], abs=0.3)


def test_an_even_engine_has_its_firing_order_alone_and_unlike_cylinders_fill_the_rest() -> None:
    even = drive_on(steady(even_engine(4), 2400.0), 1).truth.engine_sound
    assert line_db(even, 60.0) < line_db(even, 80.0) - 60.0
    loud = replace(even_engine(4).cylinders[0], level_db=6.0)
    unlike = replace(even_engine(4), cylinders=(loud, *even_engine(4).cylinders[1:]))
    uneven = drive_on(steady(unlike, 2400.0), 1).truth.engine_sound
    # Three phasors of 1 and one of 2 (6 dB): their sum is 1 at half orders and 5 at the firing
    # order; filters and pulse make the rest of the difference.
    spec = steady(unlike, 2400.0)
    rpm = np.array([2400.0])
    pulse_db = [order_level_db(spec.engine, spec.car, each, rpm)[0] for each in (1.5, 2.0)]
    apart = line_db(uneven, 60.0) - line_db(uneven, 80.0)
    assert apart == pytest.approx(pulse_db[0] - pulse_db[1], abs=0.1)
    alone = [
        order_level_db(replace(spec.engine, cylinders=(loud,)), spec.car, n, rpm)[0]
        for n in (1.5, 2.0)
    ]
    assert apart - (alone[0] - alone[1]) == pytest.approx(20 * np.log10(0.995 / 4.995), abs=0.05)


def test_cycles_that_differ_fill_the_gaps_between_orders() -> None:
    spec = steady(even_engine(4), 2400.0)
    rough = replace(spec, engine=replace(spec.engine, scatter=Scatter(level_db=1.5)))
    gaps = [line_db(drive_on(each, 2).truth.engine_sound, 50.3) for each in (spec, rough)]
    assert gaps[1] > gaps[0] + 20.0


def test_with_half_of_the_engine_shut_the_order_of_half_the_cylinders_leads() -> None:
    engine = replace(even_engine(8), deactivation=Deactivation())
    shut = drive_on(steady(engine, 1800.0, load=0.3), 1)
    assert shut.truth.shut.mean() > 0.9
    assert line_db(shut.truth.engine_sound, 60.0) > line_db(shut.truth.engine_sound, 120.0) + 6.0
    for rpm, load in ((2600.0, 0.3), (1800.0, 0.9)):
        whole = drive_on(steady(engine, rpm, load=load), 1).truth
        assert not whole.shut.any()
        assert line_db(whole.engine_sound, 2.0 * rpm / 60.0) < -60.0


def test_load_and_overrun() -> None:
    """With the throttle shut the pulses fall by what was asked."""
    engine = replace(even_engine(4), overrun_db=-12.0)
    legs = (
        Leg(duration_s=5.0, end_rpm=2400.0, gear=3, load=1.0),
        Leg(duration_s=5.0, end_rpm=2400.0, gear=3, load=0.0),
    )
    spec = steady(engine, 2400.0)
    spec = replace(spec, driver=replace(spec.driver, legs=legs, shuffle_rpm=0.0))
    sound = drive_on(spec, 1).truth.engine_sound
    full, shut = sound[int(RATE_HZ) : int(4 * RATE_HZ)], sound[int(6 * RATE_HZ) : int(9 * RATE_HZ)]
    assert 20 * np.log10(np.std(shut) / np.std(full)) == pytest.approx(-12.0, abs=0.2)


def test_one_resonance_makes_one_hill_where_it_stands() -> None:
    item = resonance(Cause.CABIN, 90.0, 12.0, 0.1)
    engine = replace(even_engine(4), climb=((700.0, -3.0), (6000.0, 3.0)))
    car = CarSpec(cabin=(item,), exhaust=Way(low_pass_hz=600.0))
    (hill,) = [
        each
        for each in hills(car_curves(engine, car, speeds_between(1200.0, 5000.0)), car)
        if each.order == 2.0
    ]
    assert hill.peak_hz == pytest.approx(90.0, rel=0.01)
    assert hill.height_db == pytest.approx(11.0, abs=2.0)  # a climbing level hides a little
    # |1 + g/(1 + jx)|^2 falls to half at x = (1 + g) / sqrt((1 + g)^2 - 2); x = width / 0.1
    size = 10.0 ** (12.0 / 20.0)
    assert hill.width == pytest.approx(0.1 * size / np.sqrt(size**2 - 2.0), rel=0.1)
    assert hill.cause is Cause.CABIN


def test_the_driven_curve_follows_the_car() -> None:
    made = drive_of("one_drone")
    edges = np.exp(np.arange(np.log(1500.0), np.log(3400.0), 0.04))
    order = made.spec.engine.firing_order
    driven = made.truth.driven_curve(order, edges)
    middle = np.sqrt(edges[1:] * edges[:-1])
    car = np.interp(middle, made.truth.curves.rpm, made.truth.curves.of(order))
    inside = np.isfinite(driven) & np.isfinite(car)
    assert np.corrcoef(driven[inside], car[inside])[0, 1] > 0.8


@pytest.mark.parametrize("late_s", [0.0, 0.004, 0.03])
def test_how_late_a_sound_is_shows_while_the_engine_climbs(late_s: float) -> None:
    """Three orders of a climb of 100 rpm a second, shifted by whole samples."""
    rate_hz = 2000.0
    turns = np.cumsum(1000.0 + 100.0 * np.arange(0.0, 20.0, 1.0 / rate_hz)) / 60.0 / rate_hz
    sound = sum(np.cos(2.0 * np.pi * order * turns) for order in (1.0, 2.0, 3.5))
    shifted = np.concatenate([np.zeros(round(late_s * rate_hz)), sound])[: turns.size]
    assert sound_late_s(shifted, turns, rate_hz) == pytest.approx(late_s, abs=2e-4)


def test_a_quiet_climb_has_no_hill() -> None:
    for seed in range(8):
        spec = roads.quiet_climb(np.random.default_rng(seed))
        ends = [leg.end_rpm for leg in spec.driver.legs]
        curves = car_curves(spec.engine, spec.car, speeds_between(min(ends), max(ends)))
        seen = [h for h in hills(curves, spec.car) if h.below_strongest_db < 15.0]
        assert all(hill.height_db < 3.0 for hill in seen)


def test_hum_stands_where_and_as_high_as_asked() -> None:
    time_s = np.arange(0.0, 8.0, 1.0 / RATE_HZ)
    asked = Hum(frequency_hz=120.0, level_db=-6.0, harmonics_db=(0.0, -10.0))
    tone = hum(asked, time_s, np.random.default_rng(1))
    assert 10 * np.log10(np.mean(tone**2)) == pytest.approx(-6.0, abs=0.01)
    assert line_db(tone, 120.0) - line_db(tone, 240.0) == pytest.approx(10.0, abs=0.05)
    assert line_db(tone, 180.0) < -80.0


@pytest.mark.parametrize("level_db", [-6.0, 0.0])
def test_music_is_as_loud_beside_the_engine_as_asked(level_db: float) -> None:
    spec = steady(even_engine(4), 2400.0)
    without, with_it = drive_on(spec, 1), drive_on(replace(spec, music_db=level_db), 1)
    # Both are scaled to the same peak; the engine's line tells by how much.
    scale = 10 ** ((line_db(without.samples, 80.0) - line_db(with_it.samples, 80.0)) / 20.0)
    song = with_it.samples * scale - without.samples
    engine = np.asarray(without.samples, dtype=np.float64)
    assert 20 * np.log10(np.std(song) / np.std(engine)) == pytest.approx(level_db, abs=1.0)


def test_speech_pauses_and_a_song_does_not() -> None:
    count = int(15 * RATE_HZ)
    for make, quiet in ((speech, True), (music, False)):
        sound = make(count, RATE_HZ, np.random.default_rng(5))
        power = np.mean(sound.reshape(-1, int(0.2 * RATE_HZ)) ** 2, axis=1)
        assert bool(np.quantile(power, 0.1) < 1e-4 * power.mean()) is quiet


def test_music_is_of_notes_that_change_and_is_silent_between_songs() -> None:
    """Of noise, the strongest hundredth of the lines of half a second holds a twentieth of it.

    Noise: exponential lines, 0.01 (1 + ln 100) = 0.056; definition.
    """
    silences = 0
    for seed in range(6):
        sound = music(int(90 * RATE_HZ), RATE_HZ, np.random.default_rng(seed))
        assert np.std(sound) == pytest.approx(1.0)
        pieces = sound[: sound.size // 4000 * 4000].reshape(-1, 4000)
        lines = np.abs(np.fft.rfft(pieces * np.hanning(4000), axis=1)[:, :500]) ** 2
        heard = lines[lines.sum(axis=1) > 0.1 * lines.sum(axis=1).mean()]
        strongest = np.sort(heard, axis=1)[:, -5:].sum(axis=1) / heard.sum(axis=1)
        assert np.median(strongest) > 4 * 0.056
        assert np.unique(heard.argmax(axis=1)).size > 5
        silences += heard.shape[0] < lines.shape[0]
    assert silences >= 2


def test_clicks_come_as_often_as_asked() -> None:
    noise = replace(SILENT, clicks_per_s=2.0)
    sound = clicks(noise, int(60 * RATE_HZ), RATE_HZ, np.random.default_rng(2))
    loud = np.abs(sound) > 0.1 * np.abs(sound).max()
    starts = np.flatnonzero(loud & ~np.roll(loud, 1))
    apart = 1 + np.count_nonzero(np.diff(starts) > 0.05 * RATE_HZ)
    assert 80 < apart < 150
