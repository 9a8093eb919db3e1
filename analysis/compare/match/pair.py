"""Two drives made comparable: one kind of level, one scale, one gain as far as they tell."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

from analysis.compare.match.common_scale import amplified
from analysis.compare.match.levels_of_sound import of_one_kind
from analysis.compare.match.same_setup import SetupChange, refuse_unlike, setup_change
from analysis.compare.match.shared_terms import in_shared_terms
from analysis.findings import Findings
from analysis.verdicts import GainChange, suspected, taken_off


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
        return suspected(self.setup.gain)

    @property
    def gain_sd_db(self) -> float:
        """Standard uncertainty of the gain that was taken off; 0 for none."""
        gain = taken_off(self.setup.gain)
        return 0.0 if gain is None else gain.sd_db

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
    gain = taken_off(setup.gain)
    if gain is not None:
        postfix = amplified(postfix, -gain.gain_db)
    return DrivePair(
        heard=heard, baseline=baseline, postfix=postfix, setup=setup, is_mixed=is_mixed
    )
