"""Draw a road drive, or one of a kind.

Sizes are judgement: a wide mix of cars, roads, drivers and loggers.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Collection
from dataclasses import replace

import numpy as np

from tests.roads.engines import LAYOUTS, random_car, random_engine, resonance, smooth_car
from tests.roads.spec import Cause, Recorder, Resonance, RoadNoise, RoadSpec, RpmLog
from tests.roads.traces import TRACES, random_driver
from tests.roads.troubles import Trouble, troubled

_CHANCE = 0.1  # of each trouble when nobody says which
_RAISED_TOGETHER = 1.25  # two drones nearer than this would be one hill


def random_road(
    rng: np.random.Generator,
    *,
    layout: str | None = None,
    trace: str | None = None,
    drones: int | None = None,
    climb_db: float | None = None,
    troubles: Collection[Trouble] | None = None,
    sample_rate_hz: float = 8000.0,
) -> RoadSpec:
    """Draw a drive; what is not wished is drawn too.

    ``layout`` is one of ``LAYOUTS``, ``trace`` one of ``TRACES``; ``drones`` is how many
    resonances stand out of the rest, each 2 to 20 dB high and 3 to 40 % wide; ``climb_db`` how far
    the pulses' level rises over the range. ``troubles`` are exactly those that happen; None draws
    each with a chance of a tenth.
    """
    layout = str(rng.choice(LAYOUTS)) if layout is None else layout
    trace = str(rng.choice(TRACES)) if trace is None else trace
    count = int(rng.integers(0, 4)) if drones is None else drones
    climb_db = float(rng.uniform(3.0, 24.0)) if climb_db is None else climb_db
    low_rpm, high_rpm = float(rng.uniform(950, 1400)), float(rng.uniform(3300, 5500))
    if trace == "cruise":
        high_rpm = float(rng.uniform(2800, 3300))
    engine = random_engine(rng, layout, climb_db, low_rpm, high_rpm)
    raised = random_drones(rng, count, engine.firing_order, low_rpm, high_rpm)
    spec = RoadSpec(
        name=f"{layout} cylinders, {trace}, {count} drones",
        engine=engine,
        car=random_car(rng, raised),
        driver=random_driver(rng, trace, low_rpm, high_rpm),
        sample_rate_hz=sample_rate_hz,
        noise=_noise(rng),
        recorder=Recorder(peak_dbfs=float(rng.uniform(-18.0, -2.0))),
        log=_log(rng),
    )
    if troubles is None:
        troubles = [each for each in Trouble if rng.uniform() < _CHANCE]
    for trouble in Trouble:
        if trouble in troubles:
            spec = troubled(spec, trouble, rng)
    return spec


def random_drones(
    rng: np.random.Generator, count: int, firing_order: float, low_rpm: float, high_rpm: float
) -> tuple[Resonance, ...]:
    """Resonances that the firing order or half of it meets well inside the range."""
    made: list[Resonance] = []
    causes = [Cause.EXHAUST, Cause.EXHAUST, Cause.CABIN, Cause.INTAKE, Cause.STRUCTURE]
    for _ in range(200):
        if len(made) == count:
            break
        order = firing_order * float(rng.choice([1.0, 1.0, 0.5]))
        rpm = float(np.exp(rng.uniform(np.log(1.25 * low_rpm), np.log(0.8 * high_rpm))))
        hz = order * rpm / 60.0
        far = all(
            max(hz / each.frequency_hz, each.frequency_hz / hz) > _RAISED_TOGETHER for each in made
        )
        if not (35.0 <= hz <= 220.0 and far):
            continue
        made.append(
            resonance(
                causes[int(rng.integers(len(causes)))],
                hz,
                float(rng.uniform(2.0, 20.0)),
                float(np.exp(rng.uniform(np.log(0.03), np.log(0.4)))),
                float(rng.uniform(-0.4, 0.4)),
            )
        )
    return tuple(made)


def _noise(rng: np.random.Generator) -> RoadNoise:
    return RoadNoise(
        tyres_db=float(rng.uniform(-25.0, -4.0)),
        cavity_hz=float(rng.uniform(180.0, 250.0)),
        cavity_db=float(rng.uniform(2.0, 14.0)),
        wind_db=float(rng.uniform(-30.0, -10.0)),
        gust_db=float(rng.uniform(0.0, 8.0)),
        floor_db=float(rng.uniform(-60.0, -40.0)),
    )


def _log(rng: np.random.Generator) -> RpmLog:
    rate_hz = float(np.exp(rng.uniform(np.log(1.0), np.log(20.0))))
    return RpmLog(
        rate_hz=rate_hz,
        lag_s=float(rng.uniform(0.0, 1.5)),
        jitter_s=float(min(0.05, 0.2 / rate_hz) * rng.uniform()),
        step_rpm=float(rng.choice([0.25, 1.0, 10.0, 25.0])),
        smoothing_s=float(rng.choice([0.0, 0.1, 0.3])),
        noise_rpm=float(rng.choice([0.0, 0.0, 3.0])),
        road_speed=bool(rng.uniform() < 0.7),
    )


def plain(rng: np.random.Generator) -> RoadSpec:
    """Nothing went wrong but the road itself."""
    return random_road(rng, troubles=())


def one_drone(rng: np.random.Generator) -> RoadSpec:
    """Nothing went wrong, and one resonance stands out."""
    return random_road(rng, troubles=(), drones=1, trace="sweep")


def quiet_climb(rng: np.random.Generator) -> RoadSpec:
    """No resonance anywhere: the level only climbs, by 12 to 30 dB and unevenly."""
    spec = random_road(rng, troubles=(), climb_db=float(rng.uniform(12, 30)), drones=0)
    even = tuple(replace(each, echo=0.0, delay_s=0.0) for each in spec.engine.cylinders)
    engine = replace(spec.engine, cylinders=even)
    return replace(spec, name="quiet climb", engine=engine, car=smooth_car(rng))


def _of(trouble: Trouble, rng: np.random.Generator, drones: int | None = None) -> RoadSpec:
    return random_road(rng, troubles=(trouble,), drones=drones)


def levelled(rng: np.random.Generator) -> RoadSpec:
    """A recorder that held the level, and one drone at least."""
    return _of(Trouble.LEVELLER, rng, drones=int(rng.integers(1, 3)))


def limited_sound(rng: np.random.Generator) -> RoadSpec:
    """A limiter on the loudest parts."""
    return _of(Trouble.LIMITER, rng)


def clipped(rng: np.random.Generator) -> RoadSpec:
    """Clipped, often turned down afterwards."""
    return _of(Trouble.CLIPPING, rng)


def through_codec(rng: np.random.Generator) -> RoadSpec:
    """Through a lossy codec."""
    return _of(Trouble.CODEC, rng)


def voice_codec(rng: np.random.Generator) -> RoadSpec:
    """Through a voice recorder without the low notes."""
    return _of(Trouble.VOICE_CODEC, rng)


def dead_left(rng: np.random.Generator) -> RoadSpec:
    """Stereo with nothing on the first channel."""
    return _of(Trouble.DEAD_LEFT, rng)


def with_hum(rng: np.random.Generator) -> RoadSpec:
    """A steady tone of a fan or of the mains."""
    return _of(Trouble.HUM, rng)


def with_music(rng: np.random.Generator) -> RoadSpec:
    """Music at -6 or 0 dB of the engine."""
    return _of(Trouble.MUSIC, rng)


def with_speech(rng: np.random.Generator) -> RoadSpec:
    """Somebody talks."""
    return _of(Trouble.SPEECH, rng)


def with_clicks(rng: np.random.Generator) -> RoadSpec:
    """Knocks and clicks."""
    return _of(Trouble.CLICKS, rng)


def with_gusts(rng: np.random.Generator) -> RoadSpec:
    """Wind on the microphone."""
    return _of(Trouble.GUSTS, rng)


def two_clocks(rng: np.random.Generator) -> RoadSpec:
    """Sound and rows on clocks that drift apart."""
    return _of(Trouble.TWO_CLOCKS, rng)


def wrong_log(rng: np.random.Generator) -> RoadSpec:
    """An rpm log off by 0.5, 1.5 or 2."""
    return _of(Trouble.WRONG_LOG, rng)


def poor_log(rng: np.random.Generator) -> RoadSpec:
    """A noisy log with holes and spikes."""
    return _of(Trouble.POOR_LOG, rng)


def deactivating(rng: np.random.Generator) -> RoadSpec:
    """Half of the cylinders shut in top gear at light load; four, six or eight of them."""
    layout = str(rng.choice(["4", "6-vee", "8-cross", "8-flat"]))
    return random_road(rng, layout=layout, trace="cruise", troubles=(Trouble.DEACTIVATION,))


def deactivating_in_gears(rng: np.random.Generator) -> RoadSpec:
    """The same, and the engine speeds driven in two lower gears as well, where none is shut."""
    spec = deactivating(rng)
    driver = random_driver(rng, "top gears", 1150.0, float(rng.uniform(2600.0, 3300.0)))
    return replace(spec, name=f"{spec.name}, top gears", driver=driver)


def unequal_banks(rng: np.random.Generator) -> RoadSpec:
    """Two banks with unlike pipes."""
    layout = str(rng.choice(["4-boxer", "6-vee", "8-cross", "8-flat"]))
    return random_road(rng, layout=layout, troubles=(Trouble.UNEQUAL_BANKS,))


# Every kind by its name.
KINDS: dict[str, Callable[[np.random.Generator], RoadSpec]] = {
    make.__name__: make
    for make in (
        plain,
        one_drone,
        quiet_climb,
        levelled,
        limited_sound,
        clipped,
        through_codec,
        voice_codec,
        dead_left,
        with_hum,
        with_music,
        with_speech,
        with_clicks,
        with_gusts,
        two_clocks,
        wrong_log,
        poor_log,
        deactivating,
        deactivating_in_gears,
        unequal_banks,
    )
}
