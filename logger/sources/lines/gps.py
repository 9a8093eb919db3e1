"""``gps:PORT``: road speed from a satellite receiver that prints NMEA 0183.

``PORT@9600`` sets the baud rate; without it the usual ones are tried in turn. A receiver prints
once to ten times a second, and what it prints is old: it filters, works for a while, and sends
other sentences first, so that the speed is that of 0.1 to 1 s before the time of the reading
(common practice, no source). Nothing here makes up for it. It does not matter where speed only
tells the gear, and the delay of telemetry is found in the analysis.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import time

from logger.folder.quantities import is_in_range
from logger.sources.contract import Reading, SourceTrouble
from logger.sources.lines.line_port import Line
from logger.sources.lines.line_source import LineSource
from logger.sources.lines.nmea import Sentence, parse_sentence

# judgement: a shorter wait gives up a slow receiver, a longer one tells trouble later.
BAUDS = (9_600, 4_800, 38_400, 115_200)  # usual ones, most usual first
_LONGEST_LINE = 120  # NMEA 0183 says 82, some receivers go beyond
_TRY_S = 2.5  # more than two prints of a receiver that prints once a second
_PATIENCE_S = 15.0  # judgement: how long to stay with a rate that was right before
_NO_FIX_S = 5.0  # judgement: a bridge takes less; later the loss is told
# judgement: receivers print each second; a kind of sentence unheard for three does not come.
_COUNTS_S = 3.0


class GpsSource(LineSource):
    """Read road speed from a serial port or ``socket://host:port``; opens it when first read.

    Parameters
    ----------
    rest : str
        The port, and the baud rate after ``@``.
    try_s : float
        How long to listen at each baud rate.
    no_fix_s : float
        After so long without a speed it is told.
    """

    def __init__(self, rest: str, *, try_s: float = _TRY_S, no_fix_s: float = _NO_FIX_S) -> None:
        super().__init__("gps", rest, bauds=BAUDS, longest=_LONGEST_LINE, silent_s=no_fix_s)
        self._silent_s += try_s * len(self._bauds)  # each of them is heard before it is told
        self._try_s = try_s
        self._no_fix_s = no_fix_s
        self._tried = 0  # rates, since the last sentence that was whole
        self._patience_s = try_s
        self._whole_s = 0.0  # a whole sentence came
        self._fresh_s = 0.0  # a speed
        self._rmc_s = self._gga_s = -_PATIENCE_S
        self._speaks_of_speed = False
        self._told_no_fix = False

    @property
    def description(self) -> str:
        """What is known of the receiver."""
        return f"NMEA 0183 at {self._port.baud} baud" if self._speaks_of_speed else ""

    def _begin(self) -> None:
        super()._begin()
        self._whole_s = self._fresh_s = time.perf_counter()

    def _understand(self, line: Line) -> Reading | SourceTrouble | None:
        if not line.text:
            return None
        sentence = parse_sentence(line.text)
        if sentence is None:
            return self._not_understood(line)
        self._note_good(line.at_s)
        self._whole_s, self._tried, self._patience_s = line.at_s, 0, _PATIENCE_S
        speed_m_s = self._valid_speed(sentence, line.at_s)
        if speed_m_s is None:
            return self._no_speed(line.at_s)
        self._fresh_s, self._told_no_fix = line.at_s, False
        return Reading(
            quantity="road_speed_m_s", value=speed_m_s, request_s=line.at_s, reply_s=line.at_s
        )

    def _valid_speed(self, sentence: Sentence, now_s: float) -> float | None:
        """One speed for each fix: RMC when there is one, else VTG."""
        has_fix = sentence.has_fix
        if sentence.kind == "GGA" and has_fix:
            self._gga_s = now_s
        elif sentence.kind == "RMC":
            self._rmc_s = now_s
            self._speaks_of_speed = True
        elif sentence.kind == "VTG":
            self._speaks_of_speed = True
            if now_s - self._rmc_s < _COUNTS_S:
                return None
            if has_fix is None:
                has_fix = now_s - self._gga_s < _COUNTS_S
        speed_m_s = sentence.speed_m_s
        if not has_fix or speed_m_s is None or not is_in_range("road_speed_m_s", speed_m_s):
            return None
        return speed_m_s

    def _no_speed(self, now_s: float) -> SourceTrouble | None:
        if self._told_no_fix or now_s - self._fresh_s < self._no_fix_s:
            return None
        self._told_no_fix = True
        what = (
            "has no fix; give it a clear view of the sky, the first fix takes some minutes"
            if self._speaks_of_speed
            else "gives no speed; switch on its RMC or VTG sentences"
        )
        return self._trouble("telemetry_no_fix", what, self._fresh_s)

    def _not_understood(self, line: Line) -> SourceTrouble | None:
        self._note_alive()
        self._try_next_baud()
        if self._tried < len(self._bauds) and self._patience_s < _PATIENCE_S:
            return None  # another rate may be the right one
        return self._garbage(
            repr(line.text[:40]),
            "check that it is a receiver that prints NMEA 0183, its wires and its baud rate "
            "(gps:PORT@9600)",
        )

    def _nothing(self) -> SourceTrouble | None:
        self._try_next_baud()
        return self._silence("prints nothing; check its power and its wires")

    def _try_next_baud(self) -> None:
        now_s = time.perf_counter()
        if now_s - self._whole_s < self._patience_s:
            return
        self._whole_s, self._patience_s = now_s, self._try_s
        self._tried += 1
        following = self._bauds[(self._bauds.index(self._port.baud) + 1) % len(self._bauds)]
        if following != self._port.baud:
            self._port.set_baud(following)
