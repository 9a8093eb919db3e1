"""A port and, after ``@``, its baud rate, as in ``/dev/ttyUSB0@38400``: one reading for all."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re

from logger.sources.contract import SourceError

_BAUD = re.compile(r"[0-9]{1,7}")
_BAUDS = (50, 4_000_000)  # slowest and fastest that a terminal line of Linux knows (termios)


def port_and_baud(name: str, rest: str) -> tuple[str, int | None]:
    """Part ``rest``; None where no rate is said. ``name`` is the whole word, for messages.

    Raises
    ------
    SourceError
        What stands after ``@`` is no baud rate.
    """
    port, sign, baud = rest.partition("@")
    if not sign:
        return port, None
    if not _BAUD.fullmatch(baud) or not _BAUDS[0] <= int(baud) <= _BAUDS[1]:
        raise SourceError(
            f"{name[:60]}: {baud[:20]!r} is not a baud rate, {_BAUDS[0]} to {_BAUDS[1]:,}; say "
            "PORT@9600"
        )
    return port, int(baud)
