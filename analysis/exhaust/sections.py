"""Sections of an exhaust: what kinds there are, and how the car file writes them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from analysis.errors import CarError
from analysis.exhaust.car_values import bore_m, length_m, only_known, shown, tables
from analysis.exhaust.mufflers import CATALYST, CHAMBER, TYPES, UNKNOWN, Build
from analysis.exhaust.tube_stock import PIPE_WALL_M, SHELL_WALL_M, WALLS_M, parse_wall_m
from analysis.words.lengths import diameter
from analysis.words.mufflers import LOOKS, written

# judgement: no car has pipes beyond; such a value is a slip of unit and refused.
_SECTION_LENGTHS_M = (0.01, 15.0)
# judgement: a shell is that much wider than its pipe at least; less is the pipe's own diameter by
# mistake, and refused.
_WIDER = 1.1
# judgement: tapes differ by that much on one width; a chamber narrower than its pipe is a slip, and
# chokes the gas.
_AS_WIDE = 0.9
_KEYS = ("kind", "length")
_INSIDE, _OUTSIDE, _WALL = "inner_diameter", "outside_diameter", "wall"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionKind:
    """What one kind of section does.

    Attributes
    ----------
    name : as a sentence says it
    inner_diameters_m : smallest and largest that the car file may give; of a muffler's shell
    takes_branch : whether a branch can be welded onto it
    builds : what a muffler may be inside, with how likely; none of a pipe
    """

    name: str
    inner_diameters_m: tuple[float, float]
    takes_branch: bool = False
    builds: tuple[tuple[Build, float], ...] = ()

    @property
    def is_shell(self) -> bool:
        """Whether pipes go on inside, so that the shell must be wider than they are."""
        return any(build is not CHAMBER for build, _ in self.builds)


# judgement: the smallest cars' pipes are 30 mm wide, a lorry's muffler below 0.8 m; beyond these a
# unit was mistyped.
_PIPE_BORES_M, _SHELLS_M = (0.020, 0.200), (0.020, 0.800)

# The kinds of section that an exhaust is made of, by kind and type in the car file; a new kind of
# muffler goes into ``TYPES``.
PIPE = SectionKind(name="pipe", inner_diameters_m=_PIPE_BORES_M, takes_branch=True)
MUFFLERS = {
    name: SectionKind(name=f"{name} muffler", inner_diameters_m=_SHELLS_M, builds=builds)
    for name, builds in TYPES.items()
}
KINDS: Mapping[str, SectionKind] = {
    "pipe": PIPE,
    "muffler": MUFFLERS[UNKNOWN],
    "chamber": SectionKind(name="chamber", inner_diameters_m=_SHELLS_M, builds=((CHAMBER, 1.0),)),
    "catalyst": SectionKind(name="catalyst", inner_diameters_m=_SHELLS_M, builds=CATALYST),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One piece of the exhaust, of one of the ``KINDS``; ``wall_m`` is as told, or None."""

    kind: SectionKind
    length_m: float
    inner_diameter_m: float
    wall_m: float | None = None


def pipe_beside_m(sections: Sequence[Section], number: int, *, upstream: bool) -> float | None:
    """Inner diameter of the pipe at one end of a section; that at the other where there is none."""
    before = [part.inner_diameter_m for part in sections[:number] if part.kind is PIPE]
    after = [part.inner_diameter_m for part in sections[number + 1 :] if part.kind is PIPE]
    nearest = [before[-1:], after[:1]]
    first, other = nearest if upstream else reversed(nearest)
    return next(iter((*first, *other)), None)


def too_narrow(sections: Sequence[Section]) -> int | None:
    """Find the first muffler that is too narrow for a pipe beside it, counted from 0.

    A shell must be wider; an empty chamber, which may be a wide pipe, at least as wide.
    """
    for number, part in enumerate(sections):
        beside = [pipe_beside_m(sections, number, upstream=end) or 0.0 for end in (True, False)]
        room = _WIDER if part.kind.is_shell else _AS_WIDE
        if part.kind is not PIPE and part.inner_diameter_m <= room * max(beside):
            return number
    return None


