"""What a source of sound does, and what it gives: blocks that say when they came.

PortAudio's own times and overflow flags are not to be trusted on every platform, so a block says
when it came, by the same clock for all, and :mod:`logger.recording.sound_clock` counts; a flag is
but a hint.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from typing import Protocol

from logger.arrays import Samples


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundBlock:
    """Sound that arrived at once.

    Attributes
    ----------
    samples : ndarray [shape=(n_frames, n_channels)], full scale -1..1
    arrived_s : float
        :func:`time.perf_counter` when the last sample was there.
    is_flagged : bool
        The sound system says that it lost sound before the block or in it.
    behind : str
        The device it came from, where the microphone's name may stand for any; else empty.
    """

    samples: Samples
    arrived_s: float
    is_flagged: bool = False
    behind: str = ""


class SoundSource(Protocol):
    """Where sound comes from; a context manager that runs while it is open."""

    @property
    def name(self) -> str:
        """What a person calls it."""

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second, nominal."""

    @property
    def channel_count(self) -> int:
        """Samples in each frame."""

    @property
    def refusal(self) -> str:
        """Why the device cannot be used although it is back, and what to do; else empty."""

    def __enter__(self) -> "SoundSource": ...

    def __exit__(self, *_: object) -> None: ...

    def next_block(self) -> SoundBlock | None:
        """Next block; None when none came for a moment."""
