"""Sections of an exhaust: what kinds there are, and how the car file writes them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from analysis.errors import CarError
from analysis.exhaust.car_values import length_m, only_known

# judgement: no car has pipes beyond; such a value is a slip of unit and refused.
_SECTION_LENGTHS_M = (0.01, 15.0)


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


# The kinds of section that an exhaust is made of; a new kind of muffler goes in here.
# judgement: diameters from a moped's pipe to a lorry's muffler; beyond them a unit was mistyped.
_PIPE = SectionKind(inner_diameters_m=(0.010, 0.200), takes_branch=True, may_be_packed=False)
_CHAMBER = SectionKind(inner_diameters_m=(0.010, 0.800), takes_branch=False, may_be_packed=True)

KINDS = {
    "pipe": _PIPE,
    "muffler": _CHAMBER,  # seen as an empty or packed expansion chamber
    "chamber": _CHAMBER,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One piece of the exhaust, of one of the ``KINDS``."""

    kind: SectionKind
    length_m: float
    inner_diameter_m: float


def read_sections(value: object, whose: str, table: str) -> tuple[Section, ...]:
    """Read the sections of a pipe, written as ``[[table]]``; ``whose`` names a leg, or is empty.

    Raises
    ------
    CarError
        A section that lacks something, or of an impossible size.
    """
    if not isinstance(value, list):
        raise CarError(f"section must be written as [[{table}]] tables")
    of = f" of {whose}" if whose else ""
    return tuple(
        _section(item, f"section {number}{of}", table) for number, item in enumerate(value, start=1)
    )


def _section(value: object, name: str, table: str) -> Section:
    if not isinstance(value, dict):
        raise CarError(f"{name} must be a table, written under [[{table}]]")
    only_known(value, ("kind", "length", "inner_diameter"), f"{name} of [[{table}]]")
    for key in ("kind", "length", "inner_diameter"):
        if key not in value:
            raise CarError(f"{name} of [[{table}]] lacks {key}")
    kind = value["kind"]
    if not isinstance(kind, str) or kind not in KINDS:
        known = " or ".join(map(repr, KINDS))
        raise CarError(f"kind of {name} must be {known}, got {kind!r}")
    return Section(
        kind=KINDS[kind],
        length_m=length_m(value["length"], f"length of {name}", _SECTION_LENGTHS_M),
        inner_diameter_m=length_m(
            value["inner_diameter"], f"inner_diameter of {name}", KINDS[kind].inner_diameters_m
        ),
    )
