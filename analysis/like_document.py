"""What ``compare --json`` says of how two drives were laid side by side."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.json_values import Json, number
from analysis.left_out import left_out_words, matched_words
from analysis.verdicts import LeftOut, Matching


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
