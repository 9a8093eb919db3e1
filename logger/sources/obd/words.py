"""What an adapter's own words mean for the person in the car.

The words are those of the public data sheet of the ELM327; the cures are common practice, no
source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

_SHOWN = 40  # judgement: characters of an answer shown in a line of trouble
_IGNITION = "switch the ignition on, and push the adapter in firmly"
_UNKNOWN = "try another adapter: this one does not understand the question"
_CURES = (
    ("NO DATA", _IGNITION),
    ("UNABLE TO CONNECT", _IGNITION),
    ("SEARCHING", _IGNITION),
    ("BUS", _IGNITION),  # BUS INIT: ERROR, BUS ERROR, BUS BUSY
    ("FB ERROR", _IGNITION),
    ("CAN ERROR", "push the adapter in firmly; if that does not help, try another adapter"),
    ("DATA ERROR", "push the adapter in firmly; if that does not help, try another adapter"),
    ("BUFFER FULL", "try another adapter: this one is too slow for the car"),
    ("STOPPED", "close other programs that use the adapter"),
    ("7F01", "this car does not give it; try another --rpm"),
)


def why_no_rpm(words: str) -> str:
    """Say what the adapter answered instead of rpm, and what to do."""
    cure = next((cure for sign, cure in _CURES if sign in words), _IGNITION)
    if words == "?":
        cure = _UNKNOWN
    said = f"answers {words[:_SHOWN]!a}" if words else "answers nothing"
    return f"gives no rpm, it {said}; {cure}"


WHY_LATE = (
    "answers too late to be of use; try another adapter, or a cable instead of a wireless one"
)
