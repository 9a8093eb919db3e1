"""Mufflers of many guesses at once: which build each has, what is inside it, as a two-port."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analysis.acoustics.duct import Matrix
from analysis.acoustics.muffler_parts import Medium
from analysis.acoustics.mufflers import Casing
from analysis.basics.arrays import BoolArray, ComplexArray, FloatArray, IntArray
from analysis.basics.rows import rows
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.sections import SectionKind


def unknowns(kind: SectionKind) -> int:
    """How many coordinates tell what is inside: one to choose a build, if there are several."""
    most = max((build.unknowns for build, _ in kind.builds), default=0)
    return most + _has_choice(kind)


def choices(kinds: Sequence[SectionKind]) -> IntArray:
    """Numbers of the coordinates that choose a build, among those of all these sections."""
    first = np.cumsum([0, *map(unknowns, kinds)], dtype=np.int64)[:-1]
    return first[[_has_choice(kind) for kind in kinds]]


def chosen(
    line: ExhaustLine, numbers: Sequence[int], share: FloatArray
) -> tuple[IntArray, FloatArray]:
    """Turn shares [shape=(n_members, n_coordinates)] of some sections into builds and innards.

    Returns
    -------
    build : [shape=(n_members, n_numbers)]
        Which of its kind's builds each section is.
    inside : [shape=(n_members, n_numbers, n)]
        Shares that the build takes; zero where it takes none.
    """
    count, kinds = share.shape[0], [line.sections[number].kind for number in numbers]
    most = max(map(unknowns, kinds), default=0)
    build = np.zeros((count, len(kinds)), dtype=np.int64)
    inside = np.zeros((count, len(kinds), most))
    first = 0
    for rank, (number, kind) in enumerate(zip(numbers, kinds, strict=True)):
        # every section takes as many as its largest build, so a drawn number keeps its meaning
        own = share[:, first : first + unknowns(kind)]
        first += own.shape[1]
        if _has_choice(kind):
            build[:, rank] = np.searchsorted(_up_to(line, number), own[:, 0], side="right")
            own = own[:, 1:]
        inside[:, rank, : own.shape[1]] = own
    return build, inside


def two_port(
    line: ExhaustLine,
    number: int,
    build: IntArray,
    inside: FloatArray,
    length_m: FloatArray,
    at: Medium,
) -> Matrix:
    """Work out one muffler of every guess.

    Parameters
    ----------
    number : of the section
    build : [shape=(n_members,)]
    inside : [shape=(n_members, n)]
    length_m : [shape=(n_members,)]
    """
    part, made = line.sections[number], []
    for index, (kind, _) in enumerate(part.kind.builds):
        which = build == index
        if not which.any():
            continue
        casing = Casing(
            length_m=length_m[which, None],
            shell_m=part.inner_diameter_m,
            inlet_m=line.bores_m[number],
            outlet_m=line.outlet_bores_m[number],
        )
        shares = list(inside[which, : kind.unknowns].T[..., None])
        own = replace(at, gas=rows(at.gas, which), flow=at.flow[which])
        made.append((which, kind.inside(own, casing, shares)))
    return made[0][1] if len(made) == 1 else _together(made)


def _together(made: list[tuple[BoolArray, Matrix]]) -> Matrix:
    shape = made[0][0].size, made[0][1].a.shape[1]

    def whole(name: str) -> ComplexArray:
        entries = np.empty(shape, dtype=np.complex128)
        for which, matrix in made:
            entries[which] = getattr(matrix, name)
        return entries

    return Matrix(a=whole("a"), b=whole("b"), c=whole("c"), d=whole("d"))


def _has_choice(kind: SectionKind) -> bool:
    return len(kind.builds) > 1


def _up_to(line: ExhaustLine, number: int) -> FloatArray:
    """Share up to which each build is chosen, the last left out; what cannot be is not chosen."""
    part = line.sections[number]
    widest_m = max(line.bores_m[number], line.outlet_bores_m[number])
    likely = np.array(
        [
            weight if widest_m <= build.widest_pipe * part.inner_diameter_m else 0.0
            for build, weight in part.kind.builds
        ]
    )
    if not likely.any():  # told so, though it seems not to fit
        likely = np.array([weight for _, weight in part.kind.builds])
    return np.asarray(np.cumsum(likely / likely.sum())[:-1])
