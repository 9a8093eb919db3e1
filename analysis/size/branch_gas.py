"""How hot the gas in a branch may be: the largest unknown by far, so always a range.

The gas in a dead-end branch is fed by the hot stream at its mouth and cooled by its wall. Nobody
seems to have published a measurement in a car; what is taken here when nothing is measured is a
judgement from an exponential profile with the decay lengths seen in closed branches of process
piping: 0.55 times the pipe's gas temperature in degrees Celsius, credibly 0.35 to 0.8 times.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.basics.units import ZERO_C_K
from analysis.errors import SizingError
from analysis.findings import Doubt
from analysis.words.quantities import temperature_both, temperature_step

# judgement: the gas in a dead end, as shares of the pipe's in degC; no measurement of a car's
# branch was found. 10 K move a length by 1 %. 20 % more of the low, likely and high share moves the
# length by 11, 0 and 27 mm and the outlook by 0.03, 2 and 1.5 dB.
_SHARE_LOW, _SHARE_LIKELY, _SHARE_HIGH = 0.35, 0.55, 0.80
# judgement: air under a warm car is no colder; between drives and weather one measured value strays
# by as much. 20 % more of the first, 65 K, moves a length by 35 mm.
UNDERBODY_K = 323.15
ONE_VALUE_SPREAD_K = 20.0
# how much colder or warmer than the first another branch may be, as a share of the span; judgement:
# it only spreads what two branches do; 20 % more moves the outlook by less than 0.1 dB
GAS_APART = 0.08
# judgement: how many of the cases a branch is hotter in than is usual: short,
# wrapped, or blown into. 20 % more moves a length by 1 to 32 mm and the outlook by 0.02 to 0.4 dB.
HOTTER_SHARE = 1.0 / 8.0
# judgement: mid to rear pipe at cruise, within Heywood (1988), from memory; the hottest pipe behind
# a catalyst.
_UNKNOWN_PIPE = Interval(low=473.15, high=673.15)
_HOTTEST_PIPE_K = 973.15
# judgement: dead-end branch anywhere behind the catalyst, from the shares above; 20 % more, 65 to
# 100 K, moves a length by 76 mm and the outlook by 1.6 dB.
_ANYWHERE = Interval(low=323.15, high=503.15)

_SKIN = Doubt(
    code="skin_temperature",
    is_advice=True,
    message="What counts is the gas, not the skin of the pipe: at cruise the skin is "
    "65 to 310 °C (120 to 560 °F) colder, so an infrared thermometer or a clamp on the pipe reads "
    "far too low. Measure with a probe in the stream, or in the branch itself.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchGas:
    """Gas in the branch as one effective temperature, and gas in the pipe beside it.

    ``hottest_k`` is how hot it may be in a rare case; None where that is in ``branch_k``.
    """

    branch_k: Interval
    likely_k: float
    pipe_k: float
    assumptions: tuple[str, ...]
    warnings: tuple[Doubt, ...]
    hottest_k: float | None = None


def branch_gas(
    branch_k: Interval | None, pipe_k: Interval | None, said_by: str = "as given"
) -> BranchGas:
    """Put together what is known of the gas; ``said_by`` tells where ``branch_k`` is from.

    Raises
    ------
    SizingError
        Outside -23 to 927 degC, or a branch hotter than its pipe.
    """
    for known in (branch_k, pipe_k):
        if known is not None and not COLDEST_K <= known.low <= known.high <= HOTTEST_K:
            raise SizingError(
                f"exhaust gas must be between {temperature_both(COLDEST_K)} and "
                f"{temperature_both(HOTTEST_K)}; check the gas temperature"
            )
    if branch_k is not None:
        return _from_branch(branch_k, pipe_k, said_by)
    if pipe_k is not None:
        return _from_pipe(
            pipe_k,
            (f"Gas in the pipe beside the branch: {_span(pipe_k)}, as given.",),
            (_SKIN,),
        )
    return _from_pipe(
        _UNKNOWN_PIPE,
        (f"Gas in the pipe: not given; {_span(_UNKNOWN_PIPE)} assumed (mid to rear pipe).",),
        (
            Doubt(
                code="gas_temperature_unknown",
                message="The gas temperature is not known, so the length is uncertain by several "
                "per cent. Give the temperature of the gas in the pipe or the branch. "
                + _SKIN.message,
            ),
        ),
    )


def branch_gas_anywhere(
    branch_k: Interval | None,
    beside_k: Interval | None,
    ends_k: tuple[Interval, Interval],
    said_by: str = "as given",
) -> BranchGas:
    """Put together what is known when a branch may go anywhere along the exhaust.

    ``beside_k`` is the pipe's gas where the branch will be, if somebody measured it there;
    ``ends_k`` what it may be at the collector and at the outlet. Unmeasured, the branch's gas is
    taken from 50 to 230 degC wherever it sits: beyond the first few bores the wall sets it, not
    the stream. That is a judgement, no source. In a rare case it is hotter, as hot as the pipe's at
    its mouth at most: an exponential profile from a mouth of 400 to 550 degC to a cold cap sounds
    like 112 to 431 degC, with decay lengths of 2 to 20 bores as seen in closed branches of process
    piping.

    Raises
    ------
    SizingError
        As :func:`branch_gas`.
    """
    if branch_k is not None or beside_k is not None:
        return branch_gas(branch_k, beside_k, said_by)
    likely_k = (_ANYWHERE.low + _ANYWHERE.high) / 2.0
    return BranchGas(
        branch_k=_ANYWHERE,
        likely_k=likely_k,
        hottest_k=max(ends_k[0].high, _ANYWHERE.high),
        pipe_k=max((ends_k[1].low + ends_k[0].high) / 2.0, likely_k),
        assumptions=(
            f"Gas in the branch: not measured; {_span(_ANYWHERE)} assumed, each as "
            "likely as another, and in one case of eight hotter, up to the pipe's gas at its mouth "
            "(a judgement).",
        ),
        warnings=(_SKIN,),
    )


def drawn_k(
    span: Interval, hottest_k: float | None, count: int, rng: np.random.Generator
) -> FloatArray:
    """Draw gas for two branches in so many cases, [shape=(count, 2)].

    Evenly over the span, every case another, and a few beyond it, if it may be hotter. The second
    branch is nearly as warm.
    """
    even = (np.arange(count) + 0.5) / count
    hottest_k = max(hottest_k or span.high, span.high)
    usual = 1.0 if hottest_k <= span.high else 1.0 - HOTTER_SHARE
    ends_k = [span.low, span.high, hottest_k]
    first = rng.permutation(np.interp(even, [0.0, usual, 1.0], ends_k))
    second = first + rng.uniform(-GAS_APART, GAS_APART, count) * (span.high - span.low)
    return np.stack([first, second.clip(ends_k[0], ends_k[-1])], axis=1)


def with_mirrored_k(branch_k: FloatArray, span: Interval, rng: np.random.Generator) -> FloatArray:
    """Draw nearly as warm gas for the branches on the pipes that mirror those, [(count, 4)]."""
    off = rng.uniform(-GAS_APART, GAS_APART, branch_k.shape) * (span.high - span.low)
    mirrored_k = (branch_k + off).clip(span.low, max(float(branch_k.max()), span.high))
    return np.hstack([branch_k, mirrored_k])


def _from_branch(branch_k: Interval, pipe_k: Interval | None, said_by: str) -> BranchGas:
    # a range says itself how unsure it is
    spread = 0.0 if branch_k.high > branch_k.low else ONE_VALUE_SPREAD_K
    likely_k = (branch_k.low + branch_k.high) / 2.0
    wide = Interval(
        low=max(branch_k.low - spread, COLDEST_K), high=min(branch_k.high + spread, HOTTEST_K)
    )
    said = [f"Gas in the branch: {_span(wide)}, {said_by}."]
    if spread:
        said[0] = (
            f"Gas in the branch: {temperature_both(likely_k)}, {said_by}, within "
            f"{temperature_step(spread)} either way."
        )
    if pipe_k is None:
        guess_k = ZERO_C_K + (likely_k - ZERO_C_K) / _SHARE_LIKELY
        # no colder than the branch that it feeds
        beside_k = max(min(guess_k, _HOTTEST_PIPE_K), wide.high)
        said.append(f"Gas in the pipe beside it: {temperature_both(beside_k)} assumed from that.")
    else:
        if branch_k.low > pipe_k.high:
            raise SizingError(
                "the gas in the branch cannot be hotter than the gas in the pipe that feeds it; "
                "check the two gas temperatures"
            )
        beside_k = max((pipe_k.low + pipe_k.high) / 2.0, likely_k)
    return BranchGas(
        branch_k=wide,
        likely_k=likely_k,
        pipe_k=beside_k,
        assumptions=tuple(said),
        warnings=(_SKIN,),
    )


def _from_pipe(pipe_k: Interval, said: tuple[str, ...], warnings: tuple[Doubt, ...]) -> BranchGas:
    middle_k = (pipe_k.low + pipe_k.high) / 2.0
    wide = Interval(low=_share(_SHARE_LOW, pipe_k.low), high=_share(_SHARE_HIGH, pipe_k.high))
    likely_k = _share(_SHARE_LIKELY, middle_k)
    # a pipe measured to a degree does not tell its branch to a degree
    if wide.high - wide.low < 2.0 * ONE_VALUE_SPREAD_K:
        wide = Interval(
            low=max(likely_k - ONE_VALUE_SPREAD_K, COLDEST_K), high=likely_k + ONE_VALUE_SPREAD_K
        )
    return BranchGas(
        branch_k=wide,
        likely_k=likely_k,
        pipe_k=middle_k,
        assumptions=(
            *said,
            f"Gas in the branch: not measured; likely {temperature_both(likely_k)}, credibly "
            f"{_span(wide)} (a judgement: {_SHARE_LOW:g} to {_SHARE_HIGH:g} times the pipe's °C).",
        ),
        warnings=warnings,
    )


def _share(share: float, pipe_k: float) -> float:
    """Part of the pipe's temperature in degC, but no colder than the air under the car."""
    return max(ZERO_C_K + share * (pipe_k - ZERO_C_K), min(UNDERBODY_K, pipe_k))


def _span(span_k: Interval) -> str:
    if span_k.low == span_k.high:
        return temperature_both(span_k.low)
    return f"{temperature_both(span_k.low)} to {temperature_both(span_k.high)}"
