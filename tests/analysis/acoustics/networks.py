"""Networks that more than one test lays out, and what branches on them take away."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.acoustics.network import (
    Duct,
    Network,
    OpenEnd,
    Places,
    Source,
    Spot,
    determinant,
)
from analysis.acoustics.two_port import (
    AnyComplexArray,
    Element,
    Tube,
)
from analysis.basics.arrays import ComplexArray, FloatArray

SPEED_M_S = 400.0
ONE = np.ones((1, 1), dtype=np.complex128)


def chain(
    elements: list[Element],
    *,
    reflection: float = 0.0,
    outlet: ComplexArray = ONE,
) -> Network:
    """One duct from a source, which sends a unit wave into a unit impedance, to an open end."""
    return Network(
        ducts=(Duct(start=0, end=1, elements=elements),),
        sources=(
            Source(
                node=0,
                flow=2.0 / (1.0 + reflection) * ONE,
                admittance=(1.0 - reflection) / (1.0 + reflection) * ONE,
            ),
        ),
        open_ends=(OpenEnd(node=1, impedance=outlet, weight=ONE),),
    )


def even_chain(
    frequency_hz: FloatArray,
    steps: int,
    step_m: float,
    *,
    speed_m_s: float = SPEED_M_S,
    attenuation_np_m: float = 0.0,
    reflection: float = 0.0,
    outlet: ComplexArray = ONE,
) -> Network:
    """A pipe of unit impedance in equal pieces; an endless one goes on behind it if not said."""
    phase = (attenuation_np_m + 2j * np.pi * frequency_hz / speed_m_s) * step_m
    tube = Tube(phase=np.asarray(phase[None]), impedance=np.ones((1, 1)))
    return chain([tube] * steps, reflection=reflection, outlet=outlet)


def lost(
    places: Places, branches: Sequence[tuple[AnyComplexArray, Spot]], *, in_full: bool = False
) -> AnyComplexArray:
    """What is heard without over with these branches; ``in_full`` also where all passes them."""

    def whole(*, passing: bool) -> AnyComplexArray:
        return determinant(
            [
                [
                    admittance * (places.between(one, other) - passing * _through(one, other))
                    + (one is other)
                    for _, other in branches
                ]
                for admittance, one in branches
            ]
        )

    def _through(one: Spot, other: Spot) -> AnyComplexArray:
        return places.pressure_before(one) * places.heard_from(other)

    lower = whole(passing=True) if in_full or not places.is_one_way else 1.0
    return np.asarray(whole(passing=False) / lower)
