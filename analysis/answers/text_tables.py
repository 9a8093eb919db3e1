"""The results as text for a terminal; the numbers are those of the frozen results."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

from analysis.branches import Branch, Can, Sizing
from analysis.compare.match.left_out import left_out_words, matched_words
from analysis.compare.trim.gas_found import car_file_lines, gas_found
from analysis.find.causes import causes
from analysis.find.firing_layout import firing_layout
from analysis.findings import Doubt, DroneBand, Findings, LockedTo, TelemetryDelay
from analysis.size.advice import no_room
from analysis.verdicts import BandChange, Comparison, DrivePart, Trim
from analysis.words.marks import marks
from analysis.words.outlook import outlook_words
from analysis.words.quantities import length_both, temperature_both
from analysis.words.trouble import trouble_lines
from analysis.words.whistle import whistle_words

_ANY_WIDTH = 1000
_MOST_CAUSES = 2
_LOCKED_WORDS = {
    LockedTo.ENGINE: "engine",
    LockedTo.ROAD: "road; no branch helps",
    LockedTo.UNKNOWN: "not known",
}
_DATUM = "runs along the branch's middle, from the main pipe's inner wall to the inside of the cap"

Row = tuple[str, str]


def find_text(findings: Findings) -> RenderableType:
    """Bands, worst first, then delay, doubts and trouble."""
    rows: list[Row] = []
    if findings.telemetry_delay is not None:
        heard = "the levels" if findings.levels_only else "the sound"
        rows.append(("Telemetry", _delay(findings.telemetry_delay, heard)))
    rows += [("Marked", str(mark)) for mark in marks(findings)]
    rows += [("Trouble", line) for line in trouble_lines(findings.trouble)]
    rows += _doubts(findings.warnings)
    return Group(_found(findings), labelled([*_causes(findings), *rows]))


def size_text(sizing: Sizing) -> RenderableType:
    """Branches to cut, what they should do, and what that rests on."""
    target, predicted = sizing.target, sizing.predicted
    order = "" if target.engine_order is None else f" (engine order {target.engine_order:g})"
    change = predicted.level_change_db_range
    several = len(sizing.branches) > 1
    misfit = no_room(sizing)
    rows: list[Row] = [
        *([] if misfit is None else [("Does not fit", f"{misfit.message} ({misfit.code})")]),
        ("Drone", f"{target.peak_hz:.1f} Hz{order}"),
        *(
            (f"Branch {number}" if several else "Branch", _branch(branch))
            for number, branch in enumerate(sizing.branches, start=1)
        ),
        ("Length", _DATUM),
        *_spacing(sizing),
        (
            "Drone after",
            f"{_decibel(predicted.level_change_db)}; {_decibel(change.high)} to "
            f"{_decibel(change.low)} over the credible "
            f"{'gas temperatures' if sizing.branches[0].position_m is None else 'cases'}",
        ),
        ("Elsewhere", _decibel(predicted.elsewhere_change_db)),
        *(("More", gain) for gain in sizing.gains),
        *_costs(sizing),
        *(("Assumed", assumption) for assumption in sizing.assumptions),
        *_doubts(warning for warning in sizing.warnings if warning is not misfit),
        ("Before work", "read the cautions in the report before you go under the car"),
    ]
    return labelled(rows)


def compare_text(comparison: Comparison) -> RenderableType:
    """Tell what the drives could show, each verdict, new bands, trims and doubts."""
    rows: list[Row] = [
        *(("Can show", _can_show(change)) for change in comparison.changes),
        *((change.verdict.value.capitalize(), _change(change)) for change in comparison.changes),
        *(("New band", _new_band(band)) for band in comparison.new_bands),
        *(("New tone", whistle_words(whistle)) for whistle in comparison.whistles),
        *((f"Branch {trim.branch}", _trim(trim)) for trim in comparison.trims),
        *_outlook(comparison),
        *_car_file(comparison),
        *_parts(comparison),
        *_matching(comparison),
        *_doubts(comparison.warnings),
    ]
    return Group(
        Text(f"{comparison.baseline_name} against {comparison.postfix_name}"), labelled(rows)
    )


def _found(findings: Findings) -> RenderableType:
    if findings.withheld:
        return Text(f"{findings.drive_name}: no result, because {findings.withheld}")
    if not findings.bands:
        low_rpm, high_rpm = findings.driven_rpm
        span = f"between {low_rpm:,.0f} and {high_rpm:,.0f} rpm"
        return Text(f"{findings.drive_name}: no drone found {span}")
    table = Table(
        title=Text(findings.drive_name),
        title_justify="left",
        box=SIMPLE_HEAD,
        padding=(0, 1),
        collapse_padding=True,
    )
    for heading in ("band", "order", "peak rpm", "half-power", "peak Hz", "95 %", "rise"):
        table.add_column(heading, no_wrap=True)
    table.add_column("locked to", min_width=9)
    for number, band in enumerate(findings.bands, start=1):
        table.add_row(f"{number}", *_band_cells(band))
    lines = [(f"Band {n}", _band_line(band)) for n, band in enumerate(findings.bands, start=1)]
    return Fitting(table, Group(Text(findings.drive_name), labelled(lines)))


@dataclass(frozen=True, slots=True)
class Fitting:
    """The table where the terminal is wide enough for it, else lines, so that nothing is cut."""

    wide: Table
    narrow: RenderableType

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        needed = Measurement.get(console, options.update_width(_ANY_WIDTH), self.wide).maximum
        yield self.wide if needed <= options.max_width else self.narrow


def _band_line(band: DroneBand) -> str:
    order, peak_rpm, half_power_rpm, peak_hz, ends_hz, rise, locked = _band_cells(band)
    return (
        f"order {order}, peak at {peak_rpm} rpm, half-power {half_power_rpm} rpm, {peak_hz} Hz "
        f"(95 %: {ends_hz} Hz), rise {rise}, locked to: {locked}"
    )


def _band_cells(band: DroneBand) -> tuple[str, ...]:
    ends = band.peak_hz_ci95
    return (
        f"{band.engine_order:g}",
        f"{band.peak_rpm:,.0f}",
        f"{band.low_rpm:,.0f}–{band.high_rpm:,.0f}",
        f"{band.peak_hz:.1f}",
        f"{ends.low:.1f}–{ends.high:.1f}",
        f"{band.rise_db:.0f} dB",
        _LOCKED_WORDS[band.locked_to],
    )


def _causes(findings: Findings) -> Iterator[Row]:
    made = causes(findings)
    for cause in made[:_MOST_CAUSES]:
        yield "Cause", f"{cause.frequency_hz:.1f} Hz: {' '.join(cause.evidence) or 'not known.'}"
        yield from (("Look at", suspect) for suspect in cause.suspects)
        yield from (("Next drive", advice) for advice in cause.to_decide)
    if len(made) > _MOST_CAUSES:
        yield "Cause", f"{len(made) - _MOST_CAUSES} more are in the report"
    yield from (("Layout", hint) for hint in firing_layout(findings))


def _delay(delay: TelemetryDelay, heard: str) -> str:
    word = "early" if delay.delay_s < 0 else "late"
    ends = delay.ci95_s
    return (
        f"{abs(delay.delay_s):.2f} s {word} against {heard} "
        f"(95 %: {_hundredths(ends.low)} to {_hundredths(ends.high)} s); taken into account"
    )


def _hundredths(value: float) -> str:
    return f"{round(value, 2) + 0.0:.2f}"  # no minus before zero


def _branch(branch: Branch) -> str:
    at_m = branch.position_m
    place = "" if at_m is None else f", {length_both(at_m)} from the collector"
    bore_mm = 1e3 * branch.tube.inner_diameter_m
    return (
        f"{length_both(branch.length_m)} of {branch.tube.name} tube, bore {bore_mm:.1f} mm"
        f"{_can(branch.can)}{place}: "
        f"{branch.tuned_hz:.1f} Hz with gas at {temperature_both(branch.gas_temperature_k)}; "
        f"{1e3 * branch.shortest_m:.0f} to {1e3 * branch.longest_m:.0f} mm from the coldest to the "
        "hottest credible gas"
    )


def _can(can: Can | None) -> str:
    if can is None:
        return ""
    return (
        f", with a can: of that length the first {length_both(can.neck_m)} are neck, the rest is "
        f"{can.tube.name} tube"
    )


def _spacing(sizing: Sizing) -> Iterator[Row]:
    if sizing.spacing_m is not None:
        yield "Spacing", f"{length_both(sizing.spacing_m)} along the pipe between the two"


def _costs(sizing: Sizing) -> Iterator[Row]:
    cost, hand = sizing.sensitivity, sizing.hand_method
    per_rpm = f", 1 rpm {cost.hz_per_rpm:.3f} Hz" if math.isfinite(cost.hz_per_rpm) else ""
    yield (
        "Errors cost",
        f"1 K {abs(cost.hz_per_kelvin):.2f} Hz, 1 mm {abs(cost.hz_per_mm):.2f} Hz{per_rpm}",
    )
    yield (
        "Hand method",
        f"cold air, no corrections: {length_both(hand.length_m)}, which would really tune "
        f"{hand.really_tunes_hz:.1f} Hz and give {_decibel(hand.level_change_db)}",
    )


def _can_show(change: BandChange) -> str:
    where, least_db = _stretch(change.band), change.smallest_change_db
    if not math.isfinite(least_db):
        return f"{where}: no change, as these two were driven"
    return f"{where}: a change of {least_db:.1f} dB or more, as these two were driven"


def _stretch(band: DroneBand) -> str:
    return f"order {band.engine_order:g} from {band.low_rpm:,.0f} to {band.high_rpm:,.0f} rpm"


def _change(change: BandChange) -> str:
    ends = change.ci95_db
    return (
        f"{_stretch(change.band)}: "
        f"{_decibel(change.level_change_db)} (95 %: {_decibel(ends.low)} to "
        f"{_decibel(ends.high)}). {change.why}"
    )


def _parts(comparison: Comparison) -> Iterator[Row]:
    """Overall level of each part of the drive, in every weighting."""
    for part in DrivePart:
        changes = [each for each in comparison.parts if each.part is part]
        if changes:
            first = changes[0]
            told = "; ".join(
                f"{each.weighting.value} {_decibel(each.change_db)} "
                f"(95 %: {_decibel(each.ci95_db.low)} to {_decibel(each.ci95_db.high)})"
                for each in changes
            )
            yield (
                part.value.capitalize(),
                f"overall level from {first.low_rpm:,.0f} to {first.high_rpm:,.0f} rpm: {told}",
            )


def _matching(comparison: Comparison) -> Iterator[Row]:
    if comparison.matching is not None:
        yield "Compared", matched_words(comparison.matching)
        for left_out in filter(None, map(left_out_words, comparison.matching.left_out)):
            yield "Left out", left_out


def _new_band(band: DroneBand) -> str:
    return (
        f"order {band.engine_order:g} from {band.low_rpm:,.0f} to {band.high_rpm:,.0f} rpm, peak "
        f"at {band.peak_rpm:,.0f} rpm ({band.peak_hz:.1f} Hz), {band.rise_db:.0f} dB above the "
        "trend"
    )


def _outlook(comparison: Comparison) -> Iterator[Row]:
    if comparison.trim_outlook is not None:
        yield "Trimming", outlook_words(comparison.trim_outlook)


def _trim(trim: Trim) -> str:
    gas = temperature_both(trim.gas_temperature_k)
    where = (
        f"it works at {trim.works_at_hz:.1f} Hz (gas at {gas}) and should at "
        f"{trim.wanted_hz:.1f} Hz"
    )
    if not trim.is_worth_it:
        both = ", neck and can together" if trim.neck_m else ""
        return f"leave it at {length_both(trim.built_length_m)}{both}: {where}"
    verb = "shorten" if trim.cut_m > 0 else "lengthen"
    part, rest = (" its can", ", and leave its neck") if trim.neck_m else ("", "")
    nearest_m, farthest_m = sorted(map(abs, (trim.ci95_m.low, trim.ci95_m.high)))
    return (
        f"{verb}{part} by {length_both(abs(trim.cut_m))}, from {1e3 * trim.part_m:.0f} mm{rest} "
        f"(95 %: {1e3 * nearest_m:.0f} to {1e3 * farthest_m:.0f} mm): {where}"
    )


def _car_file(comparison: Comparison) -> Iterator[Row]:
    if (gas_k := gas_found(comparison)) is not None:
        yield "Car file", f"so that the next size knows the gas:\n{car_file_lines(gas_k)}"


def _doubts(doubts: Iterable[Doubt]) -> Iterator[Row]:
    return (("Note", f"{doubt.message} ({doubt.code})") for doubt in doubts)


def _decibel(value: float) -> str:
    return f"{value:+.1f} dB" if math.isfinite(value) else "not known"


def labelled(rows: Iterable[Row]) -> Table:
    """Set texts beside their labels."""
    grid = Table.grid(padding=(0, 2))
    grid.add_column(style="bold")
    grid.add_column()
    for label, text in rows:
        grid.add_row(Text(label), Text(text))
    return grid
