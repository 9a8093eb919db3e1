"""What ``compare --json`` says of two drives laid side by side, over all engine speeds."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.answers.json_values import Json, interval, number
from analysis.basics.arrays import FloatArray
from analysis.verdicts import (
    Comparison,
    GainChange,
    LeftOut,
    Matching,
    OverallBeforeAfter,
    PartChange,
)
from analysis.words.matching import left_out_words, matched_words


def matching_document(matching: Matching | None) -> dict[str, Json] | None:
    """Tell what was kept alike, and what was left out of each drive; None if nothing is shared."""
    if matching is None:
        return None
    baseline, postfix = matching.left_out
    return {
        "kept_alike": [each.value for each in matching.kept],
        "known_of_both": [each.value for each in matching.known],
        "message": f"Compared {matched_words(matching)}.",
        "baseline": _left_out(baseline),
        "postfix": _left_out(postfix),
    }


def _left_out(left_out: LeftOut) -> dict[str, Json]:
    return {
        "sweeps": left_out.sweeps,
        "sweeps_compared": left_out.sweeps_compared,
        "seconds": number(left_out.seconds),
        "seconds_compared": number(left_out.seconds_compared),
        "left_out": [
            {"reason": part.reason, "seconds": number(part.seconds), "what": part.what}
            for part in left_out.parts
        ],
        "message": left_out_words(left_out),
    }


def part_document(change: PartChange) -> dict[str, Json]:
    """Overall level at idle, in cruise or over the whole drive."""
    return {
        "part": change.part.value,
        "weighting": change.weighting.value,
        "low_rpm": number(change.low_rpm),
        "high_rpm": number(change.high_rpm),
        "before_db": number(change.before_db),
        "after_db": number(change.after_db),
        "level_change_db": number(change.change_db),
        "ci95_db": interval(change.ci95_db),
        "kept_alike": [each.value for each in change.kept_alike],
    }


def gain_document(gain: GainChange | None) -> dict[str, Json] | None:
    """Give what gain or microphone place seem to have done; None for nothing."""
    if gain is None:
        return None
    return {
        "gain_db": number(gain.gain_db),
        "standard_uncertainty_db": number(gain.sd_db),
        "is_taken_off": gain.is_taken_off,
    }


def overall_document(curve: OverallBeforeAfter) -> dict[str, Json]:
    """Overall level over engine speed in one weighting."""
    return {
        "weighting": curve.weighting.value,
        **_over_rpm(curve.rpm, curve.before_db, curve.after_db),
    }


def order_documents(comparison: Comparison) -> list[Json]:
    """Every order's level over engine speed, the lowest first."""
    curves = (*comparison.curves, *comparison.other_curves)
    return [
        {
            "engine_order": number(curve.engine_order),
            **_over_rpm(curve.rpm, curve.before_db, curve.after_db),
        }
        for curve in sorted(curves, key=lambda each: each.engine_order)
    ]


def _over_rpm(rpm: FloatArray, before_db: FloatArray, after_db: FloatArray) -> dict[str, Json]:
    return {
        "rpm": [number(each) for each in rpm.round(1).tolist()],
        "before_db": [number(each) for each in before_db.round(2).tolist()],
        "after_db": [number(each) for each in after_db.round(2).tolist()],
    }
