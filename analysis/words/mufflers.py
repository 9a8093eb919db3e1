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

# what people also call a kind or a type: by both as the car file has them, "" where it has no type
# or the word does not tell
_CALLED: Mapping[tuple[str, str], str] = {
    ("muffler", ""): "silencer, back box, box, can",
    ("muffler", "straight-through"): "glasspack, straight through, perforated, absorption",
    ("muffler", "three-pass"): "turbo, turbo muffler, three pass, 3-pass, s-flow, reversed flow",
    ("muffler", "chambered"): "chamber muffler, baffled",
    ("muffler", "resonator"): "bottle, bullet",
    ("catalyst", ""): "cat, converter, catalytic converter",
    ("chamber", ""): "expansion chamber, empty, empty can",
    ("pipe", ""): "tube, tail pipe, tailpipe",
}
MEANT_BY: Mapping[str, tuple[str, str]] = {
    word: meant
    for meant, words in _CALLED.items()
    for word in (*words.split(", "), *filter(None, meant[1:]))
}


def written(word: str) -> str | None:
    """Say how the car file writes what a word means; None where that is not known."""
    meant = MEANT_BY.get(word)
    if meant is None:
        return None
    kind, made = meant
    if made:
        return f'kind = "{kind}" with type = "{made}"'
    type_too = ", and its type if you know it" if kind == "muffler" else ""
    return f'kind = "{kind}"{type_too}'
