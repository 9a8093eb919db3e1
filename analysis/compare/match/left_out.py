"""What of two drives was compared, and what was left out as unlike."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.basics.rpm_bins import BIN_RATIO
from analysis.compare.match.like_with_like import known_in_both, weights_alike
from analysis.compare.match.side_by_side import shared_curves, side_by_side
from analysis.find.curves.pass_table import direction
from analysis.find.curves.passes import sweeps
from analysis.findings import STANDING, Findings, PassCurve
from analysis.verdicts import Condition, LeftOut, LeftOutPart, Matching
from analysis.words.sentences import listed

# judgement: words about what was left out; no number moves.
_WORTH_SAYING_S = 1.0
_MOST_SPANS = 3
_SPAN_APART = BIN_RATIO**4
_KMH_A_MPH = 1.609344  # exact, by definition of the mile
_WAYS = {1: "climbs", -1: "falls", 0: "rests"}
_IN_TURN = (Condition.GEAR, Condition.LOAD, Condition.DIRECTION)


def matching_of(baseline: Findings, postfix: Findings) -> Matching | None:
    """How the two drives were laid side by side over all engine speeds; None without a curve.

    Every order has the same points, so the first that both drives have stands for all.
    """
    both = next(shared_curves(baseline, postfix), None)
    if both is None or both[0].rpm.size == 0:
        return None
    before, after = both
    counted = side_by_side(before, after).alike
    known = known_in_both(before, after)
    steps = [frozenset(_IN_TURN[:count]) & known for count in range(len(_IN_TURN) + 1)]
    held = [weights_alike(before, after, step) for step in steps]
    ratios = baseline.gear_ratios
    return Matching(
        kept=tuple(sorted(counted.kept)),
        known=tuple(sorted(known)),
        left_out=(
            _left_out(
                baseline.drive_name, before, counted.before > 0.0, [h[0] for h in held], ratios
            ),
            _left_out(postfix.drive_name, after, counted.after > 0.0, [h[1] for h in held], ratios),
        ),
    )


def _left_out(
    name: str,
    curve: PassCurve,
    compared: BoolArray,
    held: Sequence[FloatArray],
    ratios: Sequence[float],
) -> LeftOut:
    """Sort what was not compared by the first reason for it.

    ``held``: what the other drive holds too by engine speed, then with each of ``_IN_TURN`` beside.
    """
    swept = sweeps(curve.pass_index, curve.rpm)
    lost = (held[0] == 0.0) & ~compared
    parts = [("engine speed", lost, _spans(curve, lost))]
    for condition, before, now in zip(_IN_TURN, held, held[1:], strict=False):
        lost = (before > 0.0) & (now == 0.0) & ~compared
        parts.append((condition.value, lost, _what(condition, curve, lost, ratios)))
    return LeftOut(
        drive_name=name,
        sweeps=int(np.unique(curve.pass_index[swept]).size),
        sweeps_compared=int(np.unique(curve.pass_index[swept & compared]).size),
        seconds=float(curve.seconds.sum()),
        seconds_compared=float(curve.seconds[compared].sum()),
        parts=tuple(
            LeftOutPart(reason=reason, seconds=float(curve.seconds[lost].sum()), what=what)
            for reason, lost, what in parts
            if curve.seconds[lost].sum() >= _WORTH_SAYING_S
        ),
    )


def _what(condition: Condition, curve: PassCurve, lost: BoolArray, ratios: Sequence[float]) -> str:
    if condition is Condition.GEAR:
        gears, known = curve.gear[lost], np.isfinite(curve.gear[lost])
        names = [
            _gear_words(int(gear), ratios, curve.rpm[lost][gears == gear].max())
            for gear in np.unique(gears[known])
        ]
        return listed([*names, *([] if known.all() else ["gear not known"])])
    if condition is Condition.LOAD:
        load = curve.load_part[lost]
        load = 100.0 * load[np.isfinite(load)]
        return f"{load.min():.0f} to {load.max():.0f} % load" if load.size else "load not known"
    return listed([_WAYS[int(way)] for way in np.unique(direction(curve)[lost])])


def _gear_words(gear: int, ratios: Sequence[float], highest_rpm: float) -> str:
    """Name a gear by its engine speed at the highest road speed, in whole km/h, left out."""
    if gear == STANDING:
        return "standing still"
    kmh = max(1.0, 3.6 * highest_rpm // ratios[gear])
    rpm, mph = kmh / 3.6 * ratios[gear], kmh / _KMH_A_MPH
    return f"the gear of {rpm:,.0f} rpm at {kmh:.0f} km/h ({mph:.0f} mph)"


def _spans(curve: PassCurve, lost: BoolArray) -> str:
    rpm = np.unique(curve.rpm[lost])
    if not rpm.size:
        return ""
    ends = np.flatnonzero(rpm[1:] > _SPAN_APART * rpm[:-1])
    spans = list(zip(rpm[[0, *(ends + 1)]], rpm[[*ends, -1]], strict=True))
    words = [
        f"{low:,.0f} rpm" if low == high else f"{low:,.0f} to {high:,.0f} rpm"
        for low, high in spans[:_MOST_SPANS]
    ]
    return listed([*words, *(["elsewhere"] if len(spans) > _MOST_SPANS else [])])
