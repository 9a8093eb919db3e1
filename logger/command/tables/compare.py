"""A comparison as text for a terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.text import Text

from analysis.compare.judgement import maybe_two_cars
from analysis.compare.louder import louder_elsewhere
from analysis.compare.trim.gas_found import car_file_lines, gas_found
from analysis.findings import DroneBand
from analysis.verdicts import BandChange, Comparison, DrivePart
from analysis.words.matching import left_out_words, louder_words, matched_words, whistle_words
from analysis.words.quantities import rpm, rpm_between
from analysis.words.sentences import lowered, sentence
from analysis.words.trim import addition_words, told_with_built, trim_words, trims_words
from logger.command.tables.layout import decibel, doubt_rows, labelled
from logger.screen.terminal import Row


def compare_text(comparison: Comparison) -> RenderableType:
    """Tell what the drives could show, each verdict, new bands, trims and doubts."""
    gearing, louder = maybe_two_cars(comparison), louder_elsewhere(comparison)
    rows: list[Row] = [
        *([] if gearing is None else [("One car?", gearing.message)]),
        *(("Can show", _can_show(change)) for change in comparison.changes),
        *((change.verdict.value.capitalize(), _change(change)) for change in comparison.changes),
        *([] if louder is None else [("Louder", sentence(louder_words(louder)))]),
        *(("New drone", _new_band(band)) for band in comparison.new_bands),
        *(("New tone", whistle_words(whistle)) for whistle in comparison.whistles),
        *_trims(comparison),
        *_parts(comparison),
        *_matching(comparison),
        *doubt_rows([each for each in comparison.warnings if each is not gearing]),
    ]
    return Group(
        Text(f"{comparison.baseline_name} against {comparison.postfix_name}"), labelled(rows)
    )


def _can_show(change: BandChange) -> str:
    where, least_db = _stretch(change.band), change.smallest_change_db
    if not math.isfinite(least_db):
        return f"{where}: no change at all, the way they were driven"
    return f"{where}: a change of {least_db:.1f} dB or more, the way they were driven"


def _stretch(band: DroneBand) -> str:
    return f"order {band.engine_order:g} from {rpm_between(band.low_rpm, band.high_rpm)}"


def _change(change: BandChange) -> str:
    return f"{_stretch(change.band)}: {lowered(change.why)}"  # it says by how much


def _parts(comparison: Comparison) -> Iterator[Row]:
    """Overall level of each part of the drive, in every weighting."""
    for part in DrivePart:
        changes = [each for each in comparison.parts if each.part is part]
        if changes:
            first = changes[0]
            told = "; ".join(
                f"{each.weighting.value} {decibel(each.change_db)} "
                f"(95 %: {decibel(each.ci95_db.low)} to {decibel(each.ci95_db.high)})"
                for each in changes
            )
            yield (
                part.value.capitalize(),
                f"overall level from {rpm_between(first.low_rpm, first.high_rpm)}: {told}",
            )


def _matching(comparison: Comparison) -> Iterator[Row]:
    if comparison.matching is not None:
        yield "Compared", matched_words(comparison.matching)
        for left_out in filter(None, map(left_out_words, comparison.matching.left_out)):
            yield "Left out", left_out


def _new_band(band: DroneBand) -> str:
    return (
        f"{_stretch(band)}, peak at {rpm(band.peak_rpm)} ({band.peak_hz:.1f} Hz), "
        f"{band.rise_db:.0f} dB above what is beside it"
    )


def _trims(comparison: Comparison) -> Iterator[Row]:
    yield from (("Trim", sentence(trim_words(trim))) for trim in comparison.trims)
    if together := trims_words(comparison):
        yield "All trims", sentence(together)
    if comparison.addition is not None and comparison.addition.outlook.is_worth_it:
        yield "Add", sentence(addition_words(comparison.addition))
    if any(trim.is_worth_it for trim in comparison.trims) and (
        told := told_with_built(comparison.trims)
    ):
        yield "Then", f"drive again, and tell compare where the sleeve stands: {told}"
    if (gas_k := gas_found(comparison)) is not None:
        yield "Car file", f"so that the next size knows the gas:\n{car_file_lines(gas_k)}"
