"""The drive generator against textbook values and against itself, run as slowly as it takes."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from analysis.basics.arrays import FloatArray
from tests.drives import (
    CROSS_PLANE_BANK_DEG,
    ENGINES,
    CarModel,
    DriveSpec,
    FixKind,
    GeneratedDrive,
    Leg,
    Noise,
    Resonator,
    RoadTone,
    SideBranch,
    Source,
    TelemetrySpec,
    even_fire,
    generate,
    generate_pair,
    random_spec,
)
from tests.drives.faults import with_automatic_gain, with_clipping, with_telemetry_gap
from tests.drives.motion import drive_motion
from tests.drives.noise import road_tone
from tests.drives.pulses import PulseTrain
from tests.drives.sound_level_meter import fast_a_level_db
from tests.drives.spec import swept_spec
from tests.drives.transfer import BranchFilter, ResonatorBank, sos_response

RATE_HZ = 8000.0
SILENCE = Noise(road_db_spl=-60.0, wind_db_spl=-60.0, self_db_spl=-60.0)
STEADY_TELEMETRY = TelemetrySpec(jitter_s=0.0, rpm_step=1e-6)
HALF_ORDERS = np.arange(0.5, 12.5, 0.5)


def steady_spec(source: Source, rpm: float, duration_s: float) -> DriveSpec:
    return DriveSpec(
        source=replace(source, cylinder_imbalance=0.0, cycle_variation=0.0),
        exhaust=(),
        noise=SILENCE,
        start_rpm=rpm,
        legs=(Leg(duration_s=duration_s, end_rpm=rpm, gear=4),),
        speed_flutter_rpm=0.0,
        telemetry=STEADY_TELEMETRY,
    )


def line_amplitude(samples: FloatArray, frequency_hz: float) -> float:
    """Amplitude of one line by projection under a Hann window."""
    window = np.hanning(samples.size)
    time_s = np.arange(samples.size) / RATE_HZ
    turned = samples * window * np.exp(-2j * np.pi * frequency_hz * time_s)
    return float(2.0 * abs(turned.sum()) / window.sum())


# |sum of exp(-j h phi)| / 4 for pulses at 0, 90, 270 and 540 degrees, worked by hand: order 0.5
# gives sqrt(2 - sqrt 2) sqrt 2 / 4 and so on. The same row is in any text that treats the exhaust
# of a cross-plane V8 bank as a sum of four unit phasors.
BANK_TABLE = {
    0.5: 0.2706,
    1.0: 0.0,
    1.5: 0.6533,
    2.0: 0.0,
    2.5: 0.6533,
    3.0: 0.0,
    3.5: 0.2706,
    4.0: 1.0,
    4.5: 0.2706,
    5.0: 0.0,
    5.5: 0.6533,
    6.0: 0.0,
    6.5: 0.6533,
    7.0: 0.0,
    7.5: 0.2706,
    8.0: 1.0,
}


def pulse_lines(source: Source, orders: FloatArray) -> FloatArray:
    """Amplitudes of orders in the bare pulse row, re order 4 of even pulses, pulse shape off."""
    rpm = 2000.0
    spec = steady_spec(source, rpm, duration_s=6.0)
    rng = np.random.default_rng(0)
    pulses = PulseTrain.build(spec.source, rng)
    time_s = np.arange(round(6.0 * RATE_HZ)) / RATE_HZ
    sound = pulses.sound(drive_motion(spec, rng), time_s, rng)
    lines = np.array([line_amplitude(sound, order * rpm / 60.0) for order in orders])
    # The pulse x^2 exp(-x/T) has the spectrum (1 + j 2 pi h T)^-3: a table of transforms.
    shape = (1.0 + (2.0 * np.pi * orders * source.pulse_revolutions) ** 2) ** -1.5
    return np.asarray(lines / shape / len(source.firing_deg))


def test_cross_plane_bank_has_the_textbook_orders() -> None:
    orders = np.array(list(BANK_TABLE))
    source = Source(cylinders=8, firing_deg=CROSS_PLANE_BANK_DEG)
    assert pulse_lines(source, orders) == pytest.approx(
        np.array(list(BANK_TABLE.values())), abs=1e-3
    )


@pytest.mark.parametrize("cylinders", [4, 6, 8])
def test_even_fire_has_only_multiples_of_the_firing_order(cylinders: int) -> None:
    source = Source(cylinders=cylinders, firing_deg=even_fire(cylinders))
    expected = (np.mod(HALF_ORDERS, cylinders / 2.0) == 0.0).astype(float)
    assert pulse_lines(source, HALF_ORDERS) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("branch", [None, SideBranch(tuned_hz=96.0)])
@pytest.mark.parametrize(
    "source", [Source(), Source(cylinders=8, firing_deg=CROSS_PLANE_BANK_DEG)], ids=["six", "bank"]
)
def test_level_of_a_stepped_run_is_the_true_level(
    source: Source, branch: SideBranch | None
) -> None:
    steps_rpm = (1200.0, 1500.0, 1700.0, 1800.0, 1850.0, 1900.0, 2000.0, 2200.0, 2600.0, 3300.0)
    hold_s = 3.0
    legs = [leg for rpm in steps_rpm for leg in _step_and_hold(rpm, hold_s)]
    spec = replace(
        steady_spec(source, steps_rpm[0], 1.0),
        source=replace(source, cylinder_imbalance=0.05, cycle_variation=0.0),
        exhaust=(Resonator(frequency_hz=95.0, gain=4.0, q=12.0, phase_rad=0.3),),
        cabin=(Resonator(frequency_hz=70.0, gain=0.2, q=5.0),),
        branch=branch,
        legs=tuple(legs),
    )
    drive = generate(spec, seed=3)
    orders = (3.0, 6.0, 0.5) if source.cylinders == 6 else (1.5, 2.5, 4.0)
    for step, rpm in enumerate(steps_rpm):
        held = slice(*(np.array([4 * step + 2, 4 * step + 4]) * RATE_HZ).astype(int))
        for order in orders:
            amplitude = line_amplitude(drive.samples[held].astype(float), order * rpm / 60.0)
            measured_db = 20.0 * np.log10(amplitude / np.sqrt(2.0))
            true_db = drive.truth.car.level_db(order, np.array([rpm]))[0]
            assert measured_db == pytest.approx(true_db, abs=0.3), (order, rpm)


def _step_and_hold(rpm: float, hold_s: float) -> tuple[Leg, Leg]:
    return (
        Leg(duration_s=1.0, end_rpm=rpm, gear=4),
        Leg(duration_s=hold_s, end_rpm=rpm, gear=4),
    )


def test_firing_order_has_the_level_asked_for_at_2000_rpm() -> None:
    drive = generate(steady_spec(Source(level_db_spl=80.0), 2000.0, 4.0), seed=0)
    amplitude = line_amplitude(drive.samples[8000:].astype(float), 100.0)
    level_db_spl = 20.0 * np.log10(amplitude) + drive.spec.full_scale_db_spl
    assert level_db_spl == pytest.approx(80.0, abs=0.05)


# Munjal, Acoustics of Ducts and Mufflers (1987), ch. 2: TL = 10 lg[1 + (m/2)^2 tan^2 kL].
@pytest.mark.parametrize(
    ("area_ratio", "share_of_tuning", "loss_db"),
    [(0.25, 0.5, 0.0673), (0.5625, 0.8, 2.4285), (0.5625, 0.9, 6.1839), (1.0, 1.1, 10.4004)],
)
def test_branch_filter_has_the_textbook_loss(
    area_ratio: float, share_of_tuning: float, loss_db: float
) -> None:
    spec = SideBranch(
        tuned_hz=97.3, area_ratio=area_ratio, round_trip_loss=0.0, mouth_resistance=0.0
    )
    through = BranchFilter(spec, RATE_HZ).response(np.array([97.3 * share_of_tuning]))
    assert -20.0 * np.log10(abs(through[0])) == pytest.approx(loss_db, abs=0.01)


def test_branch_filter_peak_is_the_lossy_one() -> None:
    # Peak TL = 20 lg[1 + m / (2 tanh aL)] with exp(-2 aL) the round trip (Kirchhoff wide tube).
    spec = SideBranch(tuned_hz=100.0, area_ratio=0.5, round_trip_loss=0.04, mouth_resistance=0.0)
    decay = -0.5 * np.log(0.96)
    through = BranchFilter(spec, RATE_HZ).response(np.array([100.0]))
    expected_db = 20.0 * np.log10(1.0 + 0.5 / (2.0 * np.tanh(decay)))
    assert -20.0 * np.log10(abs(through[0])) == pytest.approx(expected_db, abs=0.02)


def test_resonators_ring_as_a_swept_resonance_does() -> None:
    """At 0.9 (f/Q)^2 Hz per second, the limit of ISO 7626-2 (as remembered), a linear sweep shows
    the peak 0.49 dB low and 0.42 bandwidths late: an envelope model gave these two numbers."""
    peak_hz, q = 100.0, 10.0
    bank = ResonatorBank([Resonator(frequency_hz=peak_hz, gain=1e4, q=q)], RATE_HZ)
    rate_hz_s = 0.9 * (peak_hz / q) ** 2
    time_s = np.arange(0.0, 2.0, 1.0 / RATE_HZ)
    chirp = signal.chirp(time_s, 10.0, 1.0, 10.0 + rate_hz_s)
    envelope = np.abs(signal.hilbert(bank.apply(chirp))) / 1e4
    at = int(envelope.argmax())
    assert 20.0 * np.log10(envelope[at]) == pytest.approx(-0.49, abs=0.1)
    shift_hz = 10.0 + rate_hz_s * time_s[at] - peak_hz
    assert shift_hz / (peak_hz / q) == pytest.approx(0.42, abs=0.08)


def true_density(drive: GeneratedDrive, frequency_hz: FloatArray) -> FloatArray:
    """Noise per Hz at 2,000 rpm in full scale squared, as the truth has it."""
    car = drive.truth.car
    levels_db = np.array([car.noise_density_db(float(f), 2000.0) for f in frequency_hz])
    return np.asarray(10.0 ** (levels_db / 10.0))


def test_noise_has_the_density_the_truth_counts_with() -> None:
    spec = replace(
        steady_spec(Source(level_db_spl=-40.0), 2000.0, 60.0),
        noise=Noise(),
        cabin=(Resonator(frequency_hz=60.0, gain=0.3, q=4.0),),
    )
    drive = generate(spec, seed=9)
    frequency_hz, density = signal.welch(
        drive.samples.astype(float), RATE_HZ, nperseg=4000, scaling="density"
    )
    for low_hz, high_hz in [(16, 30), (50, 70), (90, 110), (150, 250), (400, 600)]:
        here = (frequency_hz >= low_hz) & (frequency_hz <= high_hz)
        true = [
            10.0 ** (drive.truth.car.noise_density_db(f, 2000.0) / 10.0) for f in frequency_hz[here]
        ]
        difference_db = 10.0 * np.log10(density[here].mean() / np.mean(true))
        # Gusts swell the wind, hence the wider band below 40 Hz.
        assert difference_db == pytest.approx(0.0, abs=1.0 if low_hz < 40 else 0.4), low_hz


def test_pulse_variation_has_the_density_the_truth_counts_with() -> None:
    spec = steady_spec(Source(), 2000.0, 60.0)
    spec = replace(spec, source=replace(spec.source, cycle_variation=0.05))
    drive = generate(spec, seed=9)
    frequency_hz, density = signal.welch(
        drive.samples.astype(float), RATE_HZ, nperseg=16000, scaling="density"
    )
    for low_hz, high_hz in [(55, 95), (105, 145), (155, 195)]:  # between multiples of order 3
        here = (frequency_hz >= low_hz) & (frequency_hz <= high_hz)
        true = [
            10.0 ** (drive.truth.car.noise_density_db(f, 2000.0) / 10.0) for f in frequency_hz[here]
        ]
        assert 10.0 * np.log10(density[here].mean() / np.mean(true)) == pytest.approx(0.0, abs=0.4)


def test_a_road_tone_follows_the_road_in_every_gear() -> None:
    for gear in (3, 4):
        spec = replace(
            steady_spec(Source(), 2400.0, 4.0),
            legs=(Leg(duration_s=4.0, end_rpm=2400.0, gear=gear),),
        )
        motion = drive_motion(spec, np.random.default_rng(0))
        time_s = np.arange(round(4.0 * RATE_HZ)) / RATE_HZ
        tone = road_tone(RoadTone(cycles_per_metre=1.5, level_db_spl=80.0), motion, time_s, RATE_HZ)
        speed_m_s = spec.gearing.speed_m_s(2400.0, gear)
        spectrum = np.abs(np.fft.rfft(tone * np.hanning(tone.size)))
        peak_hz = spectrum.argmax() * RATE_HZ / tone.size
        assert peak_hz == pytest.approx(1.5 * speed_m_s, abs=0.3)


def test_a_shaft_boom_looks_like_order_two_in_direct_gear_only() -> None:
    rng = np.random.default_rng(3)
    spec = random_spec(rng, bands=0, engine="6", gears=2, road_drone=True)
    drive = generate(spec, seed=3)
    third, fourth = sorted(drive.truth.road_bands, key=lambda band: band.gear)
    assert fourth.engine_order == pytest.approx(2.0)
    assert third.engine_order == pytest.approx(2.0 / 1.4)
    assert third.peak_speed_m_s == fourth.peak_speed_m_s
    assert third.driven
    assert fourth.driven
    assert not any(band.main for band in drive.truth.bands)


def test_same_seed_same_drive_and_other_seed_another() -> None:
    spec = swept_spec(TelemetrySpec())
    first, again, other = generate(spec, seed=1), generate(spec, seed=1), generate(spec, seed=2)
    assert np.array_equal(first.samples, again.samples)
    assert first.telemetry.equals(again.telemetry)
    assert not np.array_equal(first.samples, other.samples)


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("bands", [0, 1, 2])
def test_drawn_cars_are_what_they_claim(engine: str, bands: int) -> None:
    for seed in range(5):
        rng = np.random.default_rng(seed)
        spec = random_spec(rng, bands=bands, engine=engine, two_clocks=True)
        car = CarModel(spec, PulseTrain.build(spec.source, rng))
        main = [band for band in car.bands if band.main]
        peaks_hz = {round(band.peak_hz, 2) for band in main}
        assert len(peaks_hz) == bands, (engine, seed)
        assert all(7.0 < band.rise_db < 21.0 and 40.0 < band.peak_hz < 190.0 for band in main)
        assert all(0.05 < (b.high_hz - b.low_hz) / b.peak_hz < 0.27 for b in main)
        if bands == 0:
            assert car.rise_db(np.geomspace(20.0, 400.0, 2000)).max() < 2.0


def test_a_drawn_drive_does_not_clip() -> None:
    drive = generate(random_spec(np.random.default_rng(4), bands=2), seed=4)
    assert 0.01 < np.abs(drive.samples).max() < 1.0
    assert drive.drive().sound is not None


def test_pairs_change_as_told() -> None:
    spec = swept_spec(TelemetrySpec())
    baseline, _, unchanged_db = generate_pair(spec, 7, FixKind.UNCHANGED)
    assert unchanged_db == pytest.approx(np.zeros(len(unchanged_db)))
    _, after, cured_db = generate_pair(spec, 7, FixKind.BRANCH)
    assert baseline.truth.bands[0].engine_order == 3.0
    assert cured_db[0] < -10.0
    assert after.truth.car.pulses.cylinder_gain == pytest.approx(
        baseline.truth.car.pulses.cylinder_gain
    )
    _, moved, moved_db = generate_pair(spec, 7, FixKind.MOVED)
    assert moved_db[0] < -5.0
    assert moved.truth.bands[0].peak_hz == pytest.approx(
        1.22 * baseline.truth.bands[0].peak_hz, rel=0.01
    )


def test_response_of_sections_is_that_of_scipy() -> None:
    sos = np.asarray(signal.butter(5, [40.0, 900.0], btype="bandpass", fs=RATE_HZ, output="sos"))
    frequency_hz = np.geomspace(5.0, 3990.0, 300)
    expected = signal.freqz_sos(sos, worN=frequency_hz, fs=RATE_HZ)[1]
    np.testing.assert_allclose(
        sos_response(sos, frequency_hz, RATE_HZ), expected, rtol=1e-6, atol=1e-12
    )


# IEC 61672-1, table 3, at the exact base-ten frequencies.
@pytest.mark.parametrize(
    ("exponent", "weighting_db"), [(1.8, -26.2), (2.1, -16.1), (2.4, -8.6), (2.7, -3.2), (3.0, 0.0)]
)
def test_sound_level_meter_weighs_as_the_standard(exponent: float, weighting_db: float) -> None:
    time_s = np.arange(0.0, 3.0, 1.0 / RATE_HZ)
    tone = np.sin(2.0 * np.pi * 10.0**exponent * time_s)
    shown_db = fast_a_level_db(tone, RATE_HZ, 94.0, np.array([2.9]))[0]
    assert shown_db == pytest.approx(94.0 + weighting_db, abs=0.1)


def test_faults_do_what_they_say() -> None:
    drive = generate(swept_spec(TelemetrySpec()), seed=5)
    clipped = with_clipping(drive, 0.5)
    assert np.mean(np.abs(clipped.samples) == 1.0) > 1e-5
    levelled = with_automatic_gain(drive)
    assert _loudness_span_db(levelled) < 0.6 * _loudness_span_db(drive)
    gap = with_telemetry_gap(drive, start_s=10.0, duration_s=4.0)
    assert np.diff(gap.telemetry["time_s"]).max() == pytest.approx(4.2, abs=0.3)


def _loudness_span_db(drive: GeneratedDrive) -> float:
    seconds = drive.samples.reshape(-1, round(drive.sample_rate_hz)).astype(float)
    return float(np.ptp(10.0 * np.log10(np.mean(seconds**2, axis=1))[3:]))
