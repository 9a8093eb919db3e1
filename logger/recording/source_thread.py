"""One thread for each source, so that a slow or dead one holds up neither sound nor the others."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
import threading
import time
from collections import deque

from logger.folder.quantities import QUANTITIES
from logger.recording.status import DeviceState, Light
from logger.software import in_words
from logger.sources.contract import Reading, RpmSource, SourceTrouble

_READ_S = 0.2  # judgement: how soon a thread can be ended; no reading waits for it
# a source that gives nothing at once must not take the processor from the sound; judgement: adds at
# most this to a reading's interval
_PAUSE_S = 0.01
_GOODBYE_S = 2.0
_FRESH_S = 2.0
_RATE_OVER_S = 5.0  # judgement: shorter makes the figure on the screen jump


class SourceThread:
    """Reads one source until it is closed; its events are taken when the recorder likes.

    What was noted in the last seconds tells how the source does.
    """

    def __init__(self, source: RpmSource) -> None:
        self.source = source
        self.name = source.name
        self._newest: dict[str, Reading] = {}
        self._replies_s: deque[float] = deque()
        # putting in and taking out never wait, so that nothing here holds a device up
        self._events: deque[Reading | SourceTrouble] = deque()
        self._stop = threading.Event()
        # daemon: a driver that hangs must not keep the program from its end
        self._thread = threading.Thread(target=self._run, name=source.name, daemon=True)

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def events(self) -> list[Reading | SourceTrouble]:
        """Take what came since the last call."""
        return [self._events.popleft() for _ in range(len(self._events))]

    def close(self) -> None:
        """Stop reading and let the device go; one that hangs is left behind."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(_GOODBYE_S)

    def note(self, reading: Reading) -> None:
        """Remember a reading."""
        self._newest[reading.quantity] = reading
        self._replies_s.append(reading.reply_s)
        while self._replies_s[0] < reading.reply_s - _RATE_OVER_S:
            self._replies_s.popleft()

    def fresh(self, quantity: str, now_s: float) -> float | None:
        """Newest value of a quantity, None when it is old or never came."""
        reading = self._newest.get(quantity)
        if reading is None or now_s - reading.reply_s > _FRESH_S:
            return None
        return reading.value

    def readings_per_s(self, now_s: float) -> float:
        """How many readings came in a second, over the last few."""
        recent = sum(1 for reply_s in self._replies_s if now_s - reply_s <= _RATE_OVER_S)
        return recent / _RATE_OVER_S

    def state(self, now_s: float, words: str) -> DeviceState:
        """Tell how the source does; ``words`` is its open trouble."""
        is_fresh = bool(self._replies_s) and now_s - self._replies_s[-1] <= _FRESH_S
        if is_fresh and not words:
            light = Light.GOOD
        else:
            light = Light.LOST if self._replies_s or words else Light.WAITING
        return DeviceState(
            name=self.name,
            light=light,
            readings_per_s=self.readings_per_s(now_s),
            words=words,
        )

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                event = self.source.read(_READ_S)
                if event is None:
                    self._stop.wait(_PAUSE_S)
                else:
                    self._events.append(_checked(event))
            self.source.close()
        except (Exception, SystemExit) as error:  # other people's code; the recording goes on
            self._events.append(
                SourceTrouble(
                    code="source_ended",
                    message=f"{self.source.name} broke down ({in_words(error)}); "
                    "nothing more comes from it. Tell its maker",
                    at_s=time.perf_counter(),
                )
            )


def _checked(event: Reading | SourceTrouble) -> Reading | SourceTrouble:
    """Refuse what breaks the contract, before it is in the file."""
    if isinstance(event, SourceTrouble):
        return event
    if event.quantity not in QUANTITIES:
        raise ValueError(f"it gave {event.quantity!r}, which no session has")
    if not math.isfinite(event.value + event.request_s + event.reply_s):
        raise ValueError(f"it gave {event.value} as {event.quantity}")
    return event
