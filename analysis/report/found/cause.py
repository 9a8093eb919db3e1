"""The section on what makes the drone: evidence, suspects, and what to drive next."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

from analysis.findings import Cause, DroneBand, Findings, LockedTo
from analysis.report.blocks import Block, Bullets, Heading, Note, Section, Table, Text, Tone
from analysis.report.found.figure_maps import order_map_chart
from analysis.words import quantities as words
from analysis.words.quantities import gear_name, road_speed_both
from analysis.words.sentences import listed, sentence

_MOST_BANDS = 3  # of one cause; the others say the same; judgement: a shorter page
_WHAT = {
    LockedTo.ENGINE: "the engine",
    LockedTo.ROAD: "the road",
    LockedTo.UNKNOWN: "engine or road, not decided",
}
_PROOF = "The work on the exhaust took it away, so it was the exhaust's."


def cause_section(findings: Findings, cured: frozenset[int] = frozenset()) -> Section | None:
    """Say what makes each drone and how that is known; None when there is nothing to say.

    ``cured``: bands that later work took away, counted from 1; of these nothing is left to find
    out.
    """
    made = findings.causes
    hints = findings.firing_layout
    if not made and not hints:
        return None
    blocks: list[Block] = []
    for cause in made:
        if cured.issuperset(cause.bands) and cause.locked_to is not LockedTo.ROAD:
            cause = replace(cause, evidence=(*cause.evidence, _PROOF), suspects=(), to_decide=())
        blocks += _cause_blocks(cause, findings)
    blocks += [Note(label="The engine itself", text=hint, tone=Tone.CARE) for hint in hints]
    if (chart := order_map_chart(findings)) is not None:
        blocks.append(chart)
    return Section(name="cause", title="What makes it", blocks=tuple(blocks))


def _cause_blocks(cause: Cause, findings: Findings) -> list[Block]:
    bands = [findings.bands[number - 1] for number in cause.bands]
    orders = listed([words.order_name(band.engine_order, findings.engine) for band in bands])
    blocks: list[Block] = [
        Heading(text=f"{words.hertz(cause.frequency_hz)}, {orders}: {_WHAT[cause.locked_to]}")
    ]
    said = (*cause.evidence, *cause.suspects)
    if said:
        blocks.append(Bullets(items=said))
    if cause.to_decide:
        label = "To be sure" if cause.locked_to is not LockedTo.UNKNOWN else "To find out"
        blocks.append(Text(text=f"{label}:"))
        blocks.append(Bullets(items=cause.to_decide))
    if any(band.by_gear for band in bands[:_MOST_BANDS]):
        blocks.append(_gear_table(bands[:_MOST_BANDS], findings))
    return blocks


def _gear_table(bands: list[DroneBand], findings: Findings) -> Table:
    return Table(
        caption="Gear by gear",
        head=("Order", "Gear", "Road speed at the peak", "Share of the rise that shows"),
        rows=tuple(
            (
                sentence(words.order_name(band.engine_order, findings.engine)).rstrip("."),
                sentence(gear_name(view.gear)).rstrip("."),
                "" if view.is_standing else road_speed_both(view.road_speed_m_s),
                f"{words.number(100.0 * view.share_of_rise)} %",
            )
            for band in bands
            for view in band.by_gear
        ),
    )
