"""Two drives made comparable: one kind of level, one scale, one gain as far as they tell."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

from analysis.common_scale import amplified
from analysis.findings import Findings
from analysis.levels_of_sound import of_one_kind
from analysis.same_setup import SetupChange, refuse_unlike, setup_change
from analysis.shared_terms import in_shared_terms
from analysis.verdicts import GainChange


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivePair:
    """A baseline and a post-fix drive that may be laid side by side.

    Attributes
    ----------
    heard : the baseline as it was found, before anything was made alike
    baseline, postfix : both drives; a change of gain that they agree on is off the second
    setup : what changed that no exhaust work should change
    is_mixed : whether one of them holds only levels
    """

    heard: Findings
    baseline: Findings
    postfix: Findings
    setup: SetupChange
    is_mixed: bool

    @property
    def suspected_gain(self) -> GainChange | None:
        """What gain or microphone place may have done to the levels."""
        gain = self.setup.gain
        return None if gain is None or gain.is_taken_off else gain

    @property
    def gain_sd_db(self) -> float:
        """Standard uncertainty of the gain that was taken off; 0 for none."""
        gain = self.setup.gain
        return gain.sd_db if gain is not None and gain.is_taken_off else 0.0

    @property
    def is_withheld(self) -> bool:
        """Whether either drive gives no result."""
        return self.baseline.withheld is not None or self.postfix.withheld is not None


def drive_pair(baseline: Findings, postfix: Findings) -> DrivePair:
    """Make two drives comparable.

    Raises
    ------
    DriveError
        Their levels do not mean the same.
    """
    heard, is_mixed = baseline, baseline.levels_only != postfix.levels_only
    baseline, postfix = of_one_kind(baseline, postfix)
    refuse_unlike(baseline, postfix)
    baseline, postfix = in_shared_terms(baseline, postfix)
    setup = setup_change(baseline, postfix)
    if setup.gain is not None and setup.gain.is_taken_off:
        postfix = amplified(postfix, -setup.gain.gain_db)
    return DrivePair(
        heard=heard, baseline=baseline, postfix=postfix, setup=setup, is_mixed=is_mixed
    )
