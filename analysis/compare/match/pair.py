"""Two drives made comparable: one kind of level, one scale, one gain as far as they tell."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass, replace

from analysis.compare.match.highest import highest_changes_db
from analysis.compare.match.level_change import (
    DAY_SPREAD_DB,
    OVERALL_DAY_SPREAD_DB,
    LevelChange,
    change_in_bins,
)
from analysis.compare.match.levels_of_sound import of_one_kind
from analysis.compare.match.one_car import not_before_and_after, other_gearing
from analysis.compare.match.same_setup import SetupChange, setup_change
from analysis.compare.match.shared_terms import amplified, in_shared_terms
from analysis.compare.match.weather import NO_WEATHER, weather_between
from analysis.errors import DriveError
from analysis.find.curves.pass_table import bins_within
from analysis.findings import Doubt, DroneBand, Findings
from analysis.verdicts import GainChange, suspected, taken_off


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivePair:
    """A baseline and a post-fix drive that may be laid side by side.

    Attributes
    ----------
    heard : the baseline as it was found, before it was matched to the post-fix drive
    baseline, postfix : both drives; a gain that the orders agree on is taken off the post-fix drive
    setup : what changed that no work on the exhaust should change
    is_mixed : whether one of them holds only levels
    unlike : why they are no drives of one car before and after; None where they are
    geared_off : how much faster the engine turns at one road speed after; None for alike
    """

    heard: Findings
    baseline: Findings
    postfix: Findings
    setup: SetupChange
    is_mixed: bool
    unlike: Doubt | None
    geared_off: float | None

    @property
    def suspected_gain(self) -> GainChange | None:
        """The change of gain or microphone place that the levels may hold."""
        return suspected(self.setup.gain)

    @property
    def gain_sd_db(self) -> float:
        """Standard uncertainty of the gain that was taken off; 0 where none was."""
        gain = taken_off(self.setup.gain)
        return 0.0 if gain is None else gain.sd_db

    @property
    def is_withheld(self) -> bool:
        """Whether the two give no result."""
        if self.unlike is not None:
            return True
        return self.baseline.no_levels is not None or self.postfix.no_levels is not None

    def change_in(self, band: DroneBand) -> LevelChange:
        """Change of a band's order over its half-power width."""
        before = self.baseline.curve(band.engine_order)
        after = self.postfix.curve(band.engine_order)
        day_db = OVERALL_DAY_SPREAD_DB if self.postfix.levels_only else DAY_SPREAD_DB
        weather = NO_WEATHER
        if not self.postfix.levels_only:  # wind and road are no resonance
            weather = weather_between(before, after, band)
        between_db = math.hypot(day_db, self.gain_sd_db)
        bins = bins_within(band.low_rpm, band.high_rpm)
        change = change_in_bins(before, after, bins, between_drives_db=between_db)
        of_order = [b.peak_rpm for b in self.baseline.bands if b.engine_order == band.engine_order]
        highest_db, elsewhere_db = highest_changes_db(before, after, band.peak_rpm, of_order)
        changed = weather.on(change)
        return replace(changed, highest_change_db=highest_db, elsewhere_change_db=elsewhere_db)


def drive_pair(baseline: Findings, postfix: Findings) -> DrivePair:
    """Make two drives comparable.

    Raises
    ------
    DriveError
        Their levels have different units, so they do not mean the same.
    """
    heard, is_mixed = baseline, baseline.levels_only != postfix.levels_only
    baseline, postfix = of_one_kind(baseline, postfix)
    if baseline.level_unit != postfix.level_unit:
        raise DriveError(
            f"levels of {baseline.drive_name} are in {baseline.level_unit}, those of "
            f"{postfix.drive_name} in {postfix.level_unit}; calibrate both drives or neither, "
            "and weight both alike"
        )
    # before terms are shared: afterwards both have the same gears and the same scale
    unlike, geared_off = not_before_and_after(baseline, postfix), other_gearing(baseline, postfix)
    baseline, postfix = in_shared_terms(baseline, postfix)
    # in shared terms: gain is read where gear and load are alike
    setup = setup_change(baseline, postfix)
    gain = taken_off(setup.gain)
    if gain is not None:
        postfix = amplified(postfix, -gain.gain_db)
    return DrivePair(
        heard=heard,
        baseline=baseline,
        postfix=postfix,
        setup=setup,
        is_mixed=is_mixed,
        unlike=unlike,
        geared_off=geared_off,
    )
