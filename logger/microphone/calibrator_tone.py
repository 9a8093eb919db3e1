"""The tone of a sound calibrator: how loud it came out, or why that cannot be told.

A calibrator gives 94 or 114 dB at 1 kHz. From memory of IEC 60942 (2003 and 2017), even the widest
class is at most 2 % off in frequency and wavers by no more than 0.2 dB. What lies beyond is no
calibrator, or one with an empty battery or a leak at the microphone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from logger.arrays import FloatArray, Samples
from logger.errors import LoggerError

TONE_HZ = 1000.0
LARGEST_SPREAD_DB = 0.2  # IEC 60942, from memory, as above
LEAST_TAKE_S = 2.0

_TONE_WITHIN = 0.02  # IEC 60942, from memory, as above
# judgement: then the rest moves the tone's level by 0.04 dB; louder, refused
_LEAST_OVER_REST_DB = 20.0
# within 1 dB of full scale the peaks may be cut already; judgement: a refused take, not a wrong one
_TOO_LOUD = 10.0 ** (-1.0 / 20.0)
# judgement: nearer, nobody can tell which microphone the calibrator sits on
_OTHER_CHANNEL_BELOW_DB = 10.0
_PIECE_S = 0.25  # judgement: 250 periods; shorter pieces waver by the noise alone
_AUDIBLE_FROM_HZ = 20.0  # common practice, no source: what is below is rumble, not sound
_FIT_ROUNDS = 4  # IEEE 1057 repeats the fit; a fifth round moves the frequency by less than 1e-6


class CalibrationError(LoggerError):
    """A calibration that cannot be made, read, written or used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """A steady tone in one channel.

    Attributes
    ----------
    column : int
        Which column of the samples, from 0.
    amplitude : float
        Peak of the sine, of full scale.
    spread_db : float
        Loudest quarter of a second against the softest.
    over_rest_db : float
        How far the tone stands above all else together.
    """

    column: int
    frequency_hz: float
    amplitude: float
    spread_db: float
    over_rest_db: float


def measure_tone(samples: Samples, sample_rate_hz: float) -> Tone:
    """Measure a calibrator's tone in a take [shape=(n_frames, n_channels)].

    Raises
    ------
    CalibrationError
        There is no such tone, it wavers, is too loud or too soft, or comes in more than one
        channel.
    """
    if samples.shape[0] < LEAST_TAKE_S * sample_rate_hz:
        raise CalibrationError(
            f"only {samples.shape[0] / sample_rate_hz:.1f} s of sound came, {LEAST_TAKE_S:g} s are "
            "needed; check the microphone with pipenote check and calibrate again"
        )
    if float(np.abs(samples).max()) >= _TOO_LOUD:
        raise CalibrationError(
            "the sound comes within 1 dB of full scale, so its peaks may be cut; turn the input "
            "gain down and calibrate again"
        )
    tones = [
        _tone_in(column, samples[:, column].astype(np.float64), sample_rate_hz)
        for column in range(samples.shape[1])
    ]
    tone = max(tones, key=lambda each: each.amplitude)
    _refuse_no_tone(tone)
    _refuse_two_channels(tone, tones, samples)
    if tone.spread_db > LARGEST_SPREAD_DB:
        raise CalibrationError(
            f"the tone wavers by {tone.spread_db:.2f} dB, {LARGEST_SPREAD_DB:g} dB are allowed; "
            "seat the calibrator tightly, hold still, check its battery, switch automatic gain off"
        )
    return tone


