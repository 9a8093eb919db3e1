"""Every doubt: raised when it should be, and not otherwise."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.rows import rows
from analysis.drive import Trouble
from analysis.find.doubts.evidence import Evidence
from analysis.find.doubts.of_levels import doubts_of_levels
from analysis.find.doubts.raised import doubts
from analysis.find.doubts.withheld import withheld_because
from analysis.find.sound.automatic_gain import AutomaticGain
from analysis.find.sound.gaps import SoundGaps
from analysis.find.sound.order_tracking import ORDERS, OrderFrames
from analysis.find.sound.other_tones import NONE as NONE_BESIDE
from analysis.find.sound.working_copy import SampleFacts
from analysis.findings import (
    Doubt,
    SteadyTone,
)
from analysis.report.answer import todo_sentence
from tests.analysis.find.doubts.good_drive import (
    COUNT,
    GOOD,
    HUM,
    RPM,
    SONG,
    TALK,
    TIME_S,
    codes,
    driven,
    heard,
    speed,
)
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import findings


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


def test_a_little_beside_the_engine_may_be_its_own_pops() -> None:
    little, much = (doubts(replace(GOOD, tones=each))[0].message for each in (TALK, SONG))
    assert "pops of the exhaust itself need no other drive" in little
    assert "pops" not in much


def test_what_was_turned_down_after_clipping_says_so() -> None:
    (doubt,) = doubts(heard(facts=SampleFacts(peak=0.5, clipped_fraction=1e-3)))
    assert "6.0 dB below full scale" in doubt.message
    (doubt,) = doubts(heard(facts=SampleFacts(peak=1.0, clipped_fraction=1e-3)))
    assert "at full scale" in doubt.message


def test_wind_in_gusts() -> None:
    """A rumble that swells tenfold for three seconds in every thirty."""
    gusts = np.where(np.arange(COUNT) % 300 < 30, 0.1, 0.01).astype(np.float32)
    (doubt,) = doubts(heard(wide=replace(GOOD.heard.wide, wind_ms=gusts)))
    assert doubt.code == "wind_rumble"
    assert "Is it wind, from an open window or the vents?" in doubt.message
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
    assert 'read this log again with import --rpm-unit "2 rpm"' in doubt.message
    assert withheld_because(wrong, ()) is not None


def test_a_held_level_without_a_drone_claims_nothing_of_one() -> None:
    told, bare = (
        doubts(replace(GOOD, gain=AutomaticGain.CERTAIN, bands=bands))[0].message
        for bands in (GOOD.bands, ())
    )
    assert "the engine speed of a drone is right within its interval" in told
    assert "interval" not in bare
    assert "as loud as all that is beside it. Switch off automatic gain" in bare


def test_speed_from_the_sound_says_what_is_left_out_where_something_is() -> None:
    track = GOOD.speed.track
    rpm = np.where(np.arange(track.rpm.size) < 0.75 * track.rpm.size, track.rpm, np.nan)
    whole, part = (
        doubts(speed(is_from_sound=True, track=each))[0].message
        for each in (track, replace(track, rpm=rpm))
    )
    assert "worked out from the sound. If the number of cylinders" in whole
    assert "worked out from the sound, for 75 % of the drive; the rest is left out. If" in part


def test_a_voice_codec_leaves_no_drone_to_tell() -> None:
    """Of one drive out of two it made a drone at 97 Hz that no engine had."""
    kept = Trouble(code="voice_codec", message="", start_s=None, duration_s=None)
    assert withheld_because(GOOD, ()) is None
    assert "speech" in (withheld_because(GOOD, (kept,)) or "")


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
    ends = re.search(r"from ([\d,]+) rpm to ([\d,]+) rpm", doubt.message)
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
