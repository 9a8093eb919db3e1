"""Everything the microphone heard, before and after: over engine speed, at idle and in cruise."""
# SPDX-License-Identifier: GPL-2.0-or-later

from html import escape

from analysis.findings import Weighting
from analysis.report.blocks import Block, Chart, Heading, Table, Text
from analysis.report.compared.figure_compare import add_before_after
from analysis.report.figure_style import new_figure, shade_band
from analysis.verdicts import Comparison, OverallBeforeAfter
from analysis.words import quantities as words

_NAMES = {Weighting.Z: "unweighted", Weighting.C: "C-weighted", Weighting.A: "A-weighted"}
_HEIGHT_PX = 340  # judgement: layout, moves no answer
_PARTS_MEAN = (
    "Idle: steady below 1,100 rpm, in no gear as far as road speed tells. Cruise: within 3 % of an "
    "engine speed that either drive held for 5 s. Whole drive: every engine speed that both drives "
    "hold, each counting once. Wind and road noise are in these levels; the interval allows for "
    "1 dB (standard deviation) from day to day, which is assumed."
)


def whole_drive_blocks(comparison: Comparison) -> list[Block]:
    """Charts and a table of the overall level; nothing when the drives share none."""
    if not comparison.parts:
        return []
    shown = _shown(comparison)
    rows = tuple(
        (
            f"{each.part.value.capitalize()}, {_NAMES[each.weighting]}",
            f"{words.number(each.low_rpm)} to {words.rpm(each.high_rpm)}",
            f"{words.number(each.before_db, 1)} to {words.decibel(each.after_db, 1)}",
            words.change(each.change_db),
            f"{words.change(each.ci95_db.low)} to {words.change(each.ci95_db.high)}",
        )
        for each in comparison.parts
        if each.weighting in shown
    )
    head = ("Part of the drive", "Engine speed", "Level", "Change", "95 % interval")
    return [
        Heading(text="The whole drive"),
        *(_chart(curve, comparison) for curve in comparison.overall if curve.weighting in shown),
        Table(
            caption="Overall level, all sounds together, baseline to post-fix", head=head, rows=rows
        ),
        Text(text=_PARTS_MEAN, for_engineers=True),
    ]


def _shown(comparison: Comparison) -> set[Weighting]:
    """Unweighted and A, which differ most; or what there is."""
    known = {curve.weighting for curve in comparison.overall}
    return known - {Weighting.C} or known


def _chart(curve: OverallBeforeAfter, comparison: Comparison) -> Chart:
    name, unit = _NAMES[curve.weighting], escape(comparison.level_unit)
    figure = new_figure("Engine speed (rpm)", f"Overall level ({unit})", height_px=_HEIGHT_PX)
    for change in comparison.changes[:1]:
        shade_band(figure, change.band)
    add_before_after(figure, curve, unit)
    change_db = curve.after_db - curve.before_db
    best, worst = int(change_db.argmin()), int(change_db.argmax())
    return Chart(
        name=f"compare-overall-{curve.weighting.value.lower()}",
        title=f"Everything the microphone heard, {name}, baseline and post-fix",
        summary=f"Solid: baseline. Dashed: post-fix. From {words.rpm(curve.rpm.min())} to "
        f"{words.rpm(curve.rpm.max())}. The change runs from {words.change(change_db[best])} at "
        f"{words.rpm(curve.rpm[best])} to {words.change(change_db[worst])} at "
        f"{words.rpm(curve.rpm[worst])}.",
        figure=figure,
    )
