"""What a fit keeps of the exhaust from guess to guess: no answer changes, and work is saved."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import tomllib
from typing import Any

import numpy as np
import pytest

from analysis.acoustics.network import Duct
from analysis.basics.arrays import FloatArray
from analysis.exhaust.car import parse_car
from analysis.exhaust.ensemble import ExhaustModel, MeasuredCurve
from analysis.exhaust.guesses import make_ducts
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.pipes import exhaust_line
from analysis.exhaust.prior import Prior

_SECTIONS = """
[[exhaust.leg.section]]
kind = "pipe"
length = "1.6 m"
inner_diameter = "55 mm"
[[exhaust.leg.section]]
kind = "muffler"
type = "three-pass"
length = "0.45 m"
inner_diameter = "180 mm"
[[exhaust.leg.section]]
kind = "pipe"
length = "1.2 m"
inner_diameter = "55 mm"
"""
_ENGINE = '[engine]\ncylinders = 8\nlayout = "cross-plane V"\n'
ONE = f'{_ENGINE}[[exhaust.leg]]\nname = "pipe"\nfrom = "all"\n{_SECTIONS}'
TWO = (
    f"{_ENGINE}banks = [[1, 2, 3, 4], [5, 6, 7, 8]]\n"
    f'[[exhaust.leg]]\nname = "left"\nfrom = "bank 1"\n{_SECTIONS}'
    '[[exhaust.leg]]\nname = "right"\nfrom = "bank 2"\nlike = "left"\n'
)


def line(car: str) -> ExhaustLine:
    told = exhaust_line(parse_car(tomllib.loads(car)), None)
    assert told is not None
    return told


def model(car: str) -> ExhaustModel:
    rpm = np.geomspace(1400.0, 3600.0, 24)
    hz = rpm / 15.0
    level_db = 80.0 + 10.0 * np.exp(-(((hz - 130.0) / 12.0) ** 2))
    heard = MeasuredCurve(
        frequency_hz=hz, rpm=rpm, level_db=level_db, drone_hz=130.0, sigma_db=1.2, trend_terms=4
    )
    return ExhaustModel(Prior(line=line(car), engine_order=4.0), heard)


def left(of: ExhaustModel, at: FloatArray) -> FloatArray:
    return of.residual(at, of.heard)


@pytest.mark.parametrize("car", [ONE, TWO])
def test_what_is_kept_is_what_would_be_worked_out_anew(car: str) -> None:
    kept = model(car)
    at = np.random.default_rng(1).standard_normal((5, kept.size))
    for number in kept.free:
        left(kept, at)  # now the ducts of all five are kept
        moved = at[[4, 1, 2]]
        moved[:, number] += 0.3
        np.testing.assert_allclose(left(kept, moved), left(model(car), moved), rtol=0, atol=1e-9)


@pytest.mark.parametrize(("car", "anew"), [(ONE, 11), (TWO, 13)])
def test_slopes_along_cabin_and_ends_need_no_ducts_anew(
    car: str, anew: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Gas at both ends, its bend, the flow; three sections, the muffler's innards; two sides."""
    calls: list[int] = []

    def counted(*parts: Any) -> tuple[Duct, ...]:
        calls.append(1)
        return make_ducts(*parts)

    monkeypatch.setattr("analysis.exhaust.ensemble.make_ducts", counted)
    kept = model(car)
    at = np.zeros((3, kept.size))
    left(kept, at)
    calls.clear()
    for number in kept.free:
        moved = at.copy()
        moved[:, number] += 0.3
        left(kept, moved)
    assert len(calls) == anew
    assert len(kept.free) >= anew + 10
