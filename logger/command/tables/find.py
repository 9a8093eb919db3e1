"""What was found, as text for a terminal: the answer, the drones, and what they rest on."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from rich.console import Group, RenderableType

from analysis.findings import DroneBand, Findings, LockedTo, TelemetryDelay
from analysis.words.found import first_sentence, found_sentence
from analysis.words.marks import marks
from analysis.words.quantities import number
from analysis.words.trouble import trouble_lines
from logger.command.tables.layout import Fitting, doubt_rows, labelled, plain
from logger.screen.terminal import Row, headed

_HEADINGS = ("drone", "order", "peak rpm", "3 dB down", "peak Hz", "95 %", "rise", "follows")
_FOLLOWS_WORDS = {
    LockedTo.ENGINE: "the engine",
    LockedTo.ROAD: "road speed; no branch helps",
    LockedTo.UNKNOWN: "not known",
}


def find_text(findings: Findings) -> RenderableType:
    """Give answer, drones, doubts, what makes the worst, then delay, marks and trouble."""
    answer = f"{found_sentence(findings)} {first_sentence(findings)}".rstrip()
    rows: list[Row] = [*doubt_rows(findings.warnings), *_worst_cause(findings)]
    if findings.telemetry_delay is not None:
        heard = "the levels" if findings.levels_only else "the sound"
        rows.append(("Telemetry", _delay(findings.telemetry_delay, heard)))
    rows += [("Marked", str(mark)) for mark in marks(findings)]
    rows += [("Trouble", line) for line in trouble_lines(findings.trouble)]
    drones = [_drones(findings)] if findings.bands else []
    return Group(plain(f"{findings.drive_name}: {answer}"), *drones, labelled(rows))


def _drones(findings: Findings) -> RenderableType:
    bands = list(enumerate(findings.bands, start=1))
    table = headed(
        "", _HEADINGS, [(str(n), *_band_cells(b, findings)) for n, b in bands], is_tight=True
    )
    *numbers, follows = table.columns
    for column in numbers:
        column.no_wrap = True
    follows.min_width = 10
    return Fitting(table, labelled([(f"Drone {n}", _band_line(b, findings)) for n, b in bands]))


def _band_line(band: DroneBand, findings: Findings) -> str:
    order, peak_rpm, half_power_rpm, peak_hz, ends_hz, rise, follows = _band_cells(band, findings)
    return (
        f"order {order}, peak at {peak_rpm} rpm, 3 dB down at {half_power_rpm} rpm, {peak_hz} Hz "
        f"(95 %: {ends_hz} Hz), rise {rise}, follows: {follows}"
    )


def _band_cells(band: DroneBand, findings: Findings) -> tuple[str, ...]:
    ends = band.peak_hz_ci95
    return (
        f"{band.engine_order:g}",
        number(round(band.peak_rpm, -1)),
        f"{number(round(band.low_rpm, -1))}–{number(round(band.high_rpm, -1))}",
        f"{band.peak_hz:.1f}",
        f"{ends.low:.1f}–{ends.high:.1f}",
        f"{band.rise_db:.0f} dB",
        _FOLLOWS_WORDS[findings.followed_by(band)],
    )


def _worst_cause(findings: Findings) -> Iterator[Row]:
    """Say what makes the worst drone; of the others the report says as much."""
    for cause in findings.causes[:1]:
        yield "Cause", f"{cause.frequency_hz:.1f} Hz: {' '.join(cause.evidence) or 'not known.'}"
        yield from (("Look at", suspect) for suspect in cause.suspects)
        yield from (("Next drive", advice) for advice in cause.to_decide)
    if (more := len(findings.causes) - 1) > 0:
        yield "Others", f"{'one more is' if more == 1 else f'{more} more are'} in the report"
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
