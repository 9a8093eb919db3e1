"""Drives with one fault each, and the warnings that may name it.

Sizes are judgement: what recorders, cabins and loggers do.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tests.roads import (
    Leveller,
    RoadSpec,
    Trouble,
    clipped,
    deactivating,
    deactivating_in_gears,
    dead_left,
    levelled,
    limited_sound,
    plain,
    poor_log,
    quiet_climb,
    random_road,
    through_codec,
    two_clocks,
    unequal_banks,
    voice_codec,
    with_clicks,
    with_gusts,
    with_hum,
    with_speech,
    wrong_log,
)

# attack, release, strength, gate (dB under the level held, or None), limiter: ten that phones have
LEVELLERS = (
    (0.005, 0.3, 1.0, None, False),
    (0.005, 5.0, 1.0, None, False),
    (0.3, 0.5, 1.0, None, False),
    (0.3, 5.0, 1.0, None, False),
    (0.05, 1.0, 1.0, None, False),
    (0.05, 1.0, 0.5, None, False),
    (0.1, 2.0, 0.7, None, False),
    (0.02, 1.0, 1.0, 12.0, False),
    (0.1, 3.0, 0.8, 12.0, True),
    (0.02, 0.5, 0.8, None, True),
)
_MUSIC_DB = (-6.0, 0.0)
_FACTORS = (0.5, 1.5, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What went wrong on a drive.

    Attributes
    ----------
    make : callable
        Draws the drive of a seed.
    codes : frozenset of str
        Warnings that name it; ``refused`` where no result is right. Empty where nothing is wrong.
    may : frozenset of str
        Warnings that are no false alarm either.
    """

    make: Callable[[np.random.Generator, int], RoadSpec]
    codes: frozenset[str] = frozenset()
    may: frozenset[str] = frozenset()


def held(rng: np.random.Generator, seed: int) -> RoadSpec:
    """One or two drones, held by each of ten levellers in turn."""
    attack_s, release_s, strength, gate_db, has_limiter = LEVELLERS[seed % len(LEVELLERS)]
    spec = levelled(rng)
    assert spec.recorder.leveller is not None
    leveller = replace(
        spec.recorder.leveller,
        attack_s=attack_s,
        release_s=release_s,
        strength=strength,
        gate_dbfs=None if gate_db is None else spec.recorder.peak_dbfs - 15.0 - gate_db,
    )
    limit_dbfs = leveller.target_dbfs + 6.0 if has_limiter else None
    return replace(spec, recorder=replace(spec.recorder, leveller=leveller, limit_dbfs=limit_dbfs))


def leveller_at(number: int, level_dbfs: float) -> tuple[Leveller, bool]:
    """One of the ten for a recording of this level, and whether a limiter follows."""
    attack_s, release_s, strength, gate_db, has_limiter = LEVELLERS[number]
    leveller = Leveller(
        attack_s=attack_s,
        release_s=release_s,
        target_dbfs=-18.0,
        most_gain_db=30.0,
        gate_dbfs=None if gate_db is None else level_dbfs - gate_db,
        strength=strength,
    )
    return leveller, has_limiter


def _music(rng: np.random.Generator, seed: int) -> RoadSpec:
    spec = random_road(rng, troubles=(Trouble.MUSIC,))
    return replace(spec, music_db=_MUSIC_DB[seed % len(_MUSIC_DB)])


def _log(rng: np.random.Generator, seed: int) -> RoadSpec:
    spec = wrong_log(rng)
    return replace(spec, log=replace(spec.log, factor=_FACTORS[seed % len(_FACTORS)]))


def _gusts(low_db: float, high_db: float) -> Callable[[np.random.Generator], RoadSpec]:
    """Wind that rises by so much in gusts."""

    def make(rng: np.random.Generator) -> RoadSpec:
        spec = with_gusts(rng)
        return replace(spec, noise=replace(spec.noise, gust_db=float(rng.uniform(low_db, high_db))))

    return make


def _loud_wind(rng: np.random.Generator, seed: int) -> RoadSpec:
    """Wind 10 or 20 dB over the drive's own, in gusts."""
    spec = with_gusts(rng)
    more_db = (10.0, 20.0)[seed % 2]
    return replace(spec, noise=replace(spec.noise, wind_db=spec.noise.wind_db + more_db))


def _faint(rng: np.random.Generator, seed: int) -> RoadSpec:
    """Recorded 42 to 60 dB below full scale."""
    del seed
    spec = plain(rng)
    peak_dbfs = float(rng.uniform(-60.0, -42.0))
    return replace(spec, recorder=replace(spec.recorder, peak_dbfs=peak_dbfs))


def _of(
    make: Callable[[np.random.Generator], RoadSpec], *codes: str, may: tuple[str, ...] = ()
) -> Fault:
    return Fault(make=lambda rng, seed: make(rng), codes=frozenset(codes), may=frozenset(may))


FAULTS: dict[str, Fault] = {
    "plain": _of(plain),
    "quiet-climb": _of(quiet_climb),
    "deactivating": _of(deactivating),
    "deactivating-in-gears": _of(deactivating_in_gears),
    "banks": _of(unequal_banks),
    "codec": _of(through_codec),
    "clocks": _of(two_clocks),
    "hum": _of(with_hum, "steady_tone"),
    "log": Fault(make=_log, codes=frozenset({"wrong_log", "telemetry_unaligned"})),
    "poor-log": _of(poor_log, may=("telemetry_gap", "telemetry_unaligned")),
    "levelled": Fault(make=held, codes=frozenset({"automatic_gain"})),
    "limited": _of(limited_sound, may=("automatic_gain", "clipped_audio")),
    "clipped": _of(clipped, "clipped_audio"),
    "music": Fault(make=_music, codes=frozenset({"speech"})),
    "speech": _of(with_speech, "speech"),
    "clicks": _of(with_clicks, "speech"),
    "gusts": _of(_gusts(12.0, 20.0), "wind_rumble", may=("low_signal",)),
    "light-gusts": _of(_gusts(8.0, 12.0), "wind_rumble", may=("low_signal",)),
    "wind": Fault(make=_loud_wind, codes=frozenset({"wind_rumble"}), may=frozenset({"low_signal"})),
    "voice-codec": _of(voice_codec, "microphone_roll_off"),
    "dead-left": _of(dead_left, "refused"),
    "faint": Fault(make=_faint, codes=frozenset({"low_signal"})),
}
