"""``pulse:CHANNEL``: rpm from the ignition, picked up beside the cabin sound.

A clip around an ignition lead goes into one channel of the line-in, the microphone into another.
Rpm then stands on the sound's own clock, exact to a sample, and no diagnostic socket is needed.
``pulse:2`` is the second channel of the recording; ``pulse:2@0.5`` says that it gives half a pulse
for each turn of the crankshaft. Without that it is worked out (:mod:`logger.sources.pulse.turns`),
and rpm is held back until it is known.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import re
import time
from collections import deque
from queue import Empty, Full, Queue

from logger.arrays import Samples
from logger.sources.contract import Reading, SourceError, SourceTrouble
from logger.sources.pulse.doubts import PulseDoubts
from logger.sources.pulse.listener import Ignition, PulseBlock, PulseListener

_WORD = re.compile(r"(\d{1,3})(?:@(\d{1,3}(?:\.\d{1,3})?))?")
_BLOCKS_AHEAD = 300  # half a minute: who is that late does not keep up; judgement: fewer lose rpm
_FOUR_STROKE = 4  # strokes a cycle, by definition


class PulseSource:
    """Listens to one channel of the recording.

    Parameters
    ----------
    rest : str
        The channel, counted from 1, and the pulses for each turn of the crankshaft after ``@``.
    cylinders : int or None
        Of the engine; helps to work out the pulses for each turn.
    stroke_cycle : int
        4 or 2.

    Raises
    ------
    SourceError
        No channel, or a number of pulses that cannot be.
    """

    def __init__(
        self, rest: str, *, cylinders: int | None = None, stroke_cycle: int = _FOUR_STROKE
    ) -> None:
        self.name = f"pulse:{rest}"
        word = _WORD.fullmatch(rest)
        if word is None or int(word[1]) < 1 or (word[2] and float(word[2]) == 0.0):
            raise SourceError(
                f"{self.name} is not a channel; use pulse:2 for the second one, or pulse:2@0.5 "
                "when it gives half a pulse for each turn of the crankshaft"
            )
        self.channel = int(word[1])
        self._ignition = Ignition(
            pulses_per_turn=float(word[2]) if word[2] else None,
            cylinders=cylinders,
            turns_per_cycle=2 if stroke_cycle == _FOUR_STROKE else 1,
        )
        self._doubts = PulseDoubts(self.name, self.channel)
        self._heard: Queue[PulseBlock | SourceTrouble] = Queue(maxsize=_BLOCKS_AHEAD)
        self._section = 0
        self._events: deque[Reading | SourceTrouble] = deque()
        self._listener: PulseListener | None = None
        self._listener_rate_hz = 0
        self._closed = False

    @property
    def description(self) -> str:
        """Pulses for each turn, once they are known."""
        per_turn = None if self._listener is None else self._listener.pulses_per_turn
        if per_turn is None:
            return ""
        how = "worked out" if self._ignition.pulses_per_turn is None else "as given"
        return f"{per_turn:g} pulses for each turn of the crankshaft ({how})"

    def hear(
        self,
        samples: Samples,
        *,
        first_frame: int,
        sample_rate_hz: int,
        arrived_s: float,
    ) -> None:
        """Put a block aside; one that finds no room is left out, and told later."""
        if self._closed:
            return
        channel_count = samples.shape[1]
        if channel_count < self.channel:
            for trouble in self._doubts.missing(channel_count, arrived_s):
                self._put(trouble)
            return
        index = self.channel - 1
        self._put(
            PulseBlock(
                pulses=samples[:, index].copy(),
                cabin=samples[:, 0 if index else 1].copy() if channel_count > 1 else None,
                first_frame=first_frame,
                sample_rate_hz=sample_rate_hz,
                arrived_s=arrived_s,
                section=self._section,
            )
        )

    def break_off(self) -> None:
        """Note that sound is missing here."""
        self._section += 1

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        """Work through what was heard until there is something to tell."""
        until_s = time.perf_counter() + timeout_s
        while not self._closed:
            if self._events:
                return self._events.popleft()
            try:
                item = self._heard.get(timeout=max(1e-6, until_s - time.perf_counter()))
            except Empty:
                return None
            self._take(item)
        return None

    def close(self) -> None:
        """Listen no more."""
        self._closed = True

    def _take(self, item: PulseBlock | SourceTrouble) -> None:
        if isinstance(item, SourceTrouble):
            self._events.append(item)
        else:
            if self._listener is None or self._listener_rate_hz != item.sample_rate_hz:
                self._listener = PulseListener(self._ignition, self._doubts, item.sample_rate_hz)
                self._listener_rate_hz = item.sample_rate_hz
            self._events.extend(self._listener.take(item))

    def _put(self, item: PulseBlock | SourceTrouble) -> None:
        with contextlib.suppress(Full):  # the next block shows that one is missing
            self._heard.put_nowait(item)
