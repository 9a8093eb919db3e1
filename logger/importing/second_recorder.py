"""The file of a second recorder in the same drive, as further channels on the first one's clock."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.signal import firwin, lfilter

from logger.arrays import FloatArray
from logger.errors import AudioError
from logger.folder.sound_reading import SoundFacts
from logger.importing.media_file import Block
from logger.importing.sound_alignment import Alignment, align
from logger.importing.sound_file import (
    Progress,
    SoundToImport,
    look_at_sound,
    sample_blocks,
    write_blocks,
)
from logger.importing.sound_parts import Beside, DriveSound

_LOW_RATE_HZ = 4000.0  # judgement: holds what the alignment looks at, and an hour in 120 MB
_LONGEST_S = 2 * 3600.0  # judgement: two hours of two recorders take 500 MB here
_FILTER_TAPS = 16  # for each sample of the low rate; judgement: 60 dB down behind its middle
_HALF_TAPS = 16  # judgement: of the resampling; with more the noise of any recorder is louder
_BLOCK_FRAMES = 65_536  # judgement: bounds memory; moves no value


def lay_beside(first: DriveSound, path: Path) -> DriveSound:
    """Find out how a second recorder's file lies on the first one's.

    Raises
    ------
    AudioError
        It cannot be used, or does not hold the same drive as far as the sound tells.
    """
    second = look_at_sound(path, None)
    _refuse_long_or_broken(first, second)
    found = _aligned(first.first, second)
    if found is None:
        raise AudioError(
            f"{path.name} and {first.first.path.name} cannot be laid on one clock by their sound; "
            "check that both heard the same drive for a minute or more, with the engine louder "
            "than all else, or import one of them alone"
        )
    channels = first.channel_count
    added = second.facts.channel_count
    named = f"channel {channels + 1}" + (f" to {channels + added}" if added > 1 else "")
    begins_s = -found.offset_s / found.pace
    ends_s = (second.facts.duration_s - found.offset_s) / found.pace
    note = (
        f"{path.name} became {named}, laid on the clock of {first.first.path.name} by the sound: "
        f"it begins at {begins_s:.2f} s, and its clock runs "
        f"{abs(found.pace - 1.0) * 1e6:.0f} millionths {'fast' if found.pace > 1.0 else 'slow'}. A "
        "microphone farther from the engine seems late by 3 ms a metre."
    )
    notes = [note]
    if begins_s > 0.0 or ends_s < first.facts.duration_s:
        heard_s = max(0.0, begins_s), min(ends_s, first.facts.duration_s)
        notes.append(f"It is silent but from {heard_s[0]:.1f} to {heard_s[1]:.1f} s.")
    facts = replace(first.facts, channel_count=channels + added)
    beside = Beside(sound=second, alignment=found)
    return replace(first, facts=facts, beside=beside, notes=(*first.notes, *notes))


def write_beside(sound: DriveSound, beside: Beside, folder: Path, progress: Progress) -> None:
    """Write one WAV file with the channels of both recorders."""
    is_float = sound.first.facts.is_float or beside.sound.facts.is_float
    facts = replace(
        sound.facts, is_float=is_float, bit_depth=32 if is_float else sound.facts.bit_depth
    )
    write_blocks(_blocks(sound.first, beside, facts), facts, folder, progress)


def refuse_same_time(parts: tuple[SoundToImport, ...]) -> None:
    """Refuse files as parts of one recording when two of them heard the same time."""
    if len(parts) < 2 or sum(part.facts.duration_s for part in parts[:2]) > 2 * _LONGEST_S:
        return
    first, second = parts[:2]
    if _aligned(first, second) is not None:
        raise AudioError(
            f"{first.path.name} and {second.path.name} heard the same drive at the same time, so "
            f"they are no parts of one recording; give --second-audio {second.path.name}"
        )


def _refuse_long_or_broken(first: DriveSound, second: SoundToImport) -> None:
    gaps = first.gaps or (second.media is not None and second.media.gaps)
    if len(first.parts) > 1 or gaps:
        raise AudioError(
            "a second recorder's file goes with one file of sound without gaps; join the parts "
            "with a sound editor first"
        )
    if max(first.facts.duration_s, second.facts.duration_s) > _LONGEST_S:
        raise AudioError(
            f"with a second recorder a drive may last {_LONGEST_S / 3600:.0f} hours; cut it to the "
            "noisy part"
        )


def _aligned(first: SoundToImport, second: SoundToImport) -> Alignment | None:
    a, rate_hz = _at_low_rate(first)
    b, other_hz = _at_low_rate(second)
    # 44.1 and 48 kHz, whole steps down from each, are not quite alike; a line is near enough here
    if other_hz != rate_hz:
        places = np.arange(int(b.size * rate_hz / other_hz)) * (other_hz / rate_hz)
        b = np.interp(places, np.arange(b.size), b)
    return align(a, b, rate_hz)


def _at_low_rate(sound: SoundToImport) -> tuple[FloatArray, float]:
    """One channel, enough for the engine's orders, and its rate."""
    step = max(1, int(sound.facts.sample_rate_hz / _LOW_RATE_HZ))
    taps = firwin(_FILTER_TAPS * step + 1, 0.8 / step) if step > 1 else np.ones(1)
    state = np.zeros(taps.size - 1)
    kept: list[FloatArray] = []
    skip = 0
    with sample_blocks(sound, _BLOCK_FRAMES) as blocks:
        for block in blocks:
            mono = _as_float(block)[:, 0]
            if step > 1:
                filtered, state = lfilter(taps, [1.0], mono, zi=state)
                mono = np.asarray(filtered, dtype=np.float64)
            kept.append(mono[skip::step])
            skip = (skip - mono.size) % step
    return np.concatenate(kept), sound.facts.sample_rate_hz / step


