"""What was found, as text for a terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.text import Text

from analysis.findings import DroneBand, Findings, LockedTo, TelemetryDelay
from analysis.words.marks import marks
from analysis.words.trouble import trouble_lines
from logger.command.tables.layout import Fitting, doubt_rows
from logger.screen.terminal import Row, headed, labelled

_MOST_CAUSES = 2
_HEADINGS = ("drone", "order", "peak rpm", "3 dB down", "peak Hz", "95 %", "rise", "follows")
_FOLLOWS_WORDS = {
    LockedTo.ENGINE: "the engine",
    LockedTo.ROAD: "road speed; no branch helps",
    LockedTo.UNKNOWN: "not known",
}


def find_text(findings: Findings) -> RenderableType:
    """Drones, worst first, then what makes them, delay, marks, trouble and doubts."""
    rows: list[Row] = []
    if findings.telemetry_delay is not None:
        heard = "the levels" if findings.levels_only else "the sound"
        rows.append(("Telemetry", _delay(findings.telemetry_delay, heard)))
    rows += [("Marked", str(mark)) for mark in marks(findings)]
    rows += [("Trouble", line) for line in trouble_lines(findings.trouble)]
    rows += doubt_rows(findings.warnings)
    return Group(_found(findings), labelled([*_causes(findings), *rows]))


def _found(findings: Findings) -> RenderableType:
    if findings.withheld:
        return Text(f"{findings.drive_name}: no result, because {findings.withheld}")
    if not findings.bands:
        low_rpm, high_rpm = findings.driven_rpm
        span = f"between {low_rpm:,.0f} and {high_rpm:,.0f} rpm"
        return Text(f"{findings.drive_name}: no drone found {span}")
    rows = [(str(n), *_band_cells(band)) for n, band in enumerate(findings.bands, start=1)]
    table = headed(findings.drive_name, _HEADINGS, rows, is_tight=True)
    *numbers, follows = table.columns
    for column in numbers:
        column.no_wrap = True
    follows.min_width = 10
    lines = [(f"Drone {n}", _band_line(band)) for n, band in enumerate(findings.bands, start=1)]
    return Fitting(table, Group(Text(findings.drive_name), labelled(lines)))


def _band_line(band: DroneBand) -> str:
    order, peak_rpm, half_power_rpm, peak_hz, ends_hz, rise, follows = _band_cells(band)
    return (
        f"order {order}, peak at {peak_rpm} rpm, 3 dB down at {half_power_rpm} rpm, {peak_hz} Hz "
        f"(95 %: {ends_hz} Hz), rise {rise}, follows: {follows}"
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
        _FOLLOWS_WORDS[band.locked_to],
    )


def _causes(findings: Findings) -> Iterator[Row]:
    made = findings.causes
    for cause in made[:_MOST_CAUSES]:
        yield "Cause", f"{cause.frequency_hz:.1f} Hz: {' '.join(cause.evidence) or 'not known.'}"
        yield from (("Look at", suspect) for suspect in cause.suspects)
        yield from (("Next drive", advice) for advice in cause.to_decide)
    if len(made) > _MOST_CAUSES:
        yield "Cause", f"{len(made) - _MOST_CAUSES} more are in the report"
    yield from (("Layout", hint) for hint in findings.firing_layout)


def _delay(delay: TelemetryDelay, heard: str) -> str:
    word = "early" if delay.delay_s < 0 else "late"
    ends = delay.ci95_s
    return (
        f"{abs(delay.delay_s):.2f} s {word} against {heard} "
        f"(95 %: {_hundredths(ends.low)} to {_hundredths(ends.high)} s); taken into account"
    )


def _hundredths(value: float) -> str:
    return f"{round(value, 2) + 0.0:.2f}"  # no minus before zero
