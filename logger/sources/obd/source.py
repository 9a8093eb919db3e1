"""``obd:auto``, ``obd:PORT`` or ``obd:socket://host:port``: rpm from the car's diagnostic socket.

``PORT@38400`` says the baud rate; without it an adapter is asked at the usual ones in turn.

Ask, stamp, judge, and connect anew when the line is lost. ``read`` takes one step each time: try
one port, or ask one question. The longest step is the search for the car's protocol.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import time
from collections.abc import Callable

from logger.sources.contract import Reading, SourceTrouble
from logger.sources.obd.commands import RPM
from logger.sources.obd.link import Answer, LinkError, ObdLink
from logger.sources.obd.manners import Shortcut, TripWatch, Turns
from logger.sources.obd.search import AdapterSearch
from logger.sources.obd.words import WHY_LATE, why_no_rpm
from logger.sources.port_word import port_and_baud
from logger.sources.retry import Backoff
from logger.sources.rpm_watch import RpmWatch

# judgement: a computer answers in 0.2 s, but cheap adapters take a second to start; shorter gives a
# slow one up.
_REPLY_LIMIT_S = 3.0
_SEARCH_LIMIT_S = 15.0  # nine protocols, each with its own wait; common practice, no source
_PATIENCE_S = 2.0
# answers without a value; judgement: fewer would doubt a car for one lost frame
_DOUBTFUL_AFTER = 3
_PAUSE_S = 0.1  # judgement: between tries; keeps the processor free


class ObdSource:
    """Ask an adapter for rpm, and for a little else in between.

    Parameters
    ----------
    rest : str
        ``auto``, the name of a serial port, or ``socket://host:port``; the baud rate after ``@``.
    reply_limit_s : float
        An adapter that is silent for so long is lost.
    search_limit_s : float
        So long it may search for the car's protocol.
    patience_s : float
        Rpm may stay away for so long before the connection is made anew.
    clock, sleep : callable
        Say when what failed is tried again, and wait for it.
    """

    def __init__(
        self,
        rest: str,
        *,
        reply_limit_s: float = _REPLY_LIMIT_S,
        search_limit_s: float = _SEARCH_LIMIT_S,
        patience_s: float = _PATIENCE_S,
        clock: Callable[[], float] = time.perf_counter,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.name = f"obd:{rest}"
        port, rate = port_and_baud(self.name, rest)
        self._search = AdapterSearch(
            port, rate=rate, reply_limit_s=reply_limit_s, search_limit_s=search_limit_s
        )
        self._patience_s = patience_s
        self._sleep = sleep
        self._backoff = Backoff(clock=clock, sleep=sleep)
        self._link: ObdLink | None = None
        self._turns = Turns(())
        self._shortcut = Shortcut()
        self._trips = TripWatch()
        self._rpm_watch = RpmWatch()
        self._empty_count = 0
        self._empty_since_s = 0.0
        self._bad_since_s: float | None = None
        self._told: set[str] = set()
        self._closed = False

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        """Ask one question, or try one port; None when nothing came of it."""
        if self._closed:
            return None
        if self._link is None:
            return self._connect() if self._backoff.wait(timeout_s) else None
        pid = RPM if self._empty_count else self._turns.next_pid()
        answer = self._link.ask(pid, quick=self._shortcut.is_on)
        # a lost port gives empty answers at once, thousands a second: only its status tells
        if not self._link.is_alive:
            self._shortcut.note_lost()
            self._note_bad(answer.request_s)
            return self._lose("telemetry_lost", "does not answer any more; plug it in again")
        is_late = answer.value is not None and self._trips.is_late(
            answer.reply_s - answer.request_s
        )
        if answer.value is None or is_late:
            if pid is RPM:
                return self._count_empty(answer, is_late=is_late, timeout_s=timeout_s)
            self._turns.note_empty(pid)
            return None
        if pid is RPM:
            self._note_rpm(self._link)
            if not self._rpm_watch.believes(answer.value, answer.reply_s):
                return None
        return Reading(
            quantity=pid.quantity,
            value=answer.value,
            request_s=answer.request_s,
            reply_s=answer.reply_s,
        )

    def close(self) -> None:
        """Let the adapter go."""
        self._closed = True
        self._disconnect()

    def _connect(self) -> SourceTrouble | None:
        self._note_bad(time.perf_counter())
        try:
            self._link = self._search.try_next()
        except LinkError as error:
            return self._lose(
                "telemetry_no_rpm" if error.has_adapter else "telemetry_lost", str(error)
            )
        if self._link is not None:
            self._turns = Turns(self._link.beside)
            self._empty_count = 0
        return None

    def _note_rpm(self, link: ObdLink) -> None:
        self._search.note_rpm(link)
        self._shortcut.note(has_value=True)
        self._backoff.reset()
        self._empty_count = 0
        self._bad_since_s = None
        self._told.clear()

    def _count_empty(
        self, answer: Answer, *, is_late: bool, timeout_s: float
    ) -> SourceTrouble | None:
        self._note_bad(answer.request_s)
        self._shortcut.note(has_value=False)
        if self._empty_count == 0:
            self._empty_since_s = answer.request_s
        self._empty_count += 1
        if self._empty_count < _DOUBTFUL_AFTER:
            return None
        if answer.reply_s - self._empty_since_s < self._patience_s:
            self._sleep(min(timeout_s, _PAUSE_S))
            return None
        if is_late:
            return self._lose("telemetry_late", WHY_LATE)
        return self._lose("telemetry_no_rpm", why_no_rpm(answer.words))

    def _note_bad(self, at_s: float) -> None:
        if self._bad_since_s is None:
            self._bad_since_s = at_s

    def _lose(self, code: str, what: str) -> SourceTrouble | None:
        """Let go, and tell each kind of trouble once until rpm came again."""
        self._disconnect()
        self._backoff.fail()
        if code in self._told or self._bad_since_s is None:
            return None
        self._told.add(code)
        return SourceTrouble(code=code, message=f"{self.name} {what}", at_s=self._bad_since_s)

    def _disconnect(self) -> None:
        link, self._link = self._link, None
        if link is not None:
            link.close()
