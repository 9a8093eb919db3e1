"""There and back through lossy codecs, and what a voice recorder does to sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

import io

import numpy as np
import soundfile
from scipy import signal

from tests.roads.spec import FloatArray

# File format, subtype and compression from 0 (least) to 1 (most) of the codecs of libsndfile.
_FILES = {
    "opus": ("OGG", "OPUS", 0.6),
    "opus-low": ("OGG", "OPUS", 0.95),
    "vorbis": ("OGG", "VORBIS", 0.8),
    "mp3": ("MP3", "MPEG_LAYER_III", 0.8),
}
# High-pass corner and sample rate of voice recorders; judgement: telephones and memo recorders.
_VOICE = {"voice-8k": (200.0, 8000), "voice-16k": (100.0, 16000)}
FILE_CODECS, VOICE_CODECS = tuple(_FILES), tuple(_VOICE)
_FILE_RATE_HZ = 16000  # all of the codecs take it


def coded(name: str, sound: FloatArray, sample_rate_hz: float) -> FloatArray:
    """The same length and rate, with what the codec took away [shape=(n,)]."""
    if name in _VOICE:
        corner_hz, rate_hz = _VOICE[name]
        sos = signal.butter(3, corner_hz, "highpass", fs=sample_rate_hz, output="sos")
        narrow = _resampled(np.asarray(signal.sosfilt(sos, sound)), sample_rate_hz, rate_hz)
        return _fitted(_resampled(_quantised(narrow), rate_hz, sample_rate_hz), sound.size)
    kind, subtype, compression = _FILES[name]
    wide = _resampled(sound, sample_rate_hz, _FILE_RATE_HZ)
    held = io.BytesIO()
    soundfile.write(
        held,
        np.clip(wide, -1.0, 1.0),
        _FILE_RATE_HZ,
        format=kind,
        subtype=subtype,
        compression_level=compression,
    )
    held.seek(0)
    back, rate_hz = soundfile.read(held, dtype="float64")
    back = _in_time(np.asarray(back), wide)
    return _fitted(_resampled(back, rate_hz, sample_rate_hz), sound.size)


def _quantised(sound: FloatArray) -> FloatArray:
    """Eight bits by the mu-law of ITU-T G.711, 1988, in its continuous form."""
    mu = 255.0
    size = np.sign(sound) * np.log1p(mu * np.minimum(np.abs(sound), 1.0)) / np.log1p(mu)
    size = np.round(127.0 * size) / 127.0
    return np.asarray(np.sign(size) * np.expm1(np.abs(size) * np.log1p(mu)) / mu)


def _in_time(back: FloatArray, sent: FloatArray) -> FloatArray:
    """Without the delay that some codecs add."""
    count = min(back.size, sent.size, 1 << 16)
    likeness = signal.correlate(back[:count], sent[:count], method="fft")
    late = int(np.argmax(likeness)) - (count - 1)
    return back[late:] if late >= 0 else np.concatenate([np.zeros(-late), back])


def _resampled(sound: FloatArray, from_hz: float, to_hz: float) -> FloatArray:
    if from_hz == to_hz:
        return sound
    common = int(np.gcd(round(from_hz), round(to_hz)))
    return np.asarray(signal.resample_poly(sound, round(to_hz) // common, round(from_hz) // common))


def _fitted(sound: FloatArray, count: int) -> FloatArray:
    return np.pad(sound[:count], (0, max(count - sound.size, 0)))
