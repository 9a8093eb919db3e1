"""Bands put together as causes, and the words that go with each verdict."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.drive import Engine
from analysis.find.causes import causes
from analysis.find.drone import find_drone
from analysis.find.sound.weighting import a_weighting_db
from analysis.find.tone import band_tone
from analysis.findings import (
    Cause,
    DroneBand,
    Findings,
    GearView,
    LevelMap,
    LoadClass,
    LoadView,
    LockedTo,
    OrderCurve,
)
from tests.analysis.conftest import FoundDrive
from tests.analysis.made_findings import grid, make_band, make_curve, make_findings
from tests.drives import generate
from tests.drives.spec import (
    DriveSpec,
    Leg,
    Noise,
    Resonator,
    RoadTone,
    Source,
    TelemetrySpec,
    even_fire,
)


def view(gear: int, share: float, speed_m_s: float = 20.0) -> GearView:
    return GearView(gear=gear, share_of_rise=share, road_speed_m_s=speed_m_s)


def band_at(order: float, hz: float, locked_to: LockedTo, *views: GearView) -> DroneBand:
    return replace(make_band(order, 60.0 * hz / order), locked_to=locked_to, by_gear=views)


def causes_of(*bands: DroneBand) -> tuple[Cause, ...]:
    return causes(make_findings((), bands))


def said(cause: Cause) -> str:
    return " ".join((*cause.evidence, *cause.suspects, *cause.to_decide))


def test_orders_that_cross_one_resonance_are_one_cause() -> None:
    engine = LockedTo.ENGINE
    one, other = causes_of(
        band_at(3.0, 112.0, engine, view(0, 1.0), view(1, 1.0)),
        band_at(1.5, 113.0, LockedTo.UNKNOWN),
        band_at(6.0, 150.0, engine),
        band_at(4.5, 111.5, engine),
    )
    assert (one.bands, other.bands) == ((1, 2, 4), (3,))
    assert one.locked_to is engine
    assert one.frequency_hz == pytest.approx(112.2, abs=0.1)
    assert "One resonance at 112.2 Hz, not 3 drones" in one.evidence[0]
    assert "order 1.5 at 4,520 rpm" in one.evidence[0]


def test_several_orders_at_one_frequency_are_a_resonance_and_what_would_tell_which() -> None:
    (cause,) = causes_of(
        band_at(3.0, 70.0, LockedTo.ENGINE, view(0, 1.0), view(1, 1.0)),
        band_at(1.5, 70.2, LockedTo.ENGINE, view(0, 1.0), view(1, 1.0)),
    )
    assert "resonance of exhaust, intake, cabin or body" in said(cause)
    for recording in ("near the tailpipe", "after a cold start", "a window open"):
        assert recording in " ".join(cause.to_decide)


def passing_curve(order: float, hill_db: float) -> OrderCurve:
    """An order that goes through 112 Hz, with a hill there or without."""
    rpm = grid()
    level_db = -30.0 + hill_db * np.exp(-(((order * rpm / 60.0 / 112.0 - 1.0) / 0.08) ** 2))
    curve = make_curve(order, 10.0 ** (0.1 * level_db), rpm)
    return replace(curve, fitted_db=np.tile(level_db, curve.rpm.size // rpm.size))


@pytest.mark.parametrize(("hill_db", "is_said"), [(0.0, True), (9.0, False)])
def test_one_order_alone_is_called_neither_source_nor_resonance(
    hill_db: float, is_said: bool
) -> None:
    made = make_findings(
        (passing_curve(4.5, hill_db),), (band_at(3.0, 112.0, LockedTo.ENGINE, view(0, 1.0)),)
    )
    assert ("though order 4.5 passed" in said(made.causes[0])) is is_said
    assert "may be one source" in said(made.causes[0])
    assert "or a resonance" in said(made.causes[0])


def test_half_of_the_cylinders_at_rest_is_named_and_how_to_find_out() -> None:
    """Half of the firing order in the top gear alone, at 1,800 rpm."""
    made = make_findings(
        (),
        (band_at(2.0, 60.0, LockedTo.UNKNOWN, view(0, 0.0), view(1, 1.0)),),
        engine=Engine(cylinders=8),
    )
    (cause,) = made.causes
    assert "shuts off half of its cylinders" in said(cause)
    assert "all cylinders work" in " ".join(cause.to_decide)
    assert "propeller shaft" not in said(cause)


def test_engine_and_road_at_one_frequency_stay_apart() -> None:
    made = causes_of(band_at(3.0, 112.0, LockedTo.ENGINE), band_at(2.0, 112.5, LockedTo.ROAD))
    assert [cause.locked_to for cause in made] == [LockedTo.ENGINE, LockedTo.ROAD]


def test_engine_names_the_gears_and_the_standstill() -> None:
    (cause,) = causes_of(
        band_at(
            3.0, 60.0, LockedTo.ENGINE, view(-1, 0.1, 0.0), view(0, 1.0, 15.0), view(1, 0.9, 20.0)
        )
    )
    assert "in gear A (54 km/h, 34 mph) and gear B (72 km/h, 45 mph)" in said(cause)
    assert "no load then" in said(cause)
    assert "intake" in said(cause)
    assert "cabin" in said(cause)  # 60 Hz


@pytest.mark.parametrize(
    ("hz", "speed_m_s", "expected"),
    [
        (20.0, 25.0, "wheels and tyres"),  # 1.56 times a turn
        (45.0, 25.0, "once a turn"),  # 3.5
        (90.0, 25.0, "joints"),  # 7.0
        (240.0, 25.0, "tread"),  # 18.7
        (215.0, 25.0, "The air in the tyres"),
    ],
)
def test_road_suspects_by_turns_of_the_wheel(hz: float, speed_m_s: float, expected: str) -> None:
    """Turns for a wheel 1.95 m round (common practice, no source)."""
    (cause,) = causes_of(
        band_at(2.0, hz, LockedTo.ROAD, view(0, 0.0, 0.7 * speed_m_s), view(1, 1.0, speed_m_s))
    )
    assert expected in said(cause)
    assert "follows road speed" in said(cause)


def test_one_gear_asks_for_a_second() -> None:
    (cause,) = causes_of(band_at(3.0, 112.0, LockedTo.UNKNOWN, view(0, 1.0, 20.0)))
    assert "in a second gear besides gear A" in said(cause)
    assert "72 km/h" in said(cause)
    assert "standing in the open" in said(cause)


def test_without_road_speed_it_is_asked_for() -> None:
    found = make_findings((), (band_at(3.0, 112.0, LockedTo.UNKNOWN),))
    unknown = replace(found.engine_speed, gear_index=np.full(grid().size, np.nan))
    (cause,) = causes(replace(found, engine_speed=unknown))
    assert "Log road speed" in said(cause)


def test_a_load_that_matters_is_named_with_its_size() -> None:
    def load(name: LoadClass, part: float | None, level_db: float) -> LoadView:
        return LoadView(load=name, load_part=part, level_db=level_db, share_of_rise=1.0)

    loads = (load(LoadClass.HEAVY, 0.8, 90.0), load(LoadClass.LIGHT, 0.3, 84.0))
    band = replace(band_at(3.0, 112.0, LockedTo.UNKNOWN), by_load=loads)
    assert "6 dB louder under heavy load (about 80 %) than under light" in said(causes_of(band)[0])
    near = (loads[0], replace(loads[1], level_db=89.0))
    assert "Load makes little difference" in said(causes_of(replace(band, by_load=near))[0])
    unlogged = tuple(replace(view, load_part=None) for view in near)
    assert "Load" not in said(causes_of(replace(band, by_load=unlogged))[0])


def one_drone(*legs: Leg, seed: int) -> Findings:
    spec = DriveSpec(
        exhaust=(Resonator(frequency_hz=112.0, gain=3.0, q=9.0),),
        legs=legs,
        start_rpm=1100.0,
        noise=Noise(road_db_spl=70.0, wind_db_spl=68.0),
        telemetry=TelemetrySpec(load=True),
    )
    return find_drone(generate(spec, seed).drive())


def up_and_down(gear: int, up: float, down: float) -> tuple[Leg, ...]:
    return (
        Leg(duration_s=2.0, end_rpm=1100.0, gear=gear, load=down),
        Leg(duration_s=20.0, end_rpm=3600.0, gear=gear, load=up),
        Leg(duration_s=20.0, end_rpm=1100.0, gear=gear, load=down),
        Leg(duration_s=3.0, end_rpm=1100.0, gear=None, load=down),
    )


def test_a_drive_at_two_loads_tells_by_how_much() -> None:
    """Pulses of half the pressure are 6.0 dB quieter."""
    band = one_drone(*up_and_down(3, 1.0, 0.5), seed=4).bands[0]
    heavy, light = band.by_load
    assert (heavy.load, light.load) == (LoadClass.HEAVY, LoadClass.LIGHT)
    assert heavy.load_part == pytest.approx(1.0, abs=0.02)
    assert light.load_part == pytest.approx(0.5, abs=0.02)
    assert heavy.level_db - light.level_db == pytest.approx(6.02, abs=0.5)


def test_a_standing_run_beside_one_gear_shows_the_engine() -> None:
    standing = up_and_down(0, 1.0, 0.9)
    driving = up_and_down(3, 1.0, 0.9)
    found = one_drone(*standing, *driving, seed=5)
    assert {each.gear for each in found.bands[0].by_gear} == {-1, 0}
    assert found.bands[0].locked_to is LockedTo.ENGINE
    assert "one_gear_only" not in {doubt.code for doubt in found.warnings}


COAST = (
    Leg(duration_s=4.0, end_rpm=3400.0, gear=4, load=0.6),
    Leg(duration_s=2.0, end_rpm=900.0, gear=None, load=0.3),
    Leg(duration_s=40.0, end_rpm=900.0, gear=None, load=0.3),
)


def in_one_gear(tone: RoadTone | None, *end: Leg) -> DroneBand:
    """Sweeps in fourth gear; what follows is driven with the clutch down, the car slowing down."""
    shaft = tone is not None
    spec = DriveSpec(
        exhaust=() if shaft else (Resonator(frequency_hz=75.0, gain=3.0, q=9.0),),
        source=Source(level_db_spl=70.0 if shaft else 86.0, cylinders=4, firing_deg=even_fire(4)),
        road_tone=tone,
        legs=(*up_and_down(4, 1.0, 0.9)[:3], *end),
        start_rpm=1100.0,
        noise=Noise(road_db_spl=68.0, wind_db_spl=66.0),
    )
    return find_drone(generate(spec, 6).drive()).bands[0]


SHAFT = RoadTone(  # twice a turn of a shaft that turns as fast as the engine in fourth gear
    cycles_per_metre=2.0 * 3.5 / 1.95,
    level_db_spl=80.0,
    resonator=Resonator(frequency_hz=75.0, gain=3.0, q=9.0),
)


@pytest.mark.parametrize("tone", [None, SHAFT])
def test_one_gear_alone_decides_nothing(tone: RoadTone | None) -> None:
    assert in_one_gear(tone).locked_to is LockedTo.UNKNOWN


def test_coasting_through_the_same_road_speed_decides() -> None:
    engine = in_one_gear(None, *COAST)
    assert engine.locked_to is LockedTo.ENGINE
    assert "is gone when coasting" in said(causes_of(engine)[0])
    road = in_one_gear(SHAFT, *COAST)
    assert road.locked_to is LockedTo.ROAD
    assert "coasting" in said(causes_of(road)[0])


def test_tone_of_a_band_by_the_map_beside_it() -> None:
    """A steady tone 30 dB over the noise of one line; excess by the definition of delta L."""
    band = make_band(3.0, 2240.0)
    frequency_hz = np.arange(0.0, 400.1, 2.0)
    level_db = np.full((3, frequency_hz.size), 50.0)
    level_db -= a_weighting_db(np.maximum(frequency_hz, 1.0))  # flat once A-weighted
    level_db[1, np.abs(frequency_hz - 112.0) < 0.1] += 30.0
    picture = LevelMap(
        rpm=np.array([2195.0, 2240.0, 2285.0]), frequency_hz=frequency_hz, level_db=level_db
    )
    tone = band_tone(replace(make_findings((), (band,)), level_map=picture), band)
    assert tone is not None
    # noise of 50 dB a line is 48.24 dB a line spacing; 100.6 Hz of it; a_v = -2.01 dB
    noise_db = 50.0 - 1.76 + 10.0 * np.log10(101.3 / 2.0)
    assert tone.audibility_db == pytest.approx(80.0 - 1.76 - noise_db + 2.01, abs=0.1)
    assert band_tone(make_findings((), (band,)), band) is None  # no sound, no map
    far = replace(picture, rpm=picture.rpm + 200.0)
    assert band_tone(replace(make_findings((), (band,)), level_map=far), band) is None


def test_the_drone_of_a_drive_is_audible_as_a_tone(found_drives: list[FoundDrive]) -> None:
    found = found_drives[0].findings
    tone = band_tone(found, found.bands[0])
    assert tone is not None
    assert tone.audibility_db > 6.0