def read_sections(value: object, whose: str, table: str) -> tuple[Section, ...]:
    """Read the sections of a pipe, written as ``[[table]]``; ``whose`` names a leg, or is empty.

    Raises
    ------
    CarError
        A section that lacks something, or of an impossible size.
    """
    of = f" of {whose}" if whose else ""
    sections = tuple(_section(item, name, table) for name, item in tables(value, table, of))
    narrow = too_narrow(sections)
    if narrow is not None:
        raise CarError(
            f"section {narrow + 1}{of} is a muffler no wider than the pipe beside it; its "
            "width is that of its shell"
        )
    return sections


def _section(value: Mapping[str, object], name: str, table: str) -> Section:
    needed = _KEYS if _OUTSIDE in value else (*_KEYS, _INSIDE)
    may_be = (*_KEYS, _INSIDE, _OUTSIDE, _WALL, "type")
    only_known(value, may_be, f"{name} of [[{table}]]", needed)
    kind = _kind(value, name)
    return Section(
        kind=kind,
        length_m=length_m(value["length"], f"length of {name}", _SECTION_LENGTHS_M),
        inner_diameter_m=_inside_m(value, name, kind),
        wall_m=_wall_m(value, name),
    )


def _inside_m(value: Mapping[str, object], name: str, kind: SectionKind) -> float:
    """Width inside as told, or worked out of the outside and the wall."""
    if _OUTSIDE not in value:
        if _WALL in value:
            raise CarError(f"{name} has a wall, which goes with outside_diameter; leave it out")
        return bore_m(value[_INSIDE], f"{_INSIDE} of {name}", kind.inner_diameters_m)
    if _INSIDE in value:
        raise CarError(f"{name} has both inner_diameter and outside_diameter; leave one out")
    outside_m = bore_m(value[_OUTSIDE], f"{_OUTSIDE} of {name}", kind.inner_diameters_m)
    wall_m = _wall_m(value, name) or (PIPE_WALL_M if kind.takes_branch else SHELL_WALL_M)
    inside_m = outside_m - 2.0 * wall_m
    if inside_m < kind.inner_diameters_m[0]:
        raise CarError(
            f"{name} is {diameter(max(0.0, inside_m))} wide: no car's exhaust is that narrow "
            "within its wall; check outside_diameter and wall"
        )
    return inside_m


def _wall_m(value: Mapping[str, object], name: str) -> float | None:
    if _WALL not in value:
        return None
    return length_m(value[_WALL], f"{_WALL} of {name}", WALLS_M, read=parse_wall_m)


def _kind(table: Mapping[str, object], name: str) -> SectionKind:
    kind = table["kind"]
    if not isinstance(kind, str) or kind not in KINDS:
        known = " or ".join(map(repr, KINDS))
        raise CarError(f"kind of {name} {_must_be(known, KINDS, kind)}")
    if "type" not in table:
        return KINDS[kind]
    if kind != "muffler":
        raise CarError(
            f'{name} has a type, but only kind = "muffler" has one, got kind {shown(kind)}'
        )
    got = table["type"]
    if not isinstance(got, str) or got not in MUFFLERS:
        known = ", ".join(f"{each!r} ({looks})" for each, looks in LOOKS.items())
        raise CarError(f"type of {name} {_must_be(known, MUFFLERS, got)}")
    return MUFFLERS[got]


def _must_be(known: str, names: Iterable[str], got: object) -> str:
    word = got.strip().lower() if isinstance(got, str) else ""
    meant = f'"{word}"' if word in names else written(word)
    hint = f"; for {shown(got)} write {meant}" if meant else ""
    return f"must be {known}, got {shown(got)}{hint}"
