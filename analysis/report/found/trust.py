"""The section on how far to trust the numbers."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.drive import Trouble
from analysis.findings import Doubt, Findings
from analysis.report.blocks import Block, Bullets, Heading, Note, Section, Table, Text, Tone
from analysis.report.contents import ReportContents
from analysis.report.found.figure_speed import speed_chart
from analysis.words import quantities as words
from analysis.words.doubt_names import name_of
from analysis.words.marks import marks
from analysis.words.quantities import engine_name, seconds
from analysis.words.sentences import sentence
from analysis.words.trouble import trouble_lines

_LISTED = 40  # judgement: more are summed up only; the session's own file lists them all

_NO_WARNINGS = Text(text="No warnings.")


def trust_section(contents: ReportContents) -> Section:
    """Delay, engine speed, warnings, trouble, assumptions."""
    findings = contents.findings
    drive = "The drive" if contents.comparison is None else "The baseline"
    blocks: list[Block] = [_facts(findings, drive)]
    warnings = warning_notes(findings.warnings) or [_NO_WARNINGS]
    blocks += [Heading(text="Warnings"), *warnings]
    if (chart := speed_chart(findings)) is not None:
        blocks.append(chart)
    if said := "; ".join(map(str, marks(findings))):
        blocks.append(Text(text=sentence(f"marked in the car: {said}")))
    blocks += [Heading(text="Trouble while recording"), *_trouble(findings.trouble)]
    if (postfix := contents.postfix) is not None:
        blocks += [
            Heading(text="The post-fix drive"),
            Text(text=f"{postfix.drive_name}, {words.duration(postfix.duration_s)}."),
            *(warning_notes(postfix.warnings) or [_NO_WARNINGS]),
            *_trouble(postfix.trouble),
        ]
    if contents.sizing is not None and contents.sizing.assumptions:
        blocks += [
            Heading(text="Assumed, because it was not given"),
            Bullets(items=tuple(sentence(a) for a in contents.sizing.assumptions)),
        ]
    return Section(name="quality", title="How far to trust this", blocks=tuple(blocks))


def _facts(findings: Findings, caption: str) -> Table:
    low, high = findings.driven_rpm
    engine = findings.engine
    rows = [
        ("Drive", f"{findings.drive_name}, {words.duration(findings.duration_s)}"),
        (
            "Engine",
            "not known"
            if engine is None
            else f"{engine_name(engine)}; firing order {engine.firing_order:g}",
        ),
        ("Engine speed covered", f"{words.rpm(low)} to {words.rpm(high)}"),
        *_log(findings),
        ("Engine speed known within", _speed_known_to(findings)),
        ("Levels in", words.level_axis(findings.level_unit)),
    ]
    return Table(caption=caption, head=("", "Value"), rows=tuple(rows))


def _log(findings: Findings) -> list[tuple[str, str]]:
    codes = {doubt.code for doubt in findings.warnings}
    if "rpm_from_sound" not in codes:
        return [("Engine speed log, against the sound", _delay(findings))]
    if findings.telemetry_delay is None and "telemetry_unaligned" not in codes:
        return []  # nothing was logged that could be late
    return [("Road speed log, against the sound", _delay(findings))]


def _delay(findings: Findings) -> str:
    delay = findings.telemetry_delay
    if findings.levels_only:
        return "no sound to line up with"
    if delay is None:
        return "could not be measured; taken as on time"
    side = "late" if delay.delay_s >= 0 else "early"
    text = (
        f"{abs(delay.delay_s):.2f} s {side} (95 % interval {words.number(delay.ci95_s.low, 2)} to "
        f"{words.number(delay.ci95_s.high, 2)} s), corrected"
    )
    return f"{text}; drift {words.number(delay.drift_ppm)} ppm" if delay.drift_ppm else text


def _speed_known_to(findings: Findings) -> str:
    half, most = map(findings.engine_speed.known_to_percent, (50.0, 95.0))
    if not math.isfinite(half):
        return "not measured; as it was logged"
    return (
        f"{words.number(half, 2)} % in half of the drive and {words.number(most, 2)} % in nearly "
        "all of it, from the engine's own orders"
    )


def warning_notes(warnings: tuple[Doubt, ...]) -> list[Block]:
    """Give every warning in full, under its name."""
    return [
        Note(label=name_of(each.code), text=sentence(each.message), tone=Tone.CARE)
        for each in warnings
    ]


def _trouble(trouble: tuple[Trouble, ...]) -> list[Block]:
    if not trouble:
        return [Text(text="No trouble was noted.")]
    blocks: list[Block] = [Bullets(items=tuple(sentence(line) for line in trouble_lines(trouble)))]
    if 1 < len(trouble) <= _LISTED:
        rows = tuple(
            (
                "not known" if each.start_s is None else seconds(each.start_s),
                "not known" if each.duration_s is None else seconds(each.duration_s),
                each.code.replace("_", " "),
                sentence(each.message),
            )
            for each in trouble
        )
        head = ("Began at", "Lasted", "Kind", "What was noted")
        caption = "Everything that went wrong, in order of time"
        blocks.append(Table(caption=caption, head=head, rows=rows))
    return blocks
