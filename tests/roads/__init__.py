"""Drives as hostile as a road, with the truth beside them.

Cylinders differ from each other and from cycle to cycle; several resonances, intake, cabin, tyres,
wind, speech, music, hum; levellers, codecs, clocks; rpm logs that are late, coarse or off by a
factor. The truth is worked out from pulses and filters. Nothing here shares code with the analysis
but its input type, nor with ``tests.drives``.

    spec = levelled(np.random.default_rng(7))     # a kind in one line
    made = drive_on(spec, seed=7)                 # sound, rows, truth
    made.drive()                                  # as the analysis takes it
    made.truth.hills                              # every hill of the car's order curves
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from tests.roads.draw import (
    KINDS,
    clipped,
    deactivating,
    deactivating_in_gears,
    dead_left,
    levelled,
    limited_sound,
    one_drone,
    plain,
    poor_log,
    quiet_climb,
    random_drones,
    random_road,
    through_codec,
    two_clocks,
    unequal_banks,
    voice_codec,
    with_clicks,
    with_gusts,
    with_hum,
    with_music,
    with_speech,
    wrong_log,
)
from tests.roads.drive import RoadDrive, RoadTruth, drive_on
from tests.roads.engines import LAYOUTS, resonance
from tests.roads.spec import (
    CarSpec,
    Cause,
    Cylinder,
    Deactivation,
    Driver,
    EngineSpec,
    Gearing,
    Hum,
    Leg,
    Leveller,
    Recorder,
    Resonance,
    RoadNoise,
    RoadSpec,
    RpmLog,
    Scatter,
    Way,
)
from tests.roads.traces import TRACES, random_driver
from tests.roads.troubles import Trouble, troubled
from tests.roads.truth import ORDERS, Curves, TrueHill, measured_curve

__all__ = [
    "KINDS",
    "LAYOUTS",
    "ORDERS",
    "TRACES",
    "CarSpec",
    "Cause",
    "Curves",
    "Cylinder",
    "Deactivation",
    "Driver",
    "EngineSpec",
    "Gearing",
    "Hum",
    "Leg",
    "Leveller",
    "Recorder",
    "Resonance",
    "RoadDrive",
    "RoadNoise",
    "RoadSpec",
    "RoadTruth",
    "RpmLog",
    "Scatter",
    "Trouble",
    "TrueHill",
    "Way",
    "clipped",
    "deactivating",
    "deactivating_in_gears",
    "dead_left",
    "drive_on",
    "levelled",
    "limited_sound",
    "measured_curve",
    "one_drone",
    "plain",
    "poor_log",
    "quiet_climb",
    "random_driver",
    "random_drones",
    "random_road",
    "resonance",
    "through_codec",
    "troubled",
    "two_clocks",
    "unequal_banks",
    "voice_codec",
    "with_clicks",
    "with_gusts",
    "with_hum",
    "with_music",
    "with_speech",
    "wrong_log",
]
