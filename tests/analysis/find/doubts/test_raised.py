"""Every doubt: raised when it should be, and not otherwise."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.signal import lfilter

from analysis.basics.interval import Interval
from analysis.basics.rows import rows
from analysis.drive import Trouble
from analysis.find.curves.driven import Driven
from analysis.find.doubts.evidence import Evidence
from analysis.find.doubts.of_levels import doubts_of_levels
from analysis.find.doubts.raised import doubts
from analysis.find.doubts.withheld import withheld_because
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
    Climb,
    Doubt,
    DroneBand,
    LevelMap,
    LockedTo,
    OrderMap,
    SteadyTone,
    TelemetryDelay,
)
from analysis.report.answer import todo_sentence
from tests.analysis.made_findings import make_findings
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import findings

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


def test_a_good_drive_raises_none() -> None:
    assert codes(GOOD) == []
    assert codes(replace(GOOD, bands=())) == []


@pytest.mark.parametrize(("share", "raised"), [(1e-6, []), (1e-4, ["clipped_audio"])])
def test_clipped(share: float, raised: list[str]) -> None:
    facts = SampleFacts(peak=1.0, clipped_fraction=share)
    assert codes(heard(facts=facts)) == raised


def test_a_hum_is_neither_voice_nor_music() -> None:
    assert codes(replace(GOOD, tones=HUM)) == []
    assert withheld_because(replace(GOOD, tones=HUM), ()) is None


def test_knocks_are_told_by_how_often_they_come() -> None:
    assert codes(replace(GOOD, tones=replace(NONE_BESIDE, burst_share=0.004))) == []
    (doubt,) = doubts(replace(GOOD, tones=replace(NONE_BESIDE, burst_share=0.02)))
    assert doubt.code == "speech"
    assert "for a moment, in 2.0 % of the drive" in doubt.message


def test_what_was_turned_down_after_clipping_says_so() -> None:
    (doubt,) = doubts(heard(facts=SampleFacts(peak=0.5, clipped_fraction=1e-3)))
    assert "6.0 dB below full scale" in doubt.message
    (doubt,) = doubts(heard(facts=SampleFacts(peak=1.0, clipped_fraction=1e-3)))
    assert "at full scale" in doubt.message


def test_wind_in_gusts() -> None:
    """A rumble that swells tenfold for three seconds in every thirty."""
    gusts = np.where(np.arange(COUNT) % 300 < 30, 0.1, 0.01).astype(np.float32)
    assert codes(heard(wide=replace(GOOD.heard.wide, wind_ms=gusts))) == ["wind_rumble"]
    swelling = np.where(np.arange(COUNT) % 300 < 30, 0.02, 0.01).astype(np.float32)
    assert codes(heard(wide=replace(GOOD.heard.wide, wind_ms=swelling))) == []


def test_low_signal_by_peak_and_by_noise() -> None:
    faint = SampleFacts(peak=0.005, clipped_fraction=0.0)
    assert codes(heard(facts=faint)) == ["low_signal"]
    noisy = replace(GOOD.heard.frames, background_ms=np.full((COUNT, ORDERS.size), 0.8))
    assert codes(heard(frames=noisy)) == ["low_signal"]


def test_steady_tones_are_named() -> None:
    hum = SteadyTone(frequency_hz=120.0, low_rpm=900.0, high_rpm=2100.0, out_db=20.0)
    (doubt,) = doubts(heard(tones=(hum, replace(hum, frequency_hz=60.0))))
    assert doubt.code == "steady_tone"
    assert "60 Hz and 120 Hz" in doubt.message


def test_gap() -> None:
    rows = GOOD.telemetry
    lost = rows[~rows["time_s"].between(50.0, 56.9)]
    raised = doubts(replace(GOOD, telemetry=lost))
    assert [doubt.code for doubt in raised] == ["telemetry_gap"]
    assert "1 stretch," in raised[0].message
    assert "7.2 s" in raised[0].message
    short = rows[~rows["time_s"].between(50.0, 51.5)]
    assert codes(replace(GOOD, telemetry=short)) == []
    nothing_said = rows.assign(rpm=rows["rpm"].mask(rows["time_s"].between(50.0, 57.0)))
    assert codes(replace(GOOD, telemetry=nothing_said)) == ["telemetry_gap"]


def test_unaligned() -> None:
    assert codes(speed(delay=None)) == ["telemetry_unaligned"]


def test_a_log_off_by_a_factor_is_told_with_both_speeds() -> None:
    wrong = replace(GOOD, log_ratio=2.0)
    (doubt,) = doubts(wrong)
    assert doubt.code == "wrong_log"
    assert "1,500 rpm" in doubt.message
    assert "3,000 rpm" in doubt.message
    assert withheld_because(wrong, ()) is not None


def test_a_voice_codec_leaves_no_drone_to_tell() -> None:
    """Of one drive out of two it made a drone at 97 Hz that no engine had."""
    kept = Trouble(code="voice_codec", message="", start_s=None, duration_s=None)
    assert withheld_because(GOOD, ()) is None
    assert "speech" in (withheld_because(GOOD, (kept,)) or "")


def test_one_gear_or_none_known() -> None:
    one = driven(gear=np.where(TIME_S < 60.0, 0.0, np.nan))
    none = driven(gear=np.full(COUNT, np.nan))
    assert codes(one) == codes(none) == ["one_gear_only"]
    assert "second gear" in doubts(one)[0].message
    assert "road speed" in doubts(none)[0].message
    assert codes(replace(one, bands=())) == codes(replace(none, bands=())) == []


def test_engine_speed_that_begins_late_and_ends_early() -> None:
    known = np.where((TIME_S > 20.0) & (TIME_S < 111.0), RPM, np.nan)
    raised = doubts(speed(track=replace(GOOD.speed.track, rpm=known)))
    assert [doubt.code for doubt in raised] == ["telemetry_gap"]
    assert "begins 20.1 s after the sound, ends 9.1 s before it" in raised[0].message
    barely = np.where((TIME_S > 2.5) & (TIME_S < 117.5), RPM, np.nan)
    assert codes(speed(track=replace(GOOD.speed.track, rpm=barely))) == []


def test_sound_gap_says_how_long_and_what_it_hides() -> None:
    """1,500 rpm is passed at 0, 60 and 120 s; 2,100 rpm is driven about 30 s only."""
    harmless = SoundGaps.between([(58.0, 60.0), (70.0, 70.3)], 120.0)
    (doubt,) = doubts(heard(gaps=harmless, frames=frames_outside(harmless)))
    assert doubt.code == "sound_gap"
    assert "2 stretches, 2.3 s in all" in doubt.message
    assert "heard at another time" in doubt.message
    at_the_top = SoundGaps.between([(15.0, 45.0)], 120.0)
    (doubt,) = doubts(heard(gaps=at_the_top, frames=frames_outside(at_the_top)))
    assert "1 stretch, 30.0 s in all" in doubt.message
    ends = re.search(r"from ([\d,]+) to ([\d,]+) rpm", doubt.message)
    assert ends is not None
    low, high = (float(end.replace(",", "")) for end in ends.groups())
    lowest_lost = 1500.0 + 600.0 * np.sin(2.0 * np.pi * 15.0 / 120.0)
    assert low == pytest.approx(lowest_lost, rel=0.015)
    assert high == pytest.approx(2100.0, rel=0.01)


def frames_outside(gaps: SoundGaps) -> OrderFrames:
    return rows(GOOD.heard.frames, ~gaps.touch(TIME_S, TIME_S))


@pytest.mark.parametrize(
    ("evidence", "is_withheld"),
    [
        (heard(facts=SampleFacts(peak=1.0, clipped_fraction=0.015)), False),
        (heard(facts=SampleFacts(peak=1.0, clipped_fraction=0.025)), True),
        (replace(GOOD, gain=AutomaticGain.LIKELY), False),
        (replace(GOOD, gain=AutomaticGain.LIKELY, bands=()), True),
        (replace(GOOD, gain=AutomaticGain.CERTAIN), False),
        (replace(GOOD, gain=AutomaticGain.CERTAIN, bands=()), True),
        (replace(GOOD, tones=TALK), False),
        (replace(GOOD, tones=TALK, bands=()), False),
        (replace(GOOD, tones=SONG), False),
        (replace(GOOD, tones=SONG, bands=()), True),
        (speed(delay=None), True),
        (speed(delay=None, is_from_sound=True), False),
        (driven(gear=np.full(COUNT, np.nan)), False),
    ],
)
def test_what_would_be_wrong_is_withheld_and_nothing_else(
    evidence: Evidence, *, is_withheld: bool
) -> None:
    assert doubts(evidence)
    assert (withheld_because(evidence, ()) is not None) is is_withheld


def calms(warnings: tuple[Doubt, ...]) -> bool:
    """Whether the page of a drive without a drone says that nothing need be done."""
    return "No branch is called for" in todo_sentence(contents(findings(warnings=warnings)))


def test_no_drone_is_good_news_only_where_none_can_hide() -> None:
    windy = replace(GOOD.heard.wide, wind_ms=np.full(COUNT, 100.0))
    missed, harmless = (SoundGaps.between([gap], 120.0) for gap in ((15.0, 45.0), (58.0, 60.0)))
    assert calms(doubts(GOOD))
    assert calms(doubts(heard(gaps=harmless, frames=frames_outside(harmless))))
    for evidence, code in (
        (heard(wide=windy), "wind_rumble"),
        (replace(GOOD, tones=TALK), "speech"),
        (heard(gaps=missed, frames=frames_outside(missed)), "sound_gap"),
        (replace(GOOD, gain=AutomaticGain.LIKELY), "automatic_gain"),
        (speed(delay=None), "telemetry_unaligned"),
    ):
        assert codes(evidence) == [code]
        assert not calms(doubts(evidence)), code


def test_a_drone_can_hide_in_levels_only_by_their_weighting() -> None:
    in_dba, in_dbc = (
        tuple(doubts_of_levels(3.0, unit, TIME_S, GOOD.speed.delay, has_bands=False))
        for unit in ("dB(A)", "dB(C)")
    )
    assert not calms(in_dba)
    assert calms(in_dbc)


def test_one_pass_only() -> None:
    once = driven(pass_index=np.zeros(COUNT, dtype=np.int64))
    assert codes(once) == ["few_passes"]
    assert codes(replace(once, bands=())) == []
    rest = (RPM > 1490.0) & (RPM < 1510.0) & (TIME_S > 50.0)
    rest_in_the_band = driven(pass_index=rest.astype(np.int64))
    assert codes(rest_in_the_band) == ["few_passes"]


def swept_at(rpm_per_s: float) -> Evidence:
    return driven(rpm=1100.0 + (rpm_per_s * TIME_S) % 800.0)


def test_too_fast_a_sweep_says_how_fast_would_do() -> None:
    assert "sweep_too_fast" not in codes(swept_at(300.0))
    assert "sweep_too_fast" in codes(swept_at(600.0))


# What a sweep of S (f / Q)^2 per second does to a resonance: table of a simulation by the
# envelope's differential equation; 0.9 is the limit of ISO 7626-2 (quoted from memory).
SWEEP_TABLE = [
    # S, peak error in dB, shift in widths, apparent width
    (0.1, -0.02, 0.06, 1.004),
    (0.3, -0.11, 0.17, 1.04),
    (0.9, -0.49, 0.42, 1.23),
    (2.0, -1.14, 0.75, 1.53),
]


def swept_resonance(speed: float) -> tuple[float, float, float]:
    """Level error in dB, shift and width of the peak for a sweep of ``speed`` widths^2 per s.

    Time in 1 / width: a' = -pi a + pi exp(j pi speed t^2), solved by exact steps for a drive
    that is constant in size over each; what is seen is |a| over the frequency speed * t.
    """
    step = 2e-4 / max(1.0, speed)
    time = np.arange(-6.0 / speed, 8.0 / speed, step)
    drive = np.exp(1j * np.pi * speed * (time + 0.5 * step) ** 2)
    keep = np.exp(-np.pi * step)
    size = np.abs(lfilter([1.0 - keep], [1.0, -keep], drive))
    top = int(size.argmax())
    above = np.flatnonzero(size > size[top] / np.sqrt(2.0))
    width = speed * (time[above[-1]] - time[above[0]])
    return 20.0 * np.log10(size[top]), speed * time[top], width


@pytest.mark.parametrize(("speed", "level_db", "shift", "width"), SWEEP_TABLE)
def test_what_a_sweep_does_to_a_resonance(
    speed: float, level_db: float, shift: float, width: float
) -> None:
    found = swept_resonance(speed)
    assert found[0] == pytest.approx(level_db, abs=0.02)
    assert found[1] == pytest.approx(shift, abs=0.01)
    assert found[2] == pytest.approx(width, abs=0.02)


def test_the_speed_advised_moves_the_peak_by_a_fifth_of_its_width_at_most() -> None:
    (doubt,) = (each for each in doubts(swept_at(900.0)) if each.code == "sweep_too_fast")
    (advised_rpm_per_s,) = re.findall(r"slower than (\d+) rpm per second", doubt.message)
    width_hz = BAND.high_hz - BAND.low_hz
    speed = float(advised_rpm_per_s) * BAND.engine_order / 60.0 / width_hz**2
    level_db, shift, width = swept_resonance(speed)
    assert 0.1 < shift < 0.2
    assert level_db > -0.2
    assert width < 1.1


def climb(order: float, rpm: float, from_rpm: float, climb_db: float) -> Climb:
    return Climb(engine_order=order, rpm=rpm, from_rpm=from_rpm, climb_db=climb_db, level_db=70.0)


def test_a_level_that_climbs_on_beyond_the_drive() -> None:
    assert "climbs_on" not in codes(GOOD)
    (doubt,) = doubts(replace(GOOD, climbs=(climb(4.0, 3100.0, 2600.0, 9.2),)))
    assert doubt.code == "climbs_on"
    assert doubt.may_hide
    assert doubt.message.startswith(
        "Order 4 is still climbing at 3,100 rpm, about the fastest you drove, 9 dB up on 2,600 rpm:"
        " drive a little faster"
    )


def test_levels_that_climb_on_at_both_ends_are_told_in_one_warning() -> None:
    up = (climb(4.0, 3100.0, 2600.0, 9.2), climb(6.0, 3100.0, 2600.0, 12.0))
    down = climb(2.0, 1200.0, 1500.0, 10.0)
    (doubt,) = doubts(replace(GOOD, climbs=(*up, down)))
    assert "Orders 4 and 6 are still climbing at 3,100 rpm" in doubt.message
    assert "Order 2 is still climbing at 1,200 rpm, about the slowest you drove" in doubt.message
    assert "more slowly" in doubt.message
