"""The section on what to build: branches, where they go, and what an error costs."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

from analysis.branches import Branch, Sensitivity, Sizing
from analysis.build.drawing.elevation import draw_elevation
from analysis.build.drawing.pen import Area, Pen
from analysis.build.drawing.svg import as_svg
from analysis.build.workshop.plan import AS_USUAL, BranchPlan, BuildWishes, plan_build
from analysis.errors import SizingError
from analysis.findings import DroneBand, Findings, LockedTo
from analysis.report.blocks import (
    Block,
    Bullets,
    Drawing,
    Heading,
    Note,
    Section,
    Table,
    Text,
    Tone,
)
from analysis.report.contents import ReportContents
from analysis.report.sized.build_card import card_table
from analysis.report.sized.figure_cure import level_chart, loss_chart
from analysis.report.sized.figure_line import line_charts
from analysis.size.advice import label_of, no_room
from analysis.words import quantities as words
from analysis.words.foretold import foretold_all
from analysis.words.found import may_hide_a_drone
from analysis.words.lengths import diameter, length, longer_by, rough_length, saw_length
from analysis.words.places import places_along, thumb_odds
from analysis.words.sentences import listed, sentence
from analysis.words.shown import either

_PER_10_K_IN_F = 18  # by definition
# judgement: layout. Narrow, so that its words can be read on a phone: 9 pt of 326 pt across.
_PICTURE = Area(left=0.0, bottom=0.0, right=115.0, top=150.0)
_LYING = replace(_PICTURE, top=108.0)  # of a bent branch, which lies along the pipe
_LEAST_LOSS_DB = 0.1  # judgement: below it nothing is heard or worth a digit
_CAUTIONS_FIRST = "Read the cautions, the last section of this page, before you go under the car."
_ZERO_LINE = (
    "Lengths run along the middle of the branch, from the inside of the pipe's wall where the "
    "branch stands (the zero line in the drawing) to the end that the cap closes. Measured from "
    "the middle of the pipe instead, they come out 2 to 4 % wrong."
)
_WIDER = (
    " A sleeve is wider than its tube, so it is pulled out a little less than what it adds to the "
    "length that the branch sounds like."
)
_SLIDES = (
    "Make the cap slide: a snug sleeve with two clamps, long enough for the cap to stand "
    "anywhere from the tube's end to the dashed line in the drawing. The gas temperature in the "
    "branch is the least certain number on this page, and the slide makes up for it.",
    "Cut the hole to the branch's inner diameter, clear of seams. Nothing may stick into the pipe.",
    "Set the sleeve as the table says, warm the car for 15 minutes, log the same drive again and "
    "compare it with this one: that tells whether it worked, and how far to pull the sleeve out or "
    "push it in. Where it cannot tell, slide the cap 10 mm (3/8 in), drive again, and keep going "
    "in the direction that helps.",
    "Weld the cap only once a drive has shown that it works.",
)
_FIXED = (
    "The gas temperature is known well enough for a fixed cap: cut the tube to the length in the "
    "table and weld a disc on its end.",
    _SLIDES[1],
    "Warm the car for 15 minutes, log the same drive again and compare it with this one: "
    "that tells whether it worked, and what to trim.",
)


def recommendation_section(contents: ReportContents) -> Section:
    """Say what to build, or why nothing."""
    sizing = contents.sizing
    blocks = (
        _nothing(contents.findings)
        if sizing is None
        else build_blocks(sizing, contents.sized_band, contents.wishes)
    )
    return Section(name="build", title="What to build", blocks=tuple(blocks))


def advice_section(contents: ReportContents) -> Section | None:
    """Say what the first of two drives called for, to look up; None when nothing was sized."""
    sizing = contents.sizing
    if sizing is None:
        return None
    was_built = listed([length(branch.length_m) for branch in contents.built])
    blocks: list[Block] = [
        Text(
            text="This is what the baseline alone called for, to compare with what was built"
            f"{f' ({was_built})' if was_built else ''}. How to make it is on the page of the "
            "baseline alone."
        ),
        branch_table(sizing, contents.wishes),
        branch_picture(sizing, contents.wishes),
        Text(text=_datum(sizing)),
    ]
    blocks += _predicted(sizing)
    return Section(name="build", title="What the baseline called for", blocks=tuple(blocks))


def _nothing(findings: Findings) -> list[Block]:
    if not findings.bands:
        unsure = may_hide_a_drone(findings)
        again = "Nothing yet: drive again."
        return [Text(text=again if unsure else "Nothing: there is no drone to cure.")]
    if all(b.locked_to is LockedTo.ROAD for b in findings.bands):
        return [
            Text(
                text="No branch: what was found follows road speed. Check tyre wear and "
                "pressure, wheel balance and bearings, propeller shaft angles and mounts."
            )
        ]
    return [
        Text(
            text="No branch has been sized yet. That takes the pipe's inner diameter and the "
            "temperature of its gas, from a car file:"
        ),
        Bullets(
            items=(
                "write the car file (pipenote car asks for it, question by question);",
                "run: pipenote report SESSION --car car.toml --out report.html",
            ),
            numbered=True,
        ),
    ]


def build_blocks(
    sizing: Sizing, band: DroneBand | None, wishes: BuildWishes = AS_USUAL
) -> list[Block]:
    """Say what to build; ``band`` is what was found of its drone, None without a drive."""
    blocks: list[Block] = []
    if (misfit := no_room(sizing)) is not None:
        blocks.append(Note(label=label_of(misfit), text=sentence(misfit.message), tone=Tone.CARE))
    if band is not None and band.locked_to is LockedTo.UNKNOWN:
        blocks.append(
            Note(
                label="Before you cut",
                text="This drive cannot tell engine from road. If the drone follows road speed, no "
                "branch will help: What makes it says what to drive first.",
                tone=Tone.CARE,
            )
        )
    blocks += [Text(text=_CAUTIONS_FIRST), branch_table(sizing, wishes)]
    if (why := _why_beside(sizing)) is not None:
        blocks.append(Text(text=why))
    blocks += [
        branch_picture(sizing, wishes),
        Text(text=_datum(sizing)),
        Bullets(items=_SLIDES if _slides(sizing) else _FIXED, numbered=True),
    ]
    blocks += [Heading(text="Where it goes"), Bullets(items=_place(sizing))]
    blocks += line_charts(sizing)
    told = (d for d in sizing.doubts if d is not misfit)
    for heading, each in (("Look out for", told), ("When you build", sizing.advice)):
        if said := tuple(sentence(doubt.message) for doubt in each):
            blocks += [Heading(text=heading), Bullets(items=said)]
    blocks += [loss_chart(sizing), *_predicted(sizing)]
    blocks += [Heading(text="What an error costs"), sensitivity_table(sizing.sensitivity)]
    return [*blocks, Heading(text="Compared with the hand method"), *_hand_method(sizing)]


def _datum(sizing: Sizing) -> str:
    return _ZERO_LINE + (_WIDER if _slides(sizing) else "")


def _slides(sizing: Sizing) -> bool:
    return any(branch.slide_m is not None for branch in sizing.branches)


def _why_beside(sizing: Sizing) -> str | None:
    """Explain two tunes of which neither is that of the only drone."""
    tunes_hz = [branch.tuned_hz for branch in sizing.branches]
    if sizing.others or len(tunes_hz) < 2:
        return None
    if not min(tunes_hz) < sizing.target.peak_hz < max(tunes_hz):
        return None
    return (
        f"One is tuned below the drone's {words.hertz(sizing.target.peak_hz)} and one above it, on "
        "purpose: together they still cover it when the gas is colder or hotter than expected."
    )


def branch_picture(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> Drawing | Text:
    """Draw every branch, or say why one cannot be made as it was sized."""
    try:
        plans = plan_build(sizing, wishes).branches
    except SizingError as error:
        return Text(text=f"There is no picture of it: {error}.")
    return Drawing(
        name="drawing",
        title="Pipe and branch, cut lengthwise",
        summary="Drawn to proportion; work to the figures, not the picture.",
        svgs=tuple(_draw(plan, several=len(plans) > 1) for plan in plans),
    )


def _draw(plan: BranchPlan, *, several: bool) -> str:
    branch = plan.branch
    notes = (
        f"{f'Branch {plan.number}: tube' if several else 'Tube'} {branch.tube.name}",
        f"Hole in the pipe {diameter(branch.tube.inner_diameter_m)}",
    )
    pen = Pen()
    area = _LYING if plan.fold.turn_rad and plan.can is None else _PICTURE
    draw_elevation(pen, plan, area, notes=notes)
    label = f"Branch {plan.number}, {length(branch.length_m)} from the zero line to the cap"
    return as_svg(pen.group, area, label)


def _sounds_like(sizing: Sizing) -> str:
    """Name the row of lengths for the ear: bends and caps make them others than those to build."""
    canned = any(branch.can for branch in sizing.branches)
    return f"Sounds like {'a neck and can' if canned else 'straight tube'} of"


def branch_table(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> Table:
    """Give what the card says, and how each branch is tuned: a column for each."""
    branches, card = sizing.branches, card_table(sizing, wishes)
    covers = (f"{b.covers_low_hz:.1f} to {b.covers_high_hz:.1f} Hz" for b in branches)
    rows = [
        *card.rows,
        (_sounds_like(sizing), *(length(b.length_m) for b in branches)),
        ("If the gas is coldest", *(_end(b, b.shortest_m) for b in branches)),
        ("If the gas is hottest", *(_end(b, b.longest_m) for b in branches)),
        ("Tuned to", *(f"{b.tuned_hz:.1f} Hz" for b in branches)),
        ("With gas at", *(words.temperature_both(b.gas_temperature_k) for b in branches)),
        ("Takes off 10 dB from", *covers),
        ("Takes off at most", *(words.decibel(b.peak_loss_db) for b in branches)),
    ]
    if _slides(sizing):
        out = (length(b.slide_m.high) if b.slide_m is not None else "fixed" for b in branches)
        rows.insert(len(card.rows) + 1, ("The same, cap pulled out", *out))
    bores_m = [b.pipe_inner_diameter_m or sizing.pipe_inner_diameter_m for b in branches]
    if len(set(bores_m)) > 1:
        rows.append(("Pipe's inner diameter", *map(diameter, bores_m)))
    if sizing.spacing_m is not None:
        rows.append(("Apart", length(sizing.spacing_m), *[""] * (len(branches) - 1)))
    bore = diameter(sizing.pipe_inner_diameter_m)
    caption = f"{card.caption}, for a main pipe of {bore} inner diameter"
    return replace(card, caption=caption, rows=tuple(rows))


def sensitivity_table(cost: Sensitivity) -> Table:
    """One unit of error: shift of the tuning, and the loss it gives up."""
    return Table(
        caption="Shift of the tuning of branch 1, and the cost at the worse edge of the drone",
        head=("Error", "Shift per unit", "Cost of a likely error"),
        rows=(
            (
                "Gas temperature",
                either(
                    f"{words.number(cost.hz_per_kelvin, 2)} Hz per °C",
                    f"{words.number(cost.hz_per_kelvin / 1.8, 2)} Hz per °F",
                ),
                f"{_lost(cost.loss_db_per_10_kelvin)} for 10 °C ({_PER_10_K_IN_F} °F)",
            ),
            (
                "Length",
                either(
                    f"{words.number(cost.hz_per_mm, 2)} Hz per mm",
                    f"{words.number(cost.hz_per_mm * 25.4 / 8.0, 2)} Hz per 1/8 in",
                ),
                f"{_lost(cost.loss_db_per_10_mm)} for 10 mm (3/8 in)",
            ),
            (
                "Engine speed",
                f"{words.number(cost.hz_per_rpm, 3)} Hz per rpm",
                f"{_lost(cost.loss_db_per_20_rpm)} for 20 rpm",
            ),
        ),
    )


def _lost(loss_db: float) -> str:
    """Write a loss given up; two branches can even it out to nothing or less."""
    return words.decibel(loss_db, 1) if loss_db >= _LEAST_LOSS_DB else "under 0.1 dB"


def _place(sizing: Sizing) -> tuple[str, ...]:
    branches = sizing.branches
    keep_clear = (
        "After the last catalyst, clear of oxygen sensors, lines, tank and anything that heat "
        "harms, with the cap up or with a drain hole."
    )
    if all(b.position_m is not None for b in branches):
        where = places_along([(length(b.position_m or 0.0), b.legs) for b in branches])
        pipe = "pipes" if any(b.legs for b in branches) else "pipe"
        return (
            f"On your {pipe}: {where}, along the centreline. Elsewhere the same branch may do "
            "little, or make other engine speeds louder.",
            *sizing.gains,
            keep_clear,
        )
    rule = "The places were not worked out."
    if (thumb := sizing.by_thumb) is not None:
        rule = (
            "The places were not worked out. By rule of thumb a branch goes a quarter wavelength, "
            f"{rough_length(thumb.quarter_m)}, upstream of where the last large muffler begins, "
            f"and a second one as far again. {sentence(thumb_odds(thumb))}"
        )
    items = [
        rule,
        "Describe the exhaust in a car file and size again: then the places are worked out, and "
        "how likely a cure is.",
        keep_clear,
    ]
    if sizing.spacing_m is not None:
        items.append(
            f"Keep the two branches {length(sizing.spacing_m)} apart along the pipe: two "
            "different branches at one place cancel each other between their tunes."
        )
    return tuple(items)


def _predicted(sizing: Sizing) -> list[Block]:
    gas_k = sizing.gas_temperature_k
    cases = (
        f"branch gas of {words.temperature_both(gas_k.low)} to {words.temperature_both(gas_k.high)}"
    )
    if sizing.line is not None:
        cases = "all that the car file and the drive leave open"
    levels = level_chart(sizing)
    text = (
        f"The drone's highest level should get {foretold_all(sizing)}. The range holds "
        f"{cases}. Gas rushing past the mouth makes the deepest values shallower, so trust the "
        "width more than the depth."
    )
    return [*([] if levels is None else [levels]), Text(text=text)]


def _hand_method(sizing: Sizing) -> list[Block]:
    hand = sizing.hand_method
    lengths = listed([length(b.length_m) for b in sizing.branches])
    tunes = listed([f"{b.tuned_hz:.1f} Hz" for b in sizing.branches])
    return [
        Table(
            caption="A quarter wavelength in cold air, worked out by hand, against this page",
            head=("", "By hand", "This page"),
            rows=(
                ("Length", length(hand.length_m), lengths),
                ("Would really tune to", f"{hand.really_tunes_hz:.1f} Hz", tunes),
                (
                    "Change of the drone",
                    words.change(hand.level_change_db),
                    words.change(sizing.predicted.level_change_db),
                ),
            ),
        ),
        Text(
            text=f"The hand method takes sound at {hand.speed_of_sound_m_s:.1f} m/s "
            f"({hand.speed_of_sound_m_s / 0.3048:,.0f} ft/s), as in cold air, and corrects for "
            "neither the junction nor the walls. In hot gas that branch would tune to between "
            f"{words.hertz(hand.really_tunes_hz_range.low)} and "
            f"{words.hertz(hand.really_tunes_hz_range.high)}, with the drone at "
            f"{words.hertz(sizing.target.peak_hz)}."
        ),
    ]


def _end(branch: Branch, length_m: float) -> str:
    return f"{saw_length(length_m)}, {longer_by(length_m - branch.length_m)}"
