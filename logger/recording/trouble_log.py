"""What went wrong while recording: when it began, and how long it lasted once that is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

from logger.session import Trouble

# judgement: long enough to be read at a glance; red words beside a green light mislead
_STAYS_S = 5.0


class TroubleLog:
    """Collects trouble; ``has_news`` until somebody saved it."""

    def __init__(self) -> None:
        self.has_news = False
        self._all: list[Trouble] = []
        self._open: dict[str, int] = {}

    @property
    def all(self) -> tuple[Trouble, ...]:
        """Everything so far, in the order it was noted."""
        return tuple(self._all)

    def note(
        self, code: str, message: str, start_s: float | None, duration_s: float | None = None
    ) -> int:
        """Note what is over, or has no length; gives its number, for :meth:`correct`."""
        self._all.append(
            Trouble(code=code, message=message, start_s=start_s, duration_s=duration_s)
        )
        self.has_news = True
        return len(self._all) - 1

    def correct(self, number: int, lost: str, end_s: float) -> None:
        """Note that a gap was longer than it seemed; ``lost`` says how much sound is missing."""
        is_lost = self._all[number].code == "sound_lost"
        self._end(number, end_s, lost if is_lost else self._all[number].message)

    def reword(self, number: int, message: str) -> None:
        """Say more of it, now that more is known."""
        self._all[number] = replace(self._all[number], message=message)
        self.has_news = True

    def begin(self, device: str, code: str, message: str, start_s: float) -> None:
        """Note what goes on until :meth:`end` is called for the same device."""
        # one trouble of a device at a time: the newer one is what the screen shows
        self.end(device, start_s)
        self._open[device] = len(self._all)
        self.note(code, message, start_s)

    def end(self, device: str, end_s: float) -> int | None:
        """Note that the device is well again, if it was not; gives the number of its trouble."""
        at = self._open.pop(device, None)
        if at is None:
            return None
        self._end(at, end_s, self._all[at].message)
        return at

    def _end(self, number: int, end_s: float, message: str) -> None:
        trouble = self._all[number]
        begun_s = end_s if trouble.start_s is None else trouble.start_s
        self._all[number] = replace(trouble, message=message, duration_s=max(0.0, end_s - begun_s))
        self.has_news = True

    def newest(self, now_s: float) -> str:
        """Tell the newest trouble that goes on, or was over a moment ago; else empty."""
        if self._open:
            return self._all[max(self._open.values())].message
        if not self._all:
            return ""
        last = self._all[-1]
        over_s = now_s if last.start_s is None else last.start_s + (last.duration_s or 0.0)
        return last.message if now_s - over_s < _STAYS_S else ""

    def words(self, device: str) -> str:
        """Tell what is wrong with the device now; empty when nothing is."""
        at = self._open.get(device)
        return "" if at is None else self._all[at].message
