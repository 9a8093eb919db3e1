"""What a trial of the devices showed, in words: rows for a table, warnings, failures."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

import numpy as np

from logger.check.cures import Cure, cure_for
from logger.check.trial import SoundHeard, SourceHeard
from logger.microphone.faults import GainVerdict, automatic_gain, clipped_count, find_hum, is_dead
from logger.microphone.level_meter import LevelMeter
from logger.screen.terminal import Row

_OTHERS = {
    "road_speed_m_s": ("road speed", "km/h", 3.6),
    "load_percent": ("load", "%", 1.0),
    "throttle_percent": ("throttle", "%", 1.0),
    "manifold_pressure_kpa": ("manifold", "kPa", 1.0),
    "coolant_temperature_degc": ("coolant", "degC", 1.0),
    "catalyst_temperature_degc": ("catalyst", "degC", 1.0),
}
# as the analysis warns, see analysis.find.doubts; judgement: lower says nothing
_LOW_PEAK_DB = -40.0
# sound cards are within 0.01 %; more than 1 % is another rate; judgement: a tighter limit blames
# the clock
_RATE_WITHIN = 0.01
# judgement: in a shorter take the blocks' coarse arrival hides a wrong rate.
_LEAST_RATE_S = 3.0
_SLOW_PER_S = 1.0  # the analysis wants a reading a second at least


def sound_failure(name: str, heard: SoundHeard) -> str | None:
    """Why nothing can be recorded from this microphone, and what to do."""
    if heard.samples.shape[0] == 0:
        return f"no sound came from {name!r}; {cure_for(Cure.NO_SOUND)}"
    if all(is_dead(column) for column in heard.samples.T):
        return f"every sample from {name!r} is the same; {cure_for(Cure.SILENT)}"
    if heard.stopped:
        return f"{name!r} stopped after {_duration_s(heard):.1f} s; {cure_for(Cure.NO_SOUND)}"
    return None


def sound_rows(channels: tuple[int, ...], heard: SoundHeard) -> Iterator[Row]:
    """Levels channel by channel, how sound arrives, and what is doubtful."""
    for channel, column in zip(channels, heard.samples.T, strict=True):
        yield f"Channel {channel}", _level(column)
    yield "Arrival", _arrival(heard)
    wide = heard.samples.astype(np.float64)
    where: dict[str, list[int]] = {}
    for channel, samples in zip(channels, wide.T, strict=True):
        for warning in _channel_warnings(samples, heard.sample_rate_hz):
            where.setdefault(warning, []).append(channel)
    for warning, of in where.items():
        yield "Warning", f"channel {' and '.join(map(str, of))}: {warning}"
    yield from _gain_rows(wide, heard.sample_rate_hz)
    if heard.lost_s > 0.0:
        yield (
            "Warning",
            f"{heard.lost_s:.2f} s of sound were lost; close other programs, plug the microphone "
            "in directly (no hub), and switch power saving off",
        )


def source_failure(heard: SourceHeard) -> str | None:
    """Why a source of rpm gives nothing, and what to do."""
    if heard.readings:
        return None
    if heard.troubles:
        message = heard.troubles[-1].message
        return message if heard.name in message else f"{heard.name}: {message}"
    return (
        f"{heard.name} gave no reading; switch the ignition on (better, let the engine run "
        "outdoors), and check plug and wiring"
    )


def source_rows(heard: SourceHeard) -> Iterator[Row]:
    """Rate, values and answer times of a source that gives readings."""
    if heard.description:
        yield "Adapter", heard.description
    rpm = [reading for reading in heard.readings if reading.quantity == "rpm"]
    if rpm:
        values = [reading.value for reading in rpm]
        rate = _rate_per_s([reading.reply_s for reading in rpm])
        shown = "one reading" if rate is None else f"{rate:.1f} readings a second"
        yield "Rpm", f"{shown}, {min(values):.0f} to {max(values):.0f} rpm"
        if rate is not None and rate < _SLOW_PER_S:
            yield "Warning", "less than one rpm reading a second: sweep slowly, 30 s or more"
    half_s = [reading.half_round_trip_s for reading in heard.readings]
    if max(half_s) > 0.0:
        yield (
            "Answers",
            f"half a round trip takes {1e3 * float(np.median(half_s)):.0f} ms, at most "
            f"{1e3 * max(half_s):.0f} ms",
        )
    newest = {reading.quantity: reading.value for reading in heard.readings}
    others = [
        f"{words} {factor * newest[quantity]:.0f} {unit}"
        for quantity, (words, unit, factor) in _OTHERS.items()
        if quantity in newest
    ]
    if others:
        yield "Others", ", ".join(others)
    for message in dict.fromkeys(trouble.message for trouble in heard.troubles):
        yield "Trouble", message


def _duration_s(heard: SoundHeard) -> float:
    return float(heard.samples.shape[0] / heard.sample_rate_hz)


def _level(column: np.ndarray) -> str:
    if is_dead(column):
        return "nothing: every sample is the same"
    meter = LevelMeter()
    meter.note(column)
    level = meter.look()
    return f"level {level.level_db:.1f}, peak {level.peak_db:.1f} dB re full scale"


def _arrival(heard: SoundHeard) -> str:
    """Rate against this computer's clock; a straight line through the arrivals."""
    text = f"{_duration_s(heard):.1f} s of sound"
    settled = heard.arrived_s > heard.arrived_s[0] + 1.0
    if np.count_nonzero(settled) < 3 or np.ptp(heard.arrived_s[settled]) < _LEAST_RATE_S:
        return f"{text}, too short to tell its rate"
    at_s = heard.arrived_s[settled] - heard.arrived_s[settled][0]
    frames = heard.frames_then[settled].astype(np.float64)
    slope, offset = np.polyfit(at_s, frames, 1)
    jitter_s = float(np.std(frames - offset - slope * at_s)) / heard.sample_rate_hz
    nominal = heard.sample_rate_hz
    off = abs(slope / nominal - 1.0)
    text += f", blocks arrive within {1e3 * jitter_s:.0f} ms; "
    if off > _RATE_WITHIN and heard.lost_s == 0.0:
        return f"{text}{slope:.0f} Hz, but it says {nominal} Hz: set its rate in the sound settings"
    return f"{text}within {max(100.0 * off, 0.1):.1f} % of {nominal} Hz by this computer's clock"


