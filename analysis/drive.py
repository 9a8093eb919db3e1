"""A drive as the analysis takes it: sound in blocks, telemetry as a frame, the engine.

This is the door for anyone else's logger: fill a :class:`Drive` from plain arrays and a pandas
frame, and every stage of the analysis runs on it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.errors import DriveError

if TYPE_CHECKING:  # every word about a missing file would wait for it
    import pandas as pd

SampleBlock = NDArray[np.float32]

_BLOCK_FRAMES = 480_000  # judgement: ten seconds at 48 kHz in memory at once; moves no answer
# judgement: no road car has more; refused as a slip.
MOST_CYLINDERS = 16
SAMPLE_RATES_HZ = (1000.0, 1e6)  # orders of a drone reach some 200 Hz, with room to see around it


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """The engine, as far as the sound of its exhaust depends on it."""

    cylinders: int
    stroke_cycle: int = 4

    @property
    def firing_order(self) -> float:
        """Combustion pulses per crankshaft revolution of all cylinders, evenly spaced."""
        return 2.0 * self.cylinders / self.stroke_cycle

    def can_have(self, order: float) -> bool:
        """Whether an order is a whole number of periods in one working cycle of a cylinder.

        Nothing that the engine does comes back less often, so it has no other orders.
        """
        return (order * self.stroke_cycle / 2.0).is_integer()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """One channel of sound, read in blocks so that a drive of hours needs no more memory.

    Attributes
    ----------
    sample_rate_hz : float > 0
    frame_count : int > 0
    read_blocks : callable
        Each call starts again at the first sample and yields float32 blocks [shape=(n,)];
        full scale is -1..1.
    full_scale_db_spl : float or None
        Sound pressure level of a full-scale sine's mean square, when the chain was calibrated.
    gaps_s : tuple of (float, float)
        From when to when nothing was recorded, in order; the blocks hold zeros there, so that
        time stays true.
    response : tuple of (float, float)
        Frequency in Hz, rising, and by how many dB the microphone reads too high there; empty
        when nobody knows.
    channel : int
        Which of the recording's channels this is, counted from 1.
    other_channels : tuple of int
        The others that hold sound of the cabin.
    """

    sample_rate_hz: float
    frame_count: int
    read_blocks: Callable[[], Iterator[SampleBlock]]
    full_scale_db_spl: float | None = None
    gaps_s: tuple[tuple[float, float], ...] = ()
    response: tuple[tuple[float, float], ...] = ()
    channel: int = 1
    other_channels: tuple[int, ...] = ()

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frame_count / self.sample_rate_hz

    @classmethod
    def from_array(
        cls,
        samples: NDArray[np.floating],
        sample_rate_hz: float,
        *,
        full_scale_db_spl: float | None = None,
    ) -> Sound:
        """Wrap samples [shape=(n,)] that are already in memory.

        Raises
        ------
        DriveError
            The array is empty or has more than one dimension, or the rate is not positive.
        """
        if samples.ndim != 1 or samples.size == 0:
            raise DriveError(
                f"sound must be one channel with at least one sample, got shape {samples.shape}; "
                "pass samples[:, channel]"
            )
        if not sample_rate_hz > 0:
            raise DriveError(f"sample rate must be positive, got {sample_rate_hz} Hz")

        def read_blocks() -> Iterator[SampleBlock]:
            for start in range(0, samples.size, _BLOCK_FRAMES):
                yield np.asarray(samples[start : start + _BLOCK_FRAMES], dtype=np.float32)

        return cls(
            sample_rate_hz=float(sample_rate_hz),
            frame_count=int(samples.size),
            read_blocks=read_blocks,
            full_scale_db_spl=full_scale_db_spl,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Something that went wrong while the drive was recorded or imported, kept with the drive."""

    code: str
    message: str
    start_s: float | None = None
    duration_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedHints:
    """What somebody knows of the engine speed of a drive whose log does not hold it.

    Attributes
    ----------
    idle_rpm : float or None
        Engine speed at warm idle.
    rpm_at : tuple of (float, float)
        Moments in seconds on the sound's clock, and the engine speed read off then.
    """

    idle_rpm: float | None = None
    rpm_at: tuple[tuple[float, float], ...] = ()


NO_HINTS = SpeedHints()


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """One drive: sound and telemetry on one clock.

    Attributes
    ----------
    engine : Engine or None
        None when nobody said how many cylinders there are.
    sound : Sound or None
        None for an old session that has only levels.
    tail : Sound or None
        What a microphone near the tailpipe heard at the same time, on the same clock.
    telemetry : pandas.DataFrame
        Rows in the order of ``time_s`` (seconds on the sound's clock, strictly rising), with
        ``rpm`` and any of ``road_speed_m_s``, ``load_percent``, ``throttle_percent``,
        ``manifold_pressure_kpa``, ``coolant_temperature_degc``, ``catalyst_temperature_degc``,
        ``level_a_db``, ``level_c_db``, ``level_z_db``; a missing value is NaN.
    marks_s : tuple of float
        Moments that somebody in the car marked.
    hints : SpeedHints
        Asked only where no engine speed was logged.
    """

    name: str
    engine: Engine | None
    sound: Sound | None
    telemetry: pd.DataFrame
    tail: Sound | None = None
    trouble: tuple[Trouble, ...] = ()
    marks_s: tuple[float, ...] = ()
    hints: SpeedHints = NO_HINTS
