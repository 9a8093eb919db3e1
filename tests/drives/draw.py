"""Draw a wide mix of cars, roads, drivers and loggers."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from tests.drives.spec import (
    CROSS_PLANE_BANK_DEG,
    DriveSpec,
    Gearing,
    Leg,
    Noise,
    Resonator,
    RoadTone,
    SmoothTransfer,
    Source,
    TelemetrySpec,
    even_fire,
)

ENGINES = ("4", "6", "8", "8-bank")
_DRONE_HZ = (45.0, 180.0)
_BAND_SPACING = 1.5  # two bands closer than this would be one
_MAIN_ORDERS_OF_A_BANK = (1.5, 2.5, 4.0)


def random_spec(
    rng: np.random.Generator,
    *,
    bands: int,
    engine: str | None = None,
    sample_rate_hz: float = 8000.0,
    two_clocks: bool = False,
    gears: int = 1,
    road_drone: bool = False,
) -> DriveSpec:
    """Draw a drive with ``bands`` resonances; ``engine`` is one of ``ENGINES`` or drawn too.

    ``two_clocks`` draws telemetry from another device: an offset of up to a minute and some drift.
    ``road_drone`` adds a shaft that turns with the road wheels and booms at one road speed.
    """
    engine = str(rng.choice(ENGINES)) if engine is None else engine
    source = _source(engine, rng)
    low_rpm, high_rpm = float(rng.uniform(950, 1250)), float(rng.uniform(3900, 4700))
    peaks_hz = _peaks(engine, bands, rng)
    return DriveSpec(
        name=f"{engine} cylinders, {bands} bands",
        sample_rate_hz=sample_rate_hz,
        source=source,
        smooth=SmoothTransfer(
            high_pass_hz=float(rng.uniform(12, 22)),
            low_pass_hz=float(rng.uniform(250, 600)),
            hump_hz=float(rng.uniform(60, 200)),
            hump_db=float(rng.uniform(-4, 4)),
        ),
        exhaust=tuple(drone_resonator(hz, rng) for hz in peaks_hz),
        cabin=_ripples(rng),
        noise=Noise(
            road_db_spl=float(rng.uniform(72, 92)),
            wind_db_spl=float(rng.uniform(70, 92)),
            self_db_spl=float(rng.uniform(35, 50)),
        ),
        road_tone=_shaft_boom(rng) if road_drone else None,
        start_rpm=low_rpm,
        legs=_legs(low_rpm, high_rpm, gears, rng),
        sweep_wobble=float(rng.uniform(0.02, 0.09)),
        speed_flutter_rpm=float(rng.uniform(1, 8)),
        telemetry=_telemetry(two_clocks, rng),
    )


def drone_resonator(frequency_hz: float, rng: np.random.Generator) -> Resonator:
    """Draw a drone of 8.5 to 19 dB, 7 to 22 % wide between its half-power points."""
    size = 10.0 ** (rng.uniform(8.5, 19.0) / 20.0)
    width = rng.uniform(0.07, 0.22)
    # |1 + g/(1 + jx)|^2 has fallen to half at x = (1 + g) / sqrt((1 + g)^2 - 2); x = Q width.
    half_power_x = size / np.sqrt(size**2 - 2.0)
    phase = rng.uniform(-0.35, 0.35)
    # The gain that still reaches the size when it is turned: |1 + g exp(j phase)| = size.
    gain = -np.cos(phase) + np.sqrt(size**2 - np.sin(phase) ** 2)
    return Resonator(
        frequency_hz=frequency_hz,
        gain=float(gain),
        q=float(half_power_x / width),
        phase_rad=float(phase),
    )


def _shaft_boom(rng: np.random.Generator) -> RoadTone:
    """Twice a turn of the propeller shaft, which in fourth gear turns as fast as the engine."""
    gearing = Gearing()
    return RoadTone(
        cycles_per_metre=2.0 * gearing.final_drive / gearing.wheel_circumference_m,
        level_db_spl=float(rng.uniform(76.0, 84.0)),
        resonator=drone_resonator(2.0 * rng.uniform(1700.0, 2900.0) / 60.0, rng),
    )


def _source(engine: str, rng: np.random.Generator) -> Source:
    cylinders = int(engine.removesuffix("-bank"))
    return Source(
        cylinders=cylinders,
        firing_deg=CROSS_PLANE_BANK_DEG if engine == "8-bank" else even_fire(cylinders),
        level_db_spl=float(rng.uniform(66, 88)),
        rpm_exponent=float(rng.uniform(0.4, 1.2)),
        pulse_revolutions=float(rng.uniform(0.02, 0.035)),
        cylinder_imbalance=float(rng.uniform(0.01, 0.06)),
        cycle_variation=float(rng.uniform(0.01, 0.05)),
    )


def _peaks(engine: str, bands: int, rng: np.random.Generator) -> tuple[float, ...]:
    orders = _MAIN_ORDERS_OF_A_BANK if engine == "8-bank" else (int(engine) / 2.0,)
    while True:  # all are drawn afresh, because a first peak in the middle leaves no room
        rpm = rng.uniform(1600.0, 3100.0, size=bands)
        peaks_hz = np.sort(rng.choice(orders, size=bands) * rpm / 60.0)
        inside = np.all((peaks_hz >= _DRONE_HZ[0]) & (peaks_hz <= _DRONE_HZ[1]))
        if inside and np.all(peaks_hz[1:] >= _BAND_SPACING * peaks_hz[:-1]):
            return tuple(float(hz) for hz in peaks_hz)


def _ripples(rng: np.random.Generator) -> tuple[Resonator, ...]:
    """Cabin modes too weak to be called a drone: less than 2 dB even if all coincide."""
    count = int(rng.integers(0, 4))
    return tuple(
        Resonator(
            frequency_hz=float(rng.uniform(40, 300)),
            gain=float(rng.uniform(-0.2, 0.25) / count),
            q=float(rng.uniform(2, 8)),
        )
        for _ in range(count)
    )


def _legs(low_rpm: float, high_rpm: float, gears: int, rng: np.random.Generator) -> tuple[Leg, ...]:
    """One or two rounds of up and down in each gear, with rests between."""
    legs: list[Leg] = []
    for gear in range(3, 3 + gears):
        legs.append(Leg(duration_s=3.0, end_rpm=low_rpm, gear=gear, load=0.5))
        for _ in range(1 if gears > 1 else int(rng.integers(1, 3))):
            up_s, down_s = (float(rng.uniform(15.0, 60.0)) for _ in range(2))
            down_load = float(rng.uniform(0.6, 1.0))
            rest_s = float(rng.uniform(1.0, 6.0))
            legs += [
                Leg(duration_s=up_s, end_rpm=high_rpm, gear=gear),
                Leg(duration_s=rest_s, end_rpm=high_rpm, gear=gear, load=0.8),
                Leg(duration_s=down_s, end_rpm=low_rpm, gear=gear, load=down_load),
                Leg(duration_s=rest_s, end_rpm=low_rpm, gear=gear, load=0.5),
            ]
        legs.append(Leg(duration_s=3.0, end_rpm=low_rpm, gear=None, load=0.3))
    return tuple(legs)


def _telemetry(two_clocks: bool, rng: np.random.Generator) -> TelemetrySpec:
    rate_hz = float(np.exp(rng.uniform(np.log(1.0), np.log(20.0))))
    return TelemetrySpec(
        rate_hz=rate_hz,
        delay_s=float(rng.uniform(0.0, 2.0)),
        clock_offset_s=float(rng.uniform(-58.0, 58.0)) if two_clocks else 0.0,
        clock_drift_ppm=float(rng.uniform(-500.0, 500.0)) if two_clocks else 0.0,
        jitter_s=float(min(0.02, 0.1 / rate_hz)),
        rpm_step=float(rng.choice([0.25, 1.0, 10.0, 25.0])),
        dropped_share=float(rng.choice([0.0, 0.0, 0.03])),
        smoothing_s=0.0,
    )
