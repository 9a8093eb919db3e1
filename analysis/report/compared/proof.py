"""The section on the drive after the change: did it work, and what to trim."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from html import escape

from analysis.compare.trim.gas_found import car_file_lines, gas_found
from analysis.drive import Engine
from analysis.findings import Weighting
from analysis.report.blocks import (
    Block,
    Bullets,
    Chart,
    Heading,
    Lines,
    Note,
    Section,
    Table,
    Text,
    Tone,
)
from analysis.report.compared.figure_compare import (
    add_before_after,
    change_chart,
    other_order_charts,
)
from analysis.report.compared.outcome import interval_cell
from analysis.report.contents import ReportContents
from analysis.report.figure_style import new_figure, shade_band
from analysis.verdicts import BandChange, Comparison, OverallBeforeAfter, Verdict
from analysis.words import quantities as words
from analysis.words.matching import left_out_words, matched_words, whistle_words
from analysis.words.sentences import sentence
from analysis.words.trim import addition_words, told_with_built, trim_words, trims_words

_WEIGHTED = {Weighting.Z: "unweighted", Weighting.C: "C-weighted", Weighting.A: "A-weighted"}
_OVERALL_PX = 340  # judgement: layout, moves no answer
_PARTS_MEAN = (
    "Idle: steady below 1,100 rpm, in no gear as far as road speed tells. Cruise: within 3 % of an "
    "engine speed that either drive held for 5 s. Whole drive: every engine speed that both drives "
    "hold, each counting once. Wind and road noise are in these levels; the interval allows for "
    "1 dB (standard deviation) from day to day, which is assumed."
)
_FOR_THE_CAR_FILE = (
    "Where the branch works shows how hot its gas is. If the length given is the one built, put "
    "this into the car file, or let pipenote compare --write-car do it, and the next branch is "
    "sized for that gas. The range is wider than the one found, as it allows for another day and "
    "another branch:"
)


def proof_section(contents: ReportContents) -> Section | None:
    """Did it work? None without a post-fix drive."""
    comparison = contents.comparison
    if comparison is None:
        return None
    engine = contents.findings.engine
    shared = "They share nothing that could be compared."
    if comparison.matching is not None:
        shared = f"They are compared {matched_words(comparison.matching)}."
    blocks: list[Block] = [
        Text(
            text=f"Baseline: {comparison.baseline_name}. Post-fix: "
            f"{comparison.postfix_name}. {shared}"
        ),
        *_could_show(comparison, engine),
    ]
    blocks += _verdicts(comparison, engine)
    blocks += other_order_charts(contents, comparison)
    blocks += whole_drive_blocks(comparison)
    blocks += _left_out(comparison)
    blocks += _new_bands(comparison, engine)
    blocks += [
        Note(label="A new tone", text=sentence(whistle_words(each)), tone=Tone.CARE)
        for each in comparison.whistles
    ]
    blocks += _trims(comparison)
    blocks += [
        Note(label="Take care", text=sentence(w.message), tone=Tone.CARE)
        for w in comparison.warnings
    ]
    return Section(name="proof", title="The evidence", blocks=tuple(blocks))


def whole_drive_blocks(comparison: Comparison) -> list[Block]:
    """Charts and a table of the overall level; nothing when the drives share none."""
    if not comparison.parts:
        return []
    known = {curve.weighting for curve in comparison.overall}
    shown = known - {Weighting.C} or known  # unweighted and A differ most
    rows = tuple(
        (
            f"{each.part.value.capitalize()}, {_WEIGHTED[each.weighting]}",
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
        *(_overall_chart(c, comparison) for c in comparison.overall if c.weighting in shown),
        Table(
            caption="Overall level, all sounds together, baseline to post-fix", head=head, rows=rows
        ),
        Text(text=_PARTS_MEAN, for_engineers=True),
    ]


def _overall_chart(curve: OverallBeforeAfter, comparison: Comparison) -> Chart:
    name, unit = _WEIGHTED[curve.weighting], escape(words.level_read(comparison.level_unit))
    axis = escape(words.level_axis(comparison.level_unit))
    figure = new_figure("Engine speed (rpm)", f"Overall level ({axis})", height_px=_OVERALL_PX)
    for change in comparison.changes[:1]:
        shade_band(figure, change.band)
    add_before_after(figure, curve, unit)
    change_db = curve.after_db - curve.before_db
    best, worst = int(change_db.argmin()), int(change_db.argmax())
    return Chart(
        name=f"compare-overall-{curve.weighting.value.lower()}",
        title=f"Everything the microphone heard, {name}, before and after",
        summary=f"Solid: before. Dashed: after. From {words.rpm(curve.rpm.min())} to "
        f"{words.rpm(curve.rpm.max())}. The change runs from {words.change(change_db[best])} at "
        f"{words.rpm(curve.rpm[best])} to {words.change(change_db[worst])} at "
        f"{words.rpm(curve.rpm[worst])}.",
        figure=figure,
    )


def _left_out(comparison: Comparison) -> list[Block]:
    left_out = () if comparison.matching is None else comparison.matching.left_out
    told = tuple(map(sentence, filter(None, map(left_out_words, left_out))))
    heading = "Left out, because the other drive has nothing like it"
    return [Heading(text=heading), Bullets(items=told)] if told else []


def _could_show(comparison: Comparison, engine: Engine | None) -> list[Block]:
    """Say how small a change would have been seen, before any verdict."""
    if not comparison.changes:
        return []

    def least(change: BandChange) -> str:
        if not math.isfinite(change.smallest_change_db):
            return "none; why is in the table below"
        return f"{words.decibel(change.smallest_change_db, 1)} or more"

    items = tuple(f"{_name(c, engine)}: {least(c)}" for c in comparison.changes)
    return [
        Text(
            text="The smallest change that two drives like these can show. If nothing had changed, "
            "95 of 100 such pairs would differ by less:"
        ),
        Bullets(items=items),
    ]


def _verdicts(comparison: Comparison, engine: Engine | None) -> list[Block]:
    if not comparison.changes:
        return [Text(text="The baseline had no drone to compare.")]
    rows = tuple(
        (
            _name(c, engine),
            c.verdict.value,
            words.change(c.level_change_db),
            interval_cell(c),
            sentence(c.why),
        )
        for c in comparison.changes
    )
    head = ("Drone", "Verdict", "Change", "95 % interval", "Why")
    blocks: list[Block] = [Table(caption="Verdict for each drone", head=head, rows=rows)]
    chart = change_chart(comparison)
    return blocks if chart is None else [*blocks, chart]


def _name(change: BandChange, engine: Engine | None) -> str:
    """Name a band: 'Order 3 (firing), 112 Hz'."""
    order = words.order_name(change.band.engine_order, engine)
    return sentence(f"{order}, {words.hertz(change.band.peak_hz)}")[:-1]


def _new_bands(comparison: Comparison, engine: Engine | None) -> list[Block]:
    if not comparison.new_bands:
        of_levels = "Levels cannot tell whether the post-fix drive has a new drone."
        heard = "The post-fix drive has no new drone."
        return [Text(text=of_levels if comparison.is_of_levels else heard)]
    items = tuple(
        sentence(
            f"{words.order_name(b.engine_order, engine)} at {words.rpm(b.peak_rpm)}, "
            f"{words.hertz(b.peak_hz)}, {words.decibel(b.rise_db)} above what is beside it"
        )
        for b in comparison.new_bands
    )
    return [
        Heading(text="New in the post-fix drive"),
        Bullets(items=items),
    ]


def _trims(comparison: Comparison) -> list[Block]:
    trims, together = comparison.trims, trims_words(comparison)
    if not trims:
        return []
    car_file: list[Block] = []
    if (gas_k := gas_found(comparison)) is not None:
        lines = Lines(text=car_file_lines(gas_k))
        car_file = [Heading(text="For the car file"), Text(text=_FOR_THE_CAR_FILE), lines]
    verdicts = {change.verdict for change in comparison.changes}
    add = comparison.addition
    adds = add is not None and add.outlook.is_worth_it
    added = [Text(text=sentence(addition_words(add)))] if add is not None and adds else []
    if verdicts == {Verdict.CANNOT_TELL}:
        last = "Cut nothing on the strength of this until a drive has shown whether it worked."
    elif adds:
        last = "A second branch is worth its weld here: no cap alone would do."
    elif not any(trim.is_worth_it for trim in trims):
        cured = verdicts == {Verdict.CURED}
        last = "The drone is gone" if cured else "Each works where it should"
        last = f"{last}, so there is nothing to trim."
    else:
        told = told_with_built(trims)
        then = f" Tell the next comparison where the sleeve stands then: {told}." if told else ""
        last = f"Then drive again, and weld only when the drone is gone.{then}"
    return [
        Heading(text="The branch at work"),
        Bullets(items=tuple(sentence(trim_words(trim)) for trim in trims)),
        *([Text(text=sentence(together))] if together else []),
        *added,
        Text(text=last),
        *car_file,
    ]
