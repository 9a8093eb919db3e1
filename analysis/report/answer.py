"""The answer in two sentences: what was found, and what to do about it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.basics.interval import Interval
from analysis.branches import Sizing
from analysis.build.workshop.plan import AS_USUAL, BuildWishes
from analysis.findings import DroneBand, Findings, LockedTo
from analysis.report.blocks import Block, Bullets, Link, Note, Section, Table, Text, Tone
from analysis.report.compared.figure_compare import outcome_picture
from analysis.report.compared.outcome import next_step, outcome_sentence, outcome_tone
from analysis.report.contents import ReportContents
from analysis.report.found.trust import warning_notes
from analysis.report.sized.build_card import card_blocks
from analysis.size.advice import (
    DO_NOT_CUT,
    LEFT_OUT,
    NO_HILL,
    OTHER_WAY,
    may_pass_by,
    misread,
    no_room,
)
from analysis.size.gains import other_places
from analysis.words import quantities as words
from analysis.words.cautions import CAUTION_LINE
from analysis.words.doubt_names import name_of
from analysis.words.foretold import best_found, drones_left, drones_planned_for, foretold_all
from analysis.words.found import (
    first_sentence,
    found_sentence,
    may_hide_a_drone,
    not_known_which,
)
from analysis.words.places import one_on_each
from analysis.words.plans import odds
from analysis.words.sentences import first_clause, lowered, sentence
from analysis.words.trouble import trouble_lines

_NOT_TOLD_APART = (
    "Exhaust, intake or engine mounts may make it: all follow the engine, and this drive does not "
    "tell which. Check that first, as said below."
)
_UNCHECKED = (
    "You may build without a check, at the risk that the exhaust does not make the drone and no "
    "branch helps."
)
_NEXT = (
    "Next: measure the place under the car, build it with the build sheets, and drive the same "
    "road again in the same way. That second drive tells whether it worked, and how far to move "
    "the cap."
)
_NEXT_UNPLACED = (
    "Next: describe the exhaust in a car file, and make this page again. It then says where the "
    "branches go and how likely a cure is. Built by the rule of thumb, they may do "
    "little, or make other engine speeds louder."
)
_FIT = "Fit"
_PLACE_FIRST = (
    "Cut nothing yet: the place decides, so describe the exhaust first. By rule of thumb it takes"
)
_SAID_ABOVE = "one_gear_only"
_LOCKED = {
    LockedTo.ENGINE: "engine speed (same rpm in every gear)",
    LockedTo.ROAD: "road speed (tyres, driveline)",
    LockedTo.UNKNOWN: "cannot tell from this drive",
}


def todo_sentence(contents: ReportContents) -> str:
    """Say what to do about the drone of one drive."""
    first = first_sentence(contents.findings)
    if contents.findings.withheld or not contents.findings.bands:
        return first
    band = contents.findings.bands[0]
    if contents.findings.followed_by(band) is LockedTo.ROAD:
        return first + _but_sized(contents)
    advice = (
        build_sentence(contents.sizing) if contents.sizing is not None else _not_sized(contents)
    )
    if contents.sized_band not in (None, band):
        band = contents.sized_band or band
        advice = f"For the weaker drone at {words.rpm(band.peak_rpm)} {lowered(advice)}"
    if contents.findings.followed_by(band) is LockedTo.UNKNOWN:
        if advice.startswith(_FIT):
            advice = f"If it follows the engine, {lowered(advice)}"
        return f"{not_known_which(contents.findings, band)} {advice}"
    return f"{_NOT_TOLD_APART} {advice}" if to_check_first(contents) else advice


def to_check_first(contents: ReportContents) -> str | None:
    """Give two cheap checks of whether the exhaust makes the drone, where this drive leaves it.

    The first may need a second recorder; the next one needs none.
    """
    sizing, causes = contents.sizing, contents.findings.causes
    if sizing is None or sizing.other_way is not None or not causes:
        return None
    if causes[0].locked_to is LockedTo.UNKNOWN:
        return None  # said before all else
    misfit = no_room(sizing)
    if misfit is not None and misfit.code in DO_NOT_CUT:
        return None
    return " ".join(causes[0].to_decide[:2]) or None


def answer_section(contents: ReportContents) -> Section:
    """Make the first thing on the page."""
    if (compared := contents.comparison) is not None:
        said = f"{outcome_sentence(contents, compared)} {next_step(contents, compared)}"
        note = Note(label="The answer", text=said, tone=outcome_tone(compared))
        picture = outcome_picture(contents, compared)
        return Section(name="answer", title="Did it work?", blocks=(note, picture))
    found = contents.findings
    tone = Tone.CARE if may_hide_a_drone(found) else Tone.GOOD
    if found.bands:
        follows = found.followed_by(found.bands[0])
        tone = Tone.PLAIN if follows is LockedTo.ENGINE else Tone.CARE
    said = f"{found_sentence(found)} {todo_sentence(contents)}"
    blocks: list[Block] = [Note(label="In short", text=said, tone=tone), *_doubts(found)]
    if found.levels_only:
        blocks.append(Text(text=_levels_only(found)))
    if contents.sizing is not None:
        blocks += sized_blocks(contents.sizing, contents.wishes, to_check_first(contents))
    return Section(name="answer", title="The answer", blocks=tuple(blocks))


def _doubts(findings: Findings) -> list[Block]:
    """Doubts of a drive with a drone by their names alone, of any other in full."""
    if not findings.bands:
        trouble = [sentence(line) for line in trouble_lines(findings.trouble)]
        told = [Bullets(items=tuple(trouble))] if findings.withheld and trouble else []
        return [*warning_notes(findings.warnings), *told]
    names = [lowered(name_of(each.code)) for each in findings.warnings if each.code != _SAID_ABOVE]
    if not names:
        return []
    named = sentence(f"doubts about this drive: {'; '.join(names)}")
    return [Text(text=named, link=Link(words="What each means, and what to do", section="quality"))]


def bands_section(findings: Findings) -> Section | None:
    """List every drone of one drive; None where there is none."""
    blocks = band_blocks(findings)
    return Section(name="bands", title="Every drone", blocks=tuple(blocks)) if blocks else None


def first_drive_section(findings: Findings) -> Section:
    """Say what the first of two drives found."""
    return Section(
        name="first",
        title="What was found",
        blocks=(Text(text=found_sentence(findings)), *band_blocks(findings)),
    )


def band_blocks(findings: Findings) -> list[Block]:
    """One row for each band, if there are any."""
    if not findings.bands:
        return []
    return [
        Table(
            caption="Every drone found, worst first: by loudness, not by rise",
            head=("Order", "Loudest at", "From", "To", "Rise", "Follows"),
            rows=tuple(_band_row(band, findings) for band in findings.bands),
        ),
        Text(
            text="From and to are where the drone is 3 dB below its peak with the background "
            "removed. Brackets give the 95 % interval.",
            for_engineers=True,
        ),
    ]


def _band_row(band: DroneBand, findings: Findings) -> tuple[str, ...]:
    def cell(rpm: float, hz: float, ends: Interval) -> str:
        return f"{words.rpm(rpm)}, {hz:.1f} Hz [{ends.low:.1f}, {ends.high:.1f}]"

    return (
        sentence(words.order_name(band.engine_order, findings.engine)).rstrip("."),
        cell(band.peak_rpm, band.peak_hz, band.peak_hz_ci95),
        cell(band.low_rpm, band.low_hz, band.low_hz_ci95),
        cell(band.high_rpm, band.high_hz, band.high_hz_ci95),
        words.decibel(band.rise_db, 1),
        _LOCKED[findings.followed_by(band)],
    )


_FIRST_LOOK = (
    "part of it may not come out of the tail pipe, and no branch changes that part: before you "
    "cut, see that the exhaust touches nothing, and that hangers and engine mounts are soft and "
    "whole."
)


def build_sentence(sizing: Sizing) -> str:
    """Say what to fit, and what it should do; the card below it has the measures."""
    count = len(sizing.branches)
    misfit = no_room(sizing)
    if misfit is not None and misfit.code == NO_HILL:
        return misfit.message
    if misfit is not None and misfit.code in DO_NOT_CUT:
        more = "" if misfit.code == OTHER_WAY else " What more room would buy is said below."
        return f"{sentence(misfit.message)} {sentence(best_found(sizing))}{more}"
    what = "a closed side branch" if count == 1 else f"{count} closed side branches"
    if sizing.branches[0].can is not None:
        what += ", a can on a neck" if count == 1 else ", each a can on a neck"
    what += _on_pipes(sizing)
    short = "" if misfit is None else "The room given is too short for a full cure. "
    likely = odds(sizing.plans)
    odds_told = "" if likely is None else f", and {likely}"
    fit = _FIT if sizing.by_thumb is None else _PLACE_FIRST
    return (
        f"{short}{fit} {what}: {drones_planned_for(sizing)} should get "
        f"{foretold_all(sizing)}{odds_told}.{drones_left(sizing)}{_but_first(sizing)}"
    )


def _but_first(sizing: Sizing) -> str:
    """Say what to do before anyone cuts, where the drive tells of something else."""
    if (wrong := misread(sizing)) is not None:
        told = first_clause(wrong.message)
        do = "look along that pipe" if wrong.code == LEFT_OUT else "measure that pipe again"
        return f" But {lowered(told)}: {do} before you cut."
    return "" if may_pass_by(sizing) is None else f" But {_FIRST_LOOK}"


def _on_pipes(sizing: Sizing) -> str:
    """Say which pipes the branches go on; nothing where the exhaust is one pipe."""
    on = list(dict.fromkeys(one_on_each(branch.legs) for branch in sizing.branches))
    if len(on) > 1:
        return f", the first {on[0]}, the second {on[1]}"
    if len(sizing.branches) > 1:
        return f" {on[0].removeprefix('one ')}" if on[0] else ""
    return f", {on[0]}" if on[0] else ""


def sized_blocks(
    sizing: Sizing, wishes: BuildWishes = AS_USUAL, check_first: str | None = None
) -> list[Block]:
    """Give card, doubts, what to do next and cautions in a line; nothing where nothing cures."""
    misfit = no_room(sizing)
    if misfit is not None and misfit.code in DO_NOT_CUT:
        return []
    then = _NEXT if sizing.by_thumb is None else _NEXT_UNPLACED
    said = [*other_places(sizing.as_good[:1])]
    if check_first is not None:
        said.append(f"Check first. {check_first} {_UNCHECKED}")
    if doubts := [doubt for doubt in sizing.doubts if doubt is not misfit]:
        more = f" {len(doubts) - 1} more below." if len(doubts) > 1 else ""
        said.append(f"Look out: {sentence(first_clause(doubts[0].message))}{more}")
    return [
        *card_blocks(sizing, wishes),
        *(Text(text=each) for each in (*said, then, CAUTION_LINE)),
    ]


def _not_sized(contents: ReportContents) -> str:
    if contents.findings.followed_by(contents.findings.bands[0]) is LockedTo.UNKNOWN:
        return "No branch was sized."
    return (
        "No branch was sized, because the pipe and its gas temperature are not known: describe "
        "them in a car file and make this page again."
    )


def _but_sized(contents: ReportContents) -> str:
    band = contents.sized_band
    if band is None or contents.findings.followed_by(band) is LockedTo.ROAD:
        return ""
    follows = (
        "which does follow the engine."
        if contents.findings.followed_by(band) is LockedTo.ENGINE
        else "but whether that one follows the engine, this drive cannot tell."
    )
    return f" The branch below is for the weaker drone at {words.hertz(band.peak_hz)}, {follows}"


def _levels_only(findings: Findings) -> str:
    text = (
        "This drive has no sound, only levels. The engine speed and the width of the drone come "
        "from them; "
    )
    if findings.engine is None:
        return text + "which order of the engine it is cannot be known."
    order = f"{findings.engine.firing_order:g}"
    return text + f"that it is the firing order ({order}) is assumed, not measured."
