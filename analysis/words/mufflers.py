"""What a muffler of each type looks like from outside, and other words for it.

Common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping

# by type in the car file, told to whoever writes one
LOOKS: Mapping[str, str] = {
    "straight-through": "a lamp at one end shines out of the other; you see holes or louvres",
    "three-pass": "no light comes through, the pipes are set off; knocked on, dull amid its length",
    "chambered": "no light or a bent gleam; plates inside, it rings hollow, no wool",
    "resonator": "a small straight-through one, hardly wider than the pipe",
    "unknown": "you cannot tell: all of them count",
}

_STRAIGHT = 'kind = "muffler" with type = "straight-through"'
_THREE_PASS = 'kind = "muffler" with type = "three-pass"'
_RESONATOR = 'kind = "muffler" with type = "resonator"'
_CATALYST = 'kind = "catalyst"'
_MUFFLER = 'kind = "muffler", and its type if you know it'

# what other words for a kind or a type are to be written as
MEANT_BY: Mapping[str, str] = {
    "silencer": _MUFFLER,
    "back box": _MUFFLER,
    "box": _MUFFLER,
    "glasspack": _STRAIGHT,
    "straight through": _STRAIGHT,
    "perforated": _STRAIGHT,
    "absorption": _STRAIGHT,
    "turbo": _THREE_PASS,
    "turbo muffler": _THREE_PASS,
    "three pass": _THREE_PASS,
    "3-pass": _THREE_PASS,
    "s-flow": _THREE_PASS,
    "reversed flow": _THREE_PASS,
    "chamber muffler": 'kind = "muffler" with type = "chambered"',
    "baffled": 'kind = "muffler" with type = "chambered"',
    "resonator": _RESONATOR,
    "bottle": _RESONATOR,
    "bullet": _RESONATOR,
    "cat": _CATALYST,
    "converter": _CATALYST,
    "catalytic converter": _CATALYST,
    "expansion chamber": 'kind = "chamber"',
    "empty": 'kind = "chamber"',
    "tube": 'kind = "pipe"',
}
