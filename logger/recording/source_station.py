"""What the recorder knows of one source: its thread, its newest values, how it does."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import deque

from logger.recording.source_thread import SourceThread
from logger.recording.status import DeviceState, Light
from logger.sources.contract import Reading, RpmSource

_FRESH_S = 2.0
_RATE_OVER_S = 5.0  # judgement: shorter makes the figure on the screen jump


class SourceStation(SourceThread):
    """A source's thread with a memory of the last seconds."""

    def __init__(self, source: RpmSource) -> None:
        super().__init__(source)
        self.name = source.name
        self._newest: dict[str, Reading] = {}
        self._replies_s: deque[float] = deque()

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