def _channel_warnings(samples: np.ndarray, sample_rate_hz: float) -> Iterator[str]:
    if is_dead(samples):
        return
    clipped = clipped_count(samples)
    peak_db = 20.0 * np.log10(float(np.abs(samples).max()))
    if clipped:
        yield (
            f"{clipped} samples at full scale, the loudest moments are cut; "
            f"turn it down: {cure_for(Cure.LEVEL)}"
        )
    elif peak_db < _LOW_PEAK_DB:
        yield (
            "very quiet, not once within 40 dB of full scale; if a clap near it is no louder, "
            f"turn it up: {cure_for(Cure.LEVEL)}"
        )
    hum = find_hum(samples, sample_rate_hz)
    if hum is not None:
        yield (
            f"hum of {hum.mains_hz:g} Hz mains, {hum.over_db:.0f} dB above the sound around it; "
            "run the laptop on its battery and keep cables away from chargers"
        )


def _gain_rows(samples: np.ndarray, sample_rate_hz: float) -> Iterator[Row]:
    verdicts = {
        automatic_gain(column, sample_rate_hz) for column in samples.T if not is_dead(column)
    }
    if GainVerdict.SUSPECTED in verdicts:
        sank = "after the loud sound the background sank, and then rose again"
        yield "Warning", f"automatic gain suspected: {sank}; {cure_for(Cure.GAIN)}"
    elif GainVerdict.NOT_SEEN in verdicts:
        slow = "an automatic gain that takes minutes would not show"
        yield "Gain", f"steady through a loud sound; {slow}"
    else:
        how = "keep quiet, clap or shout for 2 s, then keep quiet again, as the check asks"
        yield "Gain", f"not tested for automatic gain: {how} (10 s or longer)"


def _rate_per_s(reply_s: list[float]) -> float | None:
    span_s = reply_s[-1] - reply_s[0]
    return (len(reply_s) - 1) / span_s if span_s > 0.0 else None
