r"""``serial:PORT``: a small board that prints one reading a line.

A line is either a number alone, which is rpm (``2150``), or a quantity of
:data:`logger.folder.quantities.QUANTITIES`, ``=`` and a number (``road_speed_m_s=27.5``); ASCII, a
decimal point, ended by ``\n`` or ``\r\n``, at 115200 baud. ``PORT@9600`` sets another rate.
Empty lines and lines that start with ``#`` are passed over. The board prints a reading as soon as
it has it: the time of the reading is the time its line ended.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import time

from logger.folder.quantities import QUANTITIES, is_in_range
from logger.sources.contract import Reading, SourceTrouble
from logger.sources.lines.line_judge import LineJudge
from logger.sources.lines.line_port import Line
from logger.sources.lines.line_source import LineSource

_BAUD = 115_200  # judgement: the usual default of boards today; another is said in the URL
_LONGEST_LINE = 80  # more without an end is no board of this kind; judgement: refused as garbage
_SILENT_S = 5.0  # judgement: only when silence is told, no reading changes
_HOLD_S = 1.5  # judgement: a board that prints once a second is judged too; nobody waits longer
_TELL_HELD_BACK = 5  # judgement: fewer are a computer that was busy for a moment
_NEARER = "use a cable in place of a radio link, or bring it nearer"
_CURE = "check the baud rate and the wires"
_NUMBER = re.compile(r"[+-]?\d{1,7}(\.\d{1,9})?")


class SerialLines(LineSource):
    """Read lines from a serial port or ``socket://host:port``; opens it when first read.

    Parameters
    ----------
    rest : str
        The port, and the baud rate after ``@``.
    silent_s : float
        After so long without a reading it is told.
    hold_s : float
        So long a reading waits for the next ones, which may show that it is wrong.
    """

    def __init__(self, rest: str, *, silent_s: float = _SILENT_S, hold_s: float = _HOLD_S) -> None:
        super().__init__("serial", rest, bauds=(_BAUD,), longest=_LONGEST_LINE, silent_s=silent_s)
        self._hold_s = hold_s
        self._judge = LineJudge()

    def _nothing(self) -> Reading | SourceTrouble | None:
        held, was_wrong = self._judge.release(time.perf_counter() - self._hold_s)
        if was_wrong:
            return self._damaged(_CURE)
        if held is not None:
            return held
        return self._silence("gives no reading; check that the board runs, and check its wires")

    def _understand(self, line: Line) -> Reading | SourceTrouble | None:
        text, now_s = line.text, line.at_s
        if not text or text.startswith(b"#"):
            return None
        parsed = parse_line(text)
        if parsed is None:
            return self._garbage(repr(text[:40]), _CURE)
        quantity, value = parsed
        if not is_in_range(quantity, value):
            return self._garbage(f"{quantity} {value:g}, which no car has", _CURE)
        reading = Reading(quantity=quantity, value=value, request_s=now_s, reply_s=now_s)
        if not self._judge.believes(reading):
            return self._damaged(_CURE)
        before, was_wrong = self._judge.pass_on(reading)
        if was_wrong:
            return self._damaged(_CURE)
        if self._judge.held_back == _TELL_HELD_BACK:
            what = "held lines back and then gave them all at once; only the newest is taken: "
            return self._trouble("telemetry_late", what + _NEARER, now_s)
        self._note_good(now_s)
        return None if self._is_hopeless else before


def parse_line(line: bytes) -> tuple[str, float] | None:
    """Give quantity and value of one line without its end, or None."""
    try:
        text = line.decode("ascii")
    except UnicodeDecodeError:
        return None
    name, sign, number = text.rpartition("=")
    quantity = name.strip() if sign else "rpm"
    number = number.strip()
    if quantity not in QUANTITIES or not _NUMBER.fullmatch(number):
        return None
    return quantity, float(number)
