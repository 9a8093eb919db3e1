"""Doubts about how the two drives were recorded: gain, microphone place, engine, microphone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

import numpy as np

from analysis.compare.match.same_setup import BACKGROUND_TOLERANCE_DB, SetupChange
from analysis.findings import Doubt, Findings
from analysis.verdicts import taken_off

_AGAIN = "put the microphone where it was, set the same gain, and drive"


def setup_doubts(baseline: Findings, postfix: Findings, change: SetupChange) -> Iterator[Doubt]:
    """Tell what in the recording of the two drives weakens their comparison."""
    yield from _gain(baseline, change)
    if baseline.engine and postfix.engine and baseline.engine != postfix.engine:
        yield Doubt(
            code="engine_differs",
            message=f"{baseline.drive_name} says {baseline.engine.cylinders} cylinders, "
            f"{postfix.drive_name} says {postfix.engine.cylinders}; check that both drives are of "
            "the same car.",
        )
    if baseline.is_flattened != postfix.is_flattened:
        with_it, without = sorted((baseline, postfix), key=lambda each: not each.is_flattened)
        yield Doubt(
            code="response_differs",
            message=f"The microphone's response was taken out of {with_it.drive_name} but not of "
            f"{without.drive_name}, so their levels differ by that response. Give "
            "--microphone-response for both drives or for neither.",
        )


def _gain(baseline: Findings, change: SetupChange) -> Iterator[Doubt]:
    if abs(change.background_db) > BACKGROUND_TOLERANCE_DB or change.gain is not None:
        yield Doubt(code="gain_or_place_differs", message=_gain_message(change))
    elif baseline.bands and np.isnan(change.reference_db) and np.isfinite(change.background_db):
        yield Doubt(
            code="gain_not_checked",
            message="No order far from the drones is clear in both drives, so a difference in "
            f"recording gain of up to about {BACKGROUND_TOLERANCE_DB:.0f} dB would go unnoticed. "
            "Levels are as recorded.",
        )


def _gain_message(change: SetupChange) -> str:
    gain = taken_off(change.gain)
    seen = f"From baseline to post-fix {' and '.join(_seen(change))}"
    if gain is None:
        return (
            f"{seen}: recording gain, microphone place, windows or road may differ. "
            f"{_AGAIN.capitalize()} the same road again."
        )
    return (
        f"{seen}: recording gain or microphone place differs. {gain.gain_db:+.1f} dB was taken off "
        f"all levels of the post-fix drive, right to within {gain.arm_db:.1f} dB (95 %). To be "
        f"surer, {_AGAIN} again."
    )


def _seen(change: SetupChange) -> Iterator[str]:
    if np.isfinite(change.background_db):
        yield f"the noise between the orders changed by {change.background_db:+.1f} dB"
    if np.isfinite(change.reference_db):
        yield (
            "orders far from any drone, which a branch leaves alone, changed by "
            f"{change.reference_db:+.1f} dB"
        )
    if np.isfinite(change.overall_db):
        yield f"the level changed by {change.overall_db:+.1f} dB at all engine speeds alike"
