"""Digits five rows tall, to be read from the passenger's seat."""
# SPDX-License-Identifier: GPL-2.0-or-later

ROWS = 5  # judgement: layout, to be read from the passenger's seat
_GAP = "  "
_GLYPHS = {
    "0": ("####", "#  #", "#  #", "#  #", "####"),
    "1": ("  # ", " ## ", "  # ", "  # ", " ###"),
    "2": ("####", "   #", "####", "#   ", "####"),
    "3": ("####", "   #", " ###", "   #", "####"),
    "4": ("#  #", "#  #", "####", "   #", "   #"),
    "5": ("####", "#   ", "####", "   #", "####"),
    "6": ("####", "#   ", "####", "#  #", "####"),
    "7": ("####", "   #", "  # ", " #  ", " #  "),
    "8": ("####", "#  #", "####", "#  #", "####"),
    "9": ("####", "#  #", "####", "   #", "####"),
    "-": ("    ", "    ", "####", "    ", "    "),
    " ": ("    ", "    ", "    ", "    ", "    "),
}


def big_digits(text: str, ink: str) -> tuple[str, ...]:
    """Draw digits, minus signs and blanks with ``ink``; ``ROWS`` rows of one width."""
    rows = (_GAP.join(_GLYPHS[sign][row] for sign in text) for row in range(ROWS))
    return tuple(row.replace("#", ink) for row in rows)
