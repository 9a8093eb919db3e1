"""The kinds of section that an exhaust is made of. A new kind of muffler goes into ``KINDS``.

The car file takes the names; guesses, places and pictures ask what a kind does to the wave.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionKind:
    """What one kind of section does.

    Attributes
    ----------
    inner_diameters_m : smallest and largest that the car file may give
    takes_branch : whether a branch can be welded onto it
    may_be_packed : whether packing may damp and slow the wave in it
    """

    inner_diameters_m: tuple[float, float]
    takes_branch: bool
    may_be_packed: bool


# judgement: diameters from a moped's pipe to a lorry's muffler; beyond them a unit was mistyped.
_PIPE = SectionKind(inner_diameters_m=(0.010, 0.200), takes_branch=True, may_be_packed=False)
_CHAMBER = SectionKind(inner_diameters_m=(0.010, 0.800), takes_branch=False, may_be_packed=True)

KINDS = {
    "pipe": _PIPE,
    "muffler": _CHAMBER,  # seen as an empty or packed expansion chamber
    "chamber": _CHAMBER,
}
