"""What a muffler of each type looks like from outside, and other words for it.

Common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping

# by kind in the car file
KIND_LOOKS: Mapping[str, str] = {
    "pipe": "plain tube, straight or bent",
    "muffler": "a can with something inside; you are asked what",
    "chamber": "an empty can: a pipe in and a pipe out",
    "catalyst": "a honeycomb behind either end",
}
EMPTY = "empty"  # what a person may say of a muffler that is a chamber

# by type in the car file, told to whoever writes one
LOOKS: Mapping[str, str] = {
    "straight-through": "a lamp at one end shines out of the other; with wool it sounds dull",
    "three-pass": "no light comes through; pipes set off, and a long tube with holes inside",
    "chambered": "no light, or a bent gleam; the inlet soon ends before a plate; it rings hollow",
    "resonator": "a small straight-through one, up to twice as wide as the pipe",
    "unknown": "you cannot tell: all of them count",
}

_MUFFLER, _CATALYST, _CHAMBER = ("muffler", ""), ("catalyst", ""), ("chamber", "")
_STRAIGHT, _THREE_PASS = ("muffler", "straight-through"), ("muffler", "three-pass")
_CHAMBERED, _RESONATOR = ("muffler", "chambered"), ("muffler", "resonator")

# what other words for a kind or a type mean: kind and type of the car file, "" where it has none
# or the word does not tell
MEANT_BY: Mapping[str, tuple[str, str]] = {
    "silencer": _MUFFLER,
    "back box": _MUFFLER,
    "box": _MUFFLER,
    "straight-through": _STRAIGHT,
    "glasspack": _STRAIGHT,
    "straight through": _STRAIGHT,
    "perforated": _STRAIGHT,
    "absorption": _STRAIGHT,
    "three-pass": _THREE_PASS,
    "turbo": _THREE_PASS,
    "turbo muffler": _THREE_PASS,
    "three pass": _THREE_PASS,
    "3-pass": _THREE_PASS,
    "s-flow": _THREE_PASS,
    "reversed flow": _THREE_PASS,
    "chambered": _CHAMBERED,
    "chamber muffler": _CHAMBERED,
    "baffled": _CHAMBERED,
    "resonator": _RESONATOR,
    "bottle": _RESONATOR,
    "bullet": _RESONATOR,
    "cat": _CATALYST,
    "converter": _CATALYST,
    "catalytic converter": _CATALYST,
    "expansion chamber": _CHAMBER,
    "empty": _CHAMBER,
    "empty can": _CHAMBER,
    "can": _MUFFLER,
    "tube": ("pipe", ""),
    "tail pipe": ("pipe", ""),
    "tailpipe": ("pipe", ""),
}


def written(word: str) -> str | None:
    """Say how the car file writes what a word means; None where that is not known."""
    meant = MEANT_BY.get(word)
    if meant is None:
        return None
    kind, made = meant
    if made:
        return f'kind = "{kind}" with type = "{made}"'
    type_too = ", and its type if you know it" if meant == _MUFFLER else ""
    return f'kind = "{kind}"{type_too}'
