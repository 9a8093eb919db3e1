"""What may go wrong on a drive, each as a change of its spec, drawn at random.

Sizes are judgement: from slight to as bad as recorders, cabins and loggers are.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum

import numpy as np

from tests.roads.codecs import FILE_CODECS, VOICE_CODECS
from tests.roads.spec import Deactivation, Hum, Leveller, RoadSpec
from tests.roads.traces import random_driver


class Trouble(StrEnum):
    """Names of all troubles."""

    LEVELLER = "leveller"
    LIMITER = "limiter"
    CLIPPING = "clipping"
    CODEC = "codec"
    VOICE_CODEC = "voice codec"
    DEAD_LEFT = "dead left channel"
    HUM = "hum"
    MUSIC = "music"
    SPEECH = "speech"
    CLICKS = "clicks"
    GUSTS = "gusts"
    TWO_CLOCKS = "two clocks"
    WRONG_LOG = "wrong log"
    POOR_LOG = "poor log"
    DEACTIVATION = "deactivation"
    UNEQUAL_BANKS = "unequal banks"


def troubled(spec: RoadSpec, trouble: Trouble, rng: np.random.Generator) -> RoadSpec:
    """The same drive with one trouble more, named in its name."""
    return replace(_CHANGES[trouble](spec, rng), name=f"{spec.name}, {trouble.value}")


def _leveller(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    leveller = Leveller(
        attack_s=float(np.exp(rng.uniform(np.log(0.005), np.log(0.3)))),
        release_s=float(np.exp(rng.uniform(np.log(0.3), np.log(5.0)))),
        target_dbfs=float(rng.uniform(-26.0, -12.0)),
        most_gain_db=float(rng.uniform(12.0, 40.0)),
        gate_dbfs=float(rng.uniform(-55.0, -35.0)) if rng.uniform() < 0.5 else None,
        strength=float(rng.uniform(0.6, 1.0)),
    )
    return replace(spec, recorder=replace(spec.recorder, leveller=leveller))


def _limiter(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    limit_dbfs = spec.recorder.peak_dbfs - float(rng.uniform(4.0, 15.0))
    return replace(spec, recorder=replace(spec.recorder, limit_dbfs=limit_dbfs))


def _clipping(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    recorder = replace(
        spec.recorder,
        clip_db=float(rng.uniform(3.0, 15.0)),
        turned_down_db=float(rng.choice([0.0, 1.0, 3.0, 6.0, 12.0])),
    )
    return replace(spec, recorder=recorder)


def _codec(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    return replace(spec, recorder=replace(spec.recorder, codec=str(rng.choice(FILE_CODECS))))


def _voice_codec(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    return replace(spec, recorder=replace(spec.recorder, codec=str(rng.choice(VOICE_CODECS))))


def _dead_left(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    del rng
    return replace(spec, recorder=replace(spec.recorder, dead_left=True))


def _hum(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    is_fan = rng.uniform() < 0.3
    hum = Hum(
        frequency_hz=float(rng.uniform(60.0, 250.0) if is_fan else rng.choice([50, 60, 100, 120])),
        level_db=float(rng.uniform(-18.0, 3.0)),
        harmonics_db=(0.0, *(-rng.uniform(3.0, 20.0, size=4)).tolist()),
        wander_share=float(rng.uniform(0.0005, 0.004)) if is_fan else 0.0,
    )
    return replace(spec, hum=hum)


def _music(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    return replace(spec, music_db=float(rng.choice([-6.0, 0.0])))


def _speech(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    return replace(spec, speech_db=float(rng.uniform(-9.0, 6.0)))


def _clicks(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    noise = replace(
        spec.noise,
        clicks_per_s=float(rng.uniform(0.2, 3.0)),
        click_db=float(rng.uniform(10.0, 25.0)),
    )
    return replace(spec, noise=noise)


def _gusts(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    gust_db, wind_db = float(rng.uniform(8.0, 20.0)), float(rng.uniform(-12.0, 0.0))
    return replace(spec, noise=replace(spec.noise, gust_db=gust_db, wind_db=wind_db))


def _two_clocks(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    drift_ppm = float(rng.choice([-1.0, 1.0]) * rng.uniform(50.0, 500.0))
    return replace(spec, recorder=replace(spec.recorder, drift_ppm=drift_ppm))


def _wrong_log(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    return replace(spec, log=replace(spec.log, factor=float(rng.choice([0.5, 1.5, 2.0]))))


def _poor_log(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    log = replace(
        spec.log,
        noise_rpm=float(rng.uniform(5.0, 60.0)),
        dropped_share=float(rng.uniform(0.0, 0.3)),
        gap_s=float(rng.choice([0.0, 3.0, 8.0])),
        spikes_per_minute=float(rng.choice([0.0, 2.0, 6.0])),
        step_rpm=float(rng.choice([1.0, 10.0, 50.0])),
    )
    return replace(spec, log=log)


def _deactivation(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    """Driven so that it happens: in top gear at light load."""
    engine = replace(spec.engine, deactivation=Deactivation(lift_db=float(rng.uniform(2.0, 6.0))))
    return replace(spec, engine=engine, driver=random_driver(rng, "cruise", 1150.0, 3200.0))


def _unequal_banks(spec: RoadSpec, rng: np.random.Generator) -> RoadSpec:
    """One bank's pipe longer and louder; an engine in line has its runners so."""
    engine = spec.engine
    if not any(cylinder.bank for cylinder in engine.cylinders):
        half = tuple(replace(each, bank=index % 2) for index, each in enumerate(engine.cylinders))
        engine = replace(engine, cylinders=half)
    car = replace(
        spec.car,
        bank_level_db=float(rng.choice([-1.0, 1.0]) * rng.uniform(2.0, 6.0)),
        bank_delay_s=float(rng.uniform(0.001, 0.004)),
    )
    return replace(spec, engine=engine, car=car)


_CHANGES: dict[Trouble, Callable[[RoadSpec, np.random.Generator], RoadSpec]] = {
    Trouble.LEVELLER: _leveller,
    Trouble.LIMITER: _limiter,
    Trouble.CLIPPING: _clipping,
    Trouble.CODEC: _codec,
    Trouble.VOICE_CODEC: _voice_codec,
    Trouble.DEAD_LEFT: _dead_left,
    Trouble.HUM: _hum,
    Trouble.MUSIC: _music,
    Trouble.SPEECH: _speech,
    Trouble.CLICKS: _clicks,
    Trouble.GUSTS: _gusts,
    Trouble.TWO_CLOCKS: _two_clocks,
    Trouble.WRONG_LOG: _wrong_log,
    Trouble.POOR_LOG: _poor_log,
    Trouble.DEACTIVATION: _deactivation,
    Trouble.UNEQUAL_BANKS: _unequal_banks,
}