def _tone_in(column: int, samples: FloatArray, sample_rate_hz: float) -> Tone:
    """Fit a sine to each quarter of a second; the tone's own phase may drift between them."""
    around_hz = _loudest_hz(samples, sample_rate_hz)
    size = round(_PIECE_S * sample_rate_hz)
    pieces = samples[: samples.size // size * size].reshape(-1, size)
    fits = [_sine_fit(piece, around_hz, sample_rate_hz) for piece in pieces]
    squares = np.array([amplitude**2 for _, amplitude, _ in fits])
    rest = float(np.mean([rest for _, _, rest in fits]))
    tone_ms = 0.5 * float(squares.mean())
    return Tone(
        column=column,
        frequency_hz=float(np.mean([frequency_hz for frequency_hz, _, _ in fits])),
        amplitude=float(np.sqrt(squares.mean())),
        spread_db=_decibel(float(squares.max()), float(squares.min())),
        over_rest_db=_decibel(tone_ms, rest),
    )


def _loudest_hz(samples: FloatArray, sample_rate_hz: float) -> float:
    """Frequency of the highest line, to a fraction of the lines' spacing."""
    power = np.abs(np.fft.rfft(samples * np.hanning(samples.size))) ** 2
    spacing_hz = sample_rate_hz / samples.size
    first = int(np.ceil(_AUDIBLE_FROM_HZ / spacing_hz))
    top = first + int(np.argmax(power[first:-1]))
    below, at, above = np.log(power[top - 1 : top + 2] + 1e-30)
    bend = below - 2.0 * at + above
    return spacing_hz * (top + (0.5 * (below - above) / bend if bend < 0.0 else 0.0))


def _sine_fit(
    piece: FloatArray, frequency_hz: float, sample_rate_hz: float
) -> tuple[float, float, float]:
    """Frequency, amplitude and mean square of the rest: the four-parameter fit of IEEE 1057."""
    time_s = (np.arange(piece.size) - 0.5 * piece.size) / sample_rate_hz
    omega = 2.0 * np.pi * frequency_hz
    cosine = sine = 0.0
    for _ in range(_FIT_ROUNDS):
        wave, quarter = np.cos(omega * time_s), np.sin(omega * time_s)
        columns = [wave, quarter, np.ones_like(time_s)]
        if cosine or sine:
            columns.append(time_s * (sine * wave - cosine * quarter))
        terms = np.stack(columns, axis=1)
        solved, *_ = np.linalg.lstsq(terms, piece, rcond=None)
        cosine, sine = float(solved[0]), float(solved[1])
        rest = float(np.mean((piece - terms @ solved) ** 2))
        if solved.size > 3:
            omega += float(np.clip(solved[3], -np.pi / _PIECE_S, np.pi / _PIECE_S))
    return omega / (2.0 * np.pi), float(np.hypot(cosine, sine)), rest


def _refuse_no_tone(tone: Tone) -> None:
    again = "put the calibrator on the microphone, switch it on, and calibrate again"
    if tone.amplitude == 0.0:
        raise CalibrationError(f"there is no sound at all; {again}")
    if abs(tone.frequency_hz / TONE_HZ - 1.0) > _TONE_WITHIN:
        raise CalibrationError(
            f"no tone near {TONE_HZ:g} Hz: the loudest is at {tone.frequency_hz:.0f} Hz; {again}"
        )
    if tone.over_rest_db < _LEAST_OVER_REST_DB:
        raise CalibrationError(
            f"the tone is only {tone.over_rest_db:.0f} dB above the other sound, "
            f"{_LEAST_OVER_REST_DB:g} dB are needed; {again}, somewhere quiet"
        )


def _refuse_two_channels(tone: Tone, tones: list[Tone], samples: Samples) -> None:
    for other in tones:
        same = np.array_equal(samples[:, other.column], samples[:, tone.column])
        below_db = _decibel(tone.amplitude**2, other.amplitude**2)
        if other.column != tone.column and not same and below_db < _OTHER_CHANNEL_BELOW_DB:
            raise CalibrationError(
                "the tone comes in more than one channel; name the one with the calibrator: "
                "--channels 1 or --channels 2"
            )


def _decibel(of: float, over: float) -> float:
    if of == 0.0:
        return 0.0
    return float(10.0 * np.log10(of / over)) if over > 0.0 else np.inf