def _as_float(block: Block) -> FloatArray:
    values: FloatArray = np.asarray(block, dtype=np.float64)
    return values if block.dtype.kind == "f" else values / float(1 << 31)


def _blocks(first: SoundToImport, beside: Beside, facts: SoundFacts) -> Iterator[Block]:
    """Frames of the first recorder, and beside them what the second heard then."""
    second, found = beside.sound, beside.alignment
    rate_hz = second.facts.sample_rate_hz
    with sample_blocks(first, _BLOCK_FRAMES) as own, sample_blocks(second, _BLOCK_FRAMES) as others:
        aligned = _AlignedReader(
            others,
            second.facts.channel_count,
            start=found.offset_s * rate_hz,
            step=found.pace * rate_hz / first.facts.sample_rate_hz,
        )
        for block in own:
            heard = aligned.read(block.shape[0])
            if facts.is_float:
                yield np.concatenate([_as_float(block), heard], axis=1)
            else:
                limits = np.iinfo(np.int32)
                whole = np.clip(np.round(heard * (1 << 31)), limits.min, limits.max)
                yield np.concatenate([block, whole.astype(np.int32)], axis=1)


class _AlignedReader:
    """Frames of a sound at other moments than its own, by a windowed sinc; silence outside it.

    Parameters
    ----------
    start, step : float
        Frame of the sound at the first moment, and frames from one moment to the next.
    """

    def __init__(
        self, blocks: Iterator[Block], channel_count: int, *, start: float, step: float
    ) -> None:
        self._blocks = blocks
        self._start, self._step = start, step
        self._cutoff = min(1.0, 1.0 / step)
        self._half = math.ceil(_HALF_TAPS / self._cutoff)
        self._done = 0
        self._held: FloatArray = np.zeros((0, channel_count))
        self._held_from = 0

    def read(self, count: int) -> FloatArray:
        """Give the next frames [shape=(count, channels)]."""
        places = self._start + self._step * (self._done + np.arange(count))
        self._done += count
        whole = np.floor(places).astype(np.int64)
        low, high = int(whole[0]) - self._half, int(whole[-1]) + self._half + 2
        window = self._window(low, high)
        parts = (places - whole)[:, np.newaxis]
        result = np.zeros((count, window.shape[1]))
        for tap in range(-self._half + 1, self._half + 1):
            away = tap - parts
            weight = np.sinc(self._cutoff * away) * np.cos(0.5 * np.pi * away / self._half) ** 2
            weight[np.abs(away) >= self._half] = 0.0
            result += self._cutoff * weight * window[whole - low + tap]
        return result

    def _window(self, low: int, high: int) -> FloatArray:
        """Frames from ``low`` to ``high`` of the sound, zeros where it has none."""
        while self._held_from + self._held.shape[0] < high:
            if (block := next(self._blocks, None)) is None:
                break
            self._held = np.concatenate([self._held, _as_float(block)])
            drop = min(max(0, low - self._held_from), self._held.shape[0])
            self._held, self._held_from = self._held[drop:], self._held_from + drop
        window = np.zeros((high - low, self._held.shape[1]))
        start, end = max(low, self._held_from), min(high, self._held_from + self._held.shape[0])
        if end > start:
            held = self._held[start - self._held_from : end - self._held_from]
            window[start - low : end - low] = held
        return window
