"""The sound at a low rate, kept in a temporary file so that later stages can read it at will.

Engine orders to 12 lie below 1.2 kHz at any speed a street engine reaches, so everything after
this stage works at about 4 kHz. A file, not memory: a drive of hours costs no more than one of
minutes.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from tempfile import SpooledTemporaryFile, gettempdir
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from analysis.basics.progress import Progress
from analysis.drive import SampleBlock, Sound
from analysis.errors import DriveError
from analysis.find.sound.flat_tops import FlatTops
from analysis.find.sound.gaps import SoundGaps
from analysis.find.sound.response_filter import HALF_LENGTH_S, flattened

# judgement: order 12 at 4,500 rpm is 900 Hz, which the copy must hold; images 60 dB down are softer
# than any cabin's noise under the orders. A longer filter only costs time.
_TARGET_RATE_HZ = 4000.0
_TAPS_PER_STEP = 20  # passband to 0.3 of the low rate, images 60 dB down
_KAISER_BETA = 6.0
_MEMORY_BYTES = 8_000_000  # judgement: time against memory, no sample changes
# judgement: 37 generated drives have 1e-4 at most, limited ones 5e-3 and more
_CROWDED = 1e-3
_LOW_PASS_REACH_S = 0.01  # judgement: longer than the filter rings, so that a gap taints no more
_LARGEST = 1e9  # judgement: beyond it, a float32 mean square overflows; such a file is refused


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleFacts:
    """What reading every sample once told about the recording."""

    peak: float
    clipped_fraction: float  # of what was recorded, gaps left out; cut off at the peak
    near_the_peak: float = 0.0  # of the same: within a twentieth of it

    @property
    def is_limited(self) -> bool:
        """Whether crests crowd under the peak without being cut off, as a limiter makes them."""
        return self.near_the_peak > _CROWDED and self.clipped_fraction == 0.0


class WorkingCopy:
    """One channel at ``sample_rate_hz``; use as a context manager, it owns a temporary file."""

    def __init__(self, sound: Sound, progress: Progress) -> None:
        self._step = max(1, round(sound.sample_rate_hz / _TARGET_RATE_HZ))
        self.sample_rate_hz = sound.sample_rate_hz / self._step
        self._unwanted: Callable[[int, int], SampleBlock] | None = None
        self._file = SpooledTemporaryFile(max_size=_MEMORY_BYTES)  # noqa: SIM115
        try:
            self.facts = self._fill(sound, progress)
        except BaseException:
            with suppress(OSError):  # it tries once more to write what it could not
                self._file.close()
            raise
        self.frame_count = self._file.tell() // 4
        # filters carry the edge of a gap into the sound beside it
        smeared_s = _LOW_PASS_REACH_S + (HALF_LENGTH_S if sound.response else 0.0)
        self.gaps = SoundGaps.between(sound.gaps_s, self.duration_s, smeared_s)

    def __enter__(self) -> "WorkingCopy":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._file.close()

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frame_count / self.sample_rate_hz

    @property
    def flat_to_hz(self) -> float:
        """Upper end of the band in which levels are true."""
        return 0.3 * self.sample_rate_hz

    def read(self, start: int, count: int) -> SampleBlock:
        """``count`` samples from index ``start``; zeros before the beginning and after the end."""
        first = min(max(start, 0), self.frame_count)
        last = min(max(start + count, first), self.frame_count)
        self._file.seek(4 * first)
        # only the ends are zeroed: nearly always there are none, and all else is written anyway
        out = np.empty(count, dtype=np.float32)
        out[: first - start] = out[last - start :] = 0.0
        self._file.readinto(out[first - start : last - start].data)
        if self._unwanted is not None:
            out[first - start : last - start] -= self._unwanted(first, last - first)
        return out

    def take_out(self, unwanted: Callable[[int, int], SampleBlock]) -> None:
        """Read without ``unwanted`` from now on: the samples to leave out, by start and count."""
        self._unwanted = unwanted

    def put_back(self) -> None:
        """Read all that was recorded again."""
        self._unwanted = None

    def _fill(self, sound: Sound, progress: Progress) -> SampleFacts:
        done, tops = 0, FlatTops()

        def watched() -> Iterator[SampleBlock]:
            nonlocal done
            for block in sound.read_blocks():
                top = max(float(block.max(initial=0.0)), -float(block.min(initial=0.0)))
                if not top < _LARGEST:
                    raise DriveError(
                        "the sound holds values that are no samples (infinite, or not numbers); "
                        "export it again as 16- or 24-bit WAV"
                    )
                tops.add(block, top)
                done += block.size
                progress(min(1.0, done / sound.frame_count))
                yield block

        low_rate_blocks = decimated(watched(), self._step)
        for low_rate in flattened(low_rate_blocks, self.sample_rate_hz, sound.response):
            self._keep(low_rate)
        if done == 0:
            raise DriveError("the sound holds no samples; record or import it again")
        lost_s = SoundGaps.between(sound.gaps_s, sound.duration_s).lost_s
        recorded = max(1.0, done - lost_s * sound.sample_rate_hz)
        return SampleFacts(
            peak=tops.peak,
            clipped_fraction=tops.cut_off / recorded,
            near_the_peak=tops.near_the_peak / recorded,
        )

    def _keep(self, samples: SampleBlock) -> None:
        try:
            self._file.write(samples.data)
        except OSError as error:
            raise DriveError(
                f"the folder for temporary files, {gettempdir()}, holds no more "
                f"({error.strerror or error}); make room there, or name another one in TMPDIR"
            ) from error


def decimated(blocks: Iterator[SampleBlock], step: int) -> Iterator[SampleBlock]:
    """Every ``step``-th sample after a linear-phase low-pass, without delay, block by block.

    Output sample k stands for the same instant as input sample ``k * step``. The sound is cut into
    rows as long as the filter. A row holds the beginning of some outputs' filters and the end of
    others', so one product of matrices gives all outputs, in a third of the time of a transform.
    """
    if step == 1:
        yield from blocks
        return
    row = _TAPS_PER_STEP * step
    heard = given = 0

    def and_silence() -> Iterator[SampleBlock]:
        nonlocal heard
        for block in blocks:
            heard += block.size
            yield block
        yield np.zeros(2 * row, dtype=np.float32)  # under the second half of the last filters

    shares = _shares(step)
    begun = np.zeros(_TAPS_PER_STEP, dtype=np.float32)
    before_start = _TAPS_PER_STEP // 2  # outputs whose middle lies before the first sample
    for rows in _in_rows(and_silence(), row):
        product = rows @ shares
        low = product[:, _TAPS_PER_STEP:]
        low[0] += begun
        low[1:] += product[:-1, :_TAPS_PER_STEP]
        begun = product[-1, :_TAPS_PER_STEP].copy()
        out = low.ravel()[before_start:][: -(-heard // step) - given]
        before_start = 0
        given += out.size
        yield out


def _shares(step: int) -> NDArray[np.float32]:
    """Give what each sample of a row adds to outputs that begin, then to those that end, in it.

    Returns an array [shape=(samples of a row, 2 * outputs of a row)].
    """
    row = _TAPS_PER_STEP * step
    kernel = np.sinc(0.8 / step * (np.arange(row) - row // 2))
    kernel *= np.kaiser(row + 1, _KAISER_BETA)[:-1]  # the tap left out is zero
    kernel /= kernel.sum()
    filters = np.zeros((2 * row, _TAPS_PER_STEP), dtype=np.float32)
    for output in range(_TAPS_PER_STEP):
        filters[output * step : output * step + row, output] = kernel
    return np.hstack([filters[:row], filters[row:]])


def _in_rows(blocks: Iterator[SampleBlock], row: int) -> Iterator[SampleBlock]:
    """Cut the samples into arrays [shape=(n_rows, row)]; an unfinished last row is left out."""
    held = np.empty(0, dtype=np.float32)
    for block in blocks:
        samples = np.concatenate([held, block]) if held.size else block
        whole = samples.size // row * row
        held = samples[whole:]
        if whole:
            yield samples[:whole].reshape(-1, row)
