"""A drive that raises no doubt, and what of it a test may change."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from analysis.basics.interval import Interval
from analysis.find.curves.driven import Driven
from analysis.find.doubts.evidence import Evidence
from analysis.find.doubts.raised import doubts
from analysis.find.sound.automatic_gain import AutomaticGain
from analysis.find.sound.gaps import SoundGaps
from analysis.find.sound.hearing import Heard
from analysis.find.sound.level_map import FrameLevels, LevelsBySpeed
from analysis.find.sound.order_tracking import ORDERS, OrderFrames
from analysis.find.sound.other_tones import NONE as NONE_BESIDE
from analysis.find.sound.other_tones import OtherTones
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.wide_bands import BandLevels
from analysis.find.sound.working_copy import SampleFacts
from analysis.find.speed.known_speed import KnownSpeed
from analysis.findings import (
    DroneBand,
    LevelMap,
    LockedTo,
    OrderMap,
    TelemetryDelay,
)
from tests.analysis.made_findings import make_findings

ANY = Interval(low=0.0, high=1.0)
BAND = DroneBand(
    engine_order=4.0,
    peak_rpm=1500.0,  # 100 Hz
    low_rpm=1425.0,
    high_rpm=1575.0,  # 10 Hz wide: Q = 10
    rise_db=12.0,
    level_db=80.0,
    locked_to=LockedTo.UNKNOWN,
    peak_hz_ci95=ANY,
    low_hz_ci95=ANY,
    high_hz_ci95=ANY,
)
COUNT = 1200
TIME_S = 0.1 * np.arange(COUNT, dtype=np.float64)
NONE = np.empty(0)
RPM = 1500.0 + 600.0 * np.sin(2.0 * np.pi * TIME_S / 120.0)
GOOD = Evidence(
    telemetry=pd.DataFrame({"time_s": np.arange(0.0, 120.0, 0.25), "rpm": 1500.0}),
    speed=KnownSpeed(
        track=SpeedTrack(start_s=0.0, step_s=0.1, rpm=RPM),
        sigma_part=np.full(COUNT, np.nan),
        is_from_sound=False,
        delay=TelemetryDelay(delay_s=0.4, ci95_s=ANY, drift_ppm=0.0),
        duration_s=120.0,
    ),
    heard=Heard(
        facts=SampleFacts(peak=0.5, clipped_fraction=0.0),
        gaps=SoundGaps.between((), 120.0),
        is_flattened=False,
        frames=OrderFrames(
            time_s=TIME_S,
            rpm=RPM,
            total_ms=np.ones((COUNT, ORDERS.size), dtype=np.float32),
            background_ms=np.full((COUNT, ORDERS.size), 0.1, dtype=np.float32),
        ),
        order_map=OrderMap(rpm=NONE, engine_order=NONE, level_db=NONE),
        levels=LevelsBySpeed(
            picture=LevelMap(rpm=NONE, frequency_hz=NONE, level_db=NONE),
            overall=make_findings(()).overall,
            frames=FrameLevels(time_s=NONE, mean_square=NONE),
        ),
        wide=BandLevels(
            time_s=TIME_S,
            wind_ms=np.full(COUNT, 1.0, dtype=np.float32),
            engine_ms=np.full(COUNT, 1.0, dtype=np.float32),
            voice_ms=np.full(COUNT, 0.1, dtype=np.float32),
            hiss_db=np.full(COUNT, -40.0, dtype=np.float32),
        ),
        tones=(),
        full_scale_db=0.0,
    ),
    gain=AutomaticGain.NO,
    tones=NONE_BESIDE,
    driven=Driven(
        time_s=TIME_S,
        rpm=RPM,
        pass_index=np.digitize(TIME_S, [30.0, 90.0]),
        gear=np.where(TIME_S < 60.0, 0.0, 1.0),
        road_speed_m_s=np.full(COUNT, np.nan),
        load_part=np.full(COUNT, np.nan),
    ),
    bands=(BAND,),
)


TALK = OtherTones(share=0.02, time_share=0.2, steady_share=0.2, burst_share=0.0)
SONG = replace(TALK, share=0.12, time_share=0.7)
HUM = replace(SONG, steady_share=0.75)


def heard(**changes: Any) -> Evidence:
    """The good drive, but for these parts of what was heard."""
    return replace(GOOD, heard=replace(GOOD.heard, **changes))


def driven(**changes: Any) -> Evidence:
    """The same for how it was driven."""
    return replace(GOOD, driven=replace(GOOD.driven, **changes))


def speed(**changes: Any) -> Evidence:
    """The same for what is known of engine speed."""
    return replace(GOOD, speed=replace(GOOD.speed, **changes))


def codes(evidence: Evidence) -> list[str]:
    raised = doubts(evidence)
    for doubt in raised:
        assert doubt.may_hide or not re.search("missed|hide|hidden", doubt.message)
        assert "\n" not in doubt.message
        assert doubt.message.endswith(".")
    return [doubt.code for doubt in raised]
