"""The shopping list: everything for all branches on all pipes, on one sheet."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import Counter
from collections.abc import Iterator

from analysis.branches import Tube
from analysis.build.drawing.pen import Area, Pen
from analysis.build.drawing.sketch import drawn_sketches
from analysis.build.sheets.book import Sheet
from analysis.build.sheets.table import draw_table
from analysis.build.workshop.can_plan import DISC_STEEL
from analysis.build.workshop.plan import BuildPlan
from analysis.build.workshop.shopping import FOOT_M, Disc, Shopping, TubeToBuy, shopping
from analysis.build.workshop.stock_parts import saw_names
from analysis.exhaust.tube_stock import SLIDES_M, gauge_of, slides_over
from analysis.words.lengths import (
    both,
    caliper,
    caliper_range,
    degrees,
    length,
    millimetres,
    saw_length,
    tube_size,
)
from analysis.words.plans import kept_words
from analysis.words.sentences import listed, sentence
from analysis.words.shown import either

# judgement: layout, moves no answer.
_WIDTHS_MM = (32.0, 62.0)
_SIZE_PT = 9.0
_STRAP = "strap or rod, from the pipe to near the branch's end"
_FOR = {1: "For the one branch.", 2: "For both branches together."}
_NOTES = (
    "Welding wire, gas, paint and what protects you are left out. Lengths include 5 mm "
    "(3/16 in) for each saw cut; the pieces are those of the cut lists, saddles still to be cut.",
    "In what lengths a shop sells tube differs: ask, and keep to the pieces. Measure the outside "
    "and the wall of what you buy. If they differ from these, give them to pipenote "
    "and print again, for every length depends on them.",
)


def shopping_sheet(build: BuildPlan) -> Sheet:
    """One page for the whole job."""
    made = shopping(build)
    count = sum(plan.branch.welds for plan in build.branches)

    def draw(pen: Pen, area: Area) -> None:
        widths = (*_WIDTHS_MM, area.width - sum(_WIDTHS_MM))
        y = draw_table(pen, area.left, area.top - 1.0, widths, _rows(build, made), headed=True) - 3
        for note in _NOTES:
            y = pen.paragraph(area.left, y, area.width, note, _SIZE_PT) - 1.0
        _draw_where(pen, area.left, y - 6.0, area.width, build)

    return Sheet(
        title="Shopping list",
        about=_FOR.get(count, f"For all {count} branches together."),
        draw=draw,
    )


def _draw_where(pen: Pen, left: float, top: float, width: float, build: BuildPlan) -> None:
    """Draw all branches on their pipes, below the list, and say which place is kept."""
    drawn = drawn_sketches(build.sizing)
    if drawn:
        pen.text(left, top, "Where it goes, to scale", 11.0, bold=True)
    if (kept := kept_words(build.sizing)) is not None:
        top = pen.paragraph(left, top - 1.5, width, sentence(kept), _SIZE_PT)
    for each in drawn:
        top -= each.area.height + 4.0
        with pen.moved(left - each.area.left, top - each.area.bottom):
            pen.group.add(each.pen.group)


def _rows(build: BuildPlan, made: Shopping) -> list[tuple[str, str, str]]:
    return [
        ("What", "Size", "How much"),
        *(("Tube", _shop_size(each.tube), _lengths(each)) for each in made.tubes),
        *(
            (
                "Sleeve that slides on it",
                _sleeve(each.tube),
                _lengths(each),
            )
            for each in made.sleeves
        ),
        *(
            (
                f"Mandrel bend {degrees(each.turn_rad)}",
                f"{tube_size(each.tube)}, radius {both(each.radius_m)} to the middle of the tube",
                f"{count}. Another radius changes every length: size and print again",
            )
            for each, count in made.bends.items()
        ),
        *(("Flat disc", _disc(each), f"{count}") for each, count in made.discs.items()),
        *([("Band clamp", "for the sleeves", f"{made.clamps}")] if made.clamps else []),
        *([("Support", _STRAP, f"{made.supports}")] if made.supports else []),
        *([("Exhaust paste", "for the gap under the sleeves", "one tube")] if made.clamps else []),
        *_saws(build),
    ]


def _shop_size(tube: Tube) -> str:
    """Outside and wall, and its gauge where it has one."""
    gauge = gauge_of(tube.wall_m)
    return tube_size(tube) if gauge is None else f"{tube_size(tube)}, {gauge} gauge"


def _sleeve(tube: Tube) -> str:
    """Ask for a sleeve with a gap to slide in, and name one that has it."""
    inside = caliper_range(*(tube.outer_diameter_m + gap_m for gap_m in SLIDES_M))
    over = slides_over(tube)
    such = "the same tube expanded to that over its whole length"
    if over is not None:
        such = f"such as {over.name}"
    return f"{inside} inside, to slide on the {tube.name}: {such}"


def _lengths(bought: TubeToBuy) -> str:
    """E.g. '1 x 5 ft (1524 mm), for 568 mm (...) and 780 mm (...)', and what is left over."""
    said = []
    bars = Counter(
        (_sold(bar.length_m, in_feet=bought.in_feet), tuple(map(saw_length, bar.pieces_m)))
        for bar in bought.bars
    )
    for (sold, lengths), count in bars.items():
        pieces = listed([_times(each, n) for each, n in Counter(lengths).items()])
        said.append(f"{count} x {sold}, for {pieces}{'' if count == 1 else ' each'}")
    share = 100.0 * bought.left_m / bought.bought_m
    return f"{'; '.join(said)}. Left over: {length(bought.left_m)}, {share:.0f} %"


def _times(what: str, count: int) -> str:
    return what if count == 1 else f"{count} times {what}"


def _sold(length_m: float, *, in_feet: bool) -> str:
    """Name a length as a shop does, and what it measures."""
    feet = length_m / FOOT_M
    if in_feet and abs(feet - round(feet)) < 1e-6:
        named = f"{feet:.0f} ft ({millimetres(length_m, 0)})"
        return either(millimetres(length_m, 0), f"{feet:.0f} ft", named)
    metres = f"{round(length_m, 2):g} m"
    return length(length_m) if in_feet else either(metres, length(length_m), metres)


def _disc(disc: Disc) -> str:
    if disc.on_sleeve:
        return f"{DISC_STEEL}, as wide as the can's sleeve outside, measure it: a cap"
    if disc.hole_m is None:
        return f"{DISC_STEEL}, {caliper(disc.across_m)} across: a cap"
    return f"{DISC_STEEL}, {caliper(disc.across_m)} across: a can's front"


def _saws(build: BuildPlan) -> Iterator[tuple[str, str, str]]:
    """Name the hole saws, where one fits, and what else makes a hole."""
    for saws in dict.fromkeys(plan.saws for plan in build.branches if plan.saddle.is_square):
        if saws:
            yield "Hole saw", saw_names(saws), "1, with a 6 mm (1/4 in) rod"
