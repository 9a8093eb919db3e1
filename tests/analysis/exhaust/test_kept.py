"""What fits share, from guess to guess and from slip to slip: work is saved, no answer changes."""
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
from analysis.exhaust.fitting import meet
from analysis.exhaust.guesses import make_ducts
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.misread import check_lengths
from analysis.exhaust.pipes import exhaust_line
from analysis.exhaust.prior import Prior, Slip

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


def curve() -> MeasuredCurve:
    rpm = np.geomspace(1400.0, 3600.0, 24)
    hz = rpm / 15.0
    level_db = 80.0 + 10.0 * np.exp(-(((hz - 130.0) / 12.0) ** 2))
    return MeasuredCurve(
        frequency_hz=hz, rpm=rpm, level_db=level_db, drone_hz=130.0, sigma_db=1.2, trend_terms=4
    )


def model(car: str) -> ExhaustModel:
    return ExhaustModel(Prior(line=line(car), engine_order=4.0), curve())


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


def test_of_several_slips_a_guess_has_the_one_that_it_says() -> None:
    first, last = (Slip(section=n, by_m=0.0, spread_m=0.5) for n in (0, 2))
    both, alone = (Prior(line=line(ONE), slips=slips) for slips in ((first, last), (last,)))
    at = np.random.default_rng(1).standard_normal((4, alone.size))
    with_last = np.insert(at, alone.size - 1, 1, axis=1)
    np.testing.assert_array_equal(both.members(with_last).stretch, alone.members(at).stretch)
    with_first = np.insert(at, alone.size - 1, 0, axis=1)
    untouched = Prior(line=line(ONE)).members(at[:, :-1]).stretch
    np.testing.assert_array_equal(both.members(with_first).stretch[:, 2], untouched[:, 2])
    assert not np.allclose(both.members(with_first).stretch[:, 0], untouched[:, 0])
    assert both.choices.tolist()[-1] == both.size - 2


def test_every_length_is_asked_about_in_one_fit(monkeypatch: pytest.MonkeyPatch) -> None:
    """As typed, with each left open, with each held off: three, however many there are."""
    fits: list[int] = []

    def counted(*parts: Any) -> FloatArray:
        fits.append(len(parts[1]))
        return meet(*parts)

    monkeypatch.setattr("analysis.exhaust.misread.meet", counted)
    check_lengths(line(ONE), 4.0, curve(), np.random.default_rng(1))
    assert fits[:3] == [16, 32, 12]
