"""Sections on the measurement itself: the colour map, the order's level, and what dB(A) hides."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from analysis.find.sound.weighting import a_weighting_db
from analysis.find.tone import band_tone
from analysis.findings import Findings
from analysis.report.blocks import Block, Section, Text
from analysis.report.found.figure_levels import order_chart, overall_chart
from analysis.report.found.figure_maps import map_chart
from analysis.words import quantities as words
from analysis.words.quantities import FULL_SCALE

_MOST_ORDERS = 3  # judgement: a shorter page, no answer changes
_NO_MAP = "No colour map: this drive has levels only, and no sound to take one from."
_ZOOM = "Point at a curve to read it, drag to zoom, double-click to go back."


def map_section(findings: Findings) -> Section:
    """Where the drone sits."""
    blocks: tuple[Block, ...] = (Text(text=_NO_MAP),)
    if (chart := map_chart(findings)) is not None:
        blocks = (chart, Text(text=_ZOOM, for_engineers=True))
    return Section(name="map", title="Where the noise sits", blocks=blocks)


def levels_section(findings: Findings) -> Section:
    """Show the order's level over engine speed, and the overall levels."""
    charts = (order_chart(findings, order) for order in _orders(findings))
    blocks: list[Block] = [chart for chart in charts if chart is not None]
    if blocks:
        blocks.append(Text(text=_method(findings), for_engineers=True))
    if (overall := overall_chart(findings)) is not None:
        blocks.append(overall)
    blocks += [Text(text=text) for text in (_what_a_hides(findings), *_audibility(findings))]
    return Section(name="levels", title="How loud, at which engine speed", blocks=tuple(blocks))


def _orders(findings: Findings) -> tuple[float, ...]:
    orders = list(dict.fromkeys(b.engine_order for b in findings.bands))
    if not orders and findings.engine is not None:
        orders = [findings.engine.firing_order]
    if not orders:
        orders = [c.engine_order for c in findings.curves[:1]]
    return tuple(orders[:_MOST_ORDERS])


def _method(findings: Findings) -> str:
    if findings.levels_only:
        return (
            "Marks: one sweep each, the level as logged. Solid: their mean, each sweep weighted by "
            "its seconds. Dashed: smoothed, as drones are read from it. Dotted: the same without "
            "their resonances. Road and wind noise are still in it."
        )
    text = (
        "Marks: one sweep each, mean square in the order's bandwidth minus the noise under it. "
        "Solid: their mean, each sweep weighted by its seconds. Dashed: smoothed, as drones are "
        "read from it. Dotted: the same without their resonances. Levels are taken at even crank "
        "angles, so that a sweep does not smear them: a Hann window of 16 turns, five lines (5/16 "
        "of an order wide) added up for each order, the noise taken from the lines half-way to the "
        "next half order. A "
        "steady order reads within 0.1 dB."
    )
    if findings.level_unit == FULL_SCALE:
        text += (
            " The microphone is not calibrated: levels can be compared with each other, but not "
            "with a sound level meter."
        )
    return text


def _audibility(findings: Findings) -> Iterator[str]:
    """Say by how much the worst drone's note stands out for the ear."""
    tone = band_tone(findings, findings.bands[0]) if findings.bands else None
    if tone is None:
        return
    excess_db = tone.audibility_db
    if excess_db <= 0.0:
        yield "By ISO/PAS 20065 the noise around it masks the drone: it is a rumble, not a pitch."
        return
    yield (
        f"By ISO/PAS 20065 the drone at {words.hertz(findings.bands[0].peak_hz)} stands "
        f"{words.decibel(excess_db)} above the level at which the noise around it would mask it. "
        "Engine speed moved a little while that was measured, so it is good to a few decibels; as "
        "a difference of two levels it needs no calibrated microphone."
    )


def _what_a_hides(findings: Findings) -> str:
    hz = findings.bands[0].peak_hz if findings.bands else 100.0
    hidden = -float(a_weighting_db(hz))
    what = "this drone" if findings.bands else "a drone"
    better = (
        "Log sound next time: then the level of the drone itself can be shown."
        if findings.levels_only
        else "Judge by the unweighted (Z) or C-weighted curve, or better by the level of the drone "
        "itself, above."
    )
    return (
        f"Do not judge {what} by dB(A). At {words.hertz(hz)} the A-weighting takes off "
        f"{words.decibel(hidden)} (IEC 61672-1), so a drone that presses on the ears hardly moves "
        f"an A-weighted meter. {better}"
    )
