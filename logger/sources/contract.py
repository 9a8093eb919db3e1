"""What every source of rpm does, and what it gives: readings and trouble, never a made-up value.

A source is owned by one thread, which calls :meth:`RpmSource.read` again and again. Opening the
device, losing it and opening it again all happen inside ``read``, so that a dead port holds up
nothing but that thread.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from logger.arrays import Samples
from logger.errors import LoggerError


class SourceError(LoggerError):
    """A word for a source that cannot be understood."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One value, and between which two moments the device measured it.

    Attributes
    ----------
    quantity : str
        One of :data:`logger.folder.quantities.QUANTITIES`; the name carries the unit.
    value : float
        Finite.
    request_s, reply_s : float
        :func:`time.perf_counter` before asking and after the answer; equal for a device that
        speaks unasked.
    frame : float or None
        Frame of the sound (a fraction is possible) at which it was measured, counted from 0 over
        the frames that were recorded; only for a source that listens to the sound itself. It is
        exact, so it goes before the two times.
    """

    quantity: str
    value: float
    request_s: float
    reply_s: float
    frame: float | None = None

    @property
    def midpoint_s(self) -> float:
        """Best guess of the moment of measurement, wrong by at most :attr:`half_round_trip_s`."""
        return 0.5 * (self.request_s + self.reply_s)

    @property
    def half_round_trip_s(self) -> float:
        """Half the time from question to answer."""
        return 0.5 * (self.reply_s - self.request_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceTrouble:
    """Something went wrong at ``at_s`` (:func:`time.perf_counter`); the source goes on by itself.

    ``code`` is one word for programs, ``message`` one line for people.
    """

    code: str
    message: str
    at_s: float


@runtime_checkable
class RpmSource(Protocol):
    """Where readings come from."""

    @property
    def name(self) -> str:
        """What a person calls it; kept with the session."""

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        """Give what comes next, or None when nothing came in about ``timeout_s``.

        A device that must be opened first may take a few seconds longer. Trouble of the device is
        returned, never raised. After :meth:`close` it gives None.
        """

    def close(self) -> None:
        """Let the device go; a second call does nothing."""


@runtime_checkable
class SoundListener(Protocol):
    """A source that gets its readings out of the recorded sound."""

    @property
    def channel(self) -> int:
        """The channel it listens to, counted from 1; what is in there is no cabin sound."""

    def hear(
        self,
        samples: Samples,
        *,
        first_frame: int,
        sample_rate_hz: int,
        arrived_s: float,
    ) -> None:
        """Take one block [shape=(n_frames, n_channels)] that begins with ``first_frame``.

        The recorder calls it for every block, in order, in its own thread: put the block aside and
        do the work in :meth:`RpmSource.read`. After a gap ``first_frame`` goes on without a jump.
        """

    def break_off(self) -> None:
        """Take note that the microphone was gone between the last block and the next.

        A loss of less than two seconds is known only when it is over, so it is not told here.
        """
