"""Two drives in two sentences: did it work, by how much and how sure; and what to do next."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterator, Sequence

from analysis.compare.judgement import (
    all_cured,
    amount_is_sure,
    headline,
    maybe_two_cars,
    new_is_faint,
    new_under_db,
)
from analysis.compare.louder import louder_elsewhere
from analysis.compare.match.level_change import UNKNOWN_ARM_DB
from analysis.findings import DroneBand, LockedTo
from analysis.report.blocks import Tone
from analysis.report.contents import ReportContents
from analysis.verdicts import BandChange, Comparison, Trim, Verdict, suspected, taken_off
from analysis.words import quantities as words
from analysis.words.matching import louder_words, under_words
from analysis.words.sentences import listed, lowered, sentence
from analysis.words.trim import addition_order, stands, trim_order

_OPENINGS = {
    Verdict.CURED: "It worked",
    Verdict.REDUCED: "It helped, but not enough",
    Verdict.UNCHANGED: "It made no difference",
    Verdict.WORSE: "It got worse",
    Verdict.MOVED: "The drone moved",
    Verdict.CANNOT_TELL: "Whether it worked cannot be told",
}
# Where the recording itself became louder or quieter, the lesser claim stands.
_UNSURE_OPENINGS = {
    Verdict.REDUCED: "It helped, but how much is not sure",
    Verdict.UNCHANGED: "No difference can be shown",
}
_OTHER_CAR = "These may be two cars. If they are one:"
_ROUND_TO_RPM = 50.0  # judgement: finer than anybody holds a rev counter
_ROAD = (
    "It follows road speed, so no branch will help: look at tyres, wheel bearings and the "
    "driveline."
)
_LEVELS_ONLY = (
    "Record sound on the next drives, with and without the branch: levels alone do not show where "
    "a branch works, so they cannot tell what to trim."
)
_SAME_SETUP = (
    "Cut nothing: put the microphone and the recorder's gain back to where they were for the "
    "baseline, and drive again."
)
_LENGTH_IS_RIGHT = {
    Verdict.REDUCED: ", and look for a leak or a hole that is too small; if there is none, fit a "
    "wider branch or a second one.",
    Verdict.UNCHANGED: ", and try another place along the pipe: where there is no pressure it does "
    "nothing.",
}
_PLACE_IN_DOUBT = (
    "; the place is in doubt, so size it again from the baseline, with two branches or more room, "
    "before you weld."
)
_LENGTH_NOT_KNOWN = {
    Verdict.REDUCED: "These drives do not show where the branch works, so slide its cap 10 mm "
    "(3/8 in), drive again, and keep the direction that helps.",
    Verdict.UNCHANGED: "Cut nothing yet: check that the branch is open to the pipe, has no leak, "
    "and is as long and where it was meant to be, and drive again.",
    Verdict.MOVED: "Weld nothing yet: these drives do not show where the branch works, so slide "
    "its cap 25 mm (1 in) either way, and drive again after each.",
}
_UNDO_IT = (
    "Undo the change, or slide the cap well away from where it is, and drive again: if the drone "
    "is as it was, the change made it louder."
)
# to either side of a band, so that its edges are driven through too; judgement: what is told
_WIDER = 0.06


def moved_to(contents: ReportContents, change: BandChange) -> DroneBand | None:
    """Where a drone that moved is now: the loudest of its order outside the old band."""
    if change.verdict is not Verdict.MOVED or contents.postfix is None:
        return None
    band = change.band
    elsewhere = (
        other
        for other in contents.postfix.bands
        if other.engine_order == band.engine_order
        and not band.low_rpm <= other.peak_rpm <= band.high_rpm
    )
    return max(elsewhere, key=lambda other: other.level_db, default=None)


def cured_bands(contents: ReportContents) -> frozenset[int]:
    """Bands of the baseline that are cured, counted from 1."""
    changes = () if contents.comparison is None else contents.comparison.changes
    return frozenset(n for n, c in enumerate(changes, 1) if c.verdict is Verdict.CURED)


def outcome_sentence(contents: ReportContents, comparison: Comparison) -> str:
    """Say whether it worked, by how much and how sure that is."""
    change = headline(comparison)
    if change is None:
        return _nothing_to_compare(contents, comparison)
    openings = _OPENINGS | ({} if amount_is_sure(comparison) else _UNSURE_OPENINGS)
    parts = [f"{openings[change.verdict]}: {_measured(contents, change)}"]
    parts += _others(comparison, change)
    parts += _news(contents, comparison, change)
    said = sentence("; ".join(parts))
    if maybe_two_cars(comparison) is None:
        return said
    return f"{_OTHER_CAR} {lowered(said)}"


def next_step(contents: ReportContents, comparison: Comparison) -> str:
    """Say what to do next."""
    change = headline(comparison)
    if change is None:
        return _drive_the_drone(contents, comparison)
    if (gearing := maybe_two_cars(comparison)) is not None:
        return gearing.message
    if change.band.locked_to is LockedTo.ROAD:
        return _ROAD
    unsure = (*_UNSURE_OPENINGS, Verdict.CANNOT_TELL)
    if change.verdict in unsure and not amount_is_sure(comparison):
        return _SAME_SETUP
    if change.verdict is Verdict.CANNOT_TELL:
        return _drive_again(change.band)
    if change.verdict is Verdict.CURED:
        return _after_a_cure(contents, comparison)
    if adjustment := _adjustment(comparison):
        return adjustment
    if contents.findings.levels_only:
        return _LEVELS_ONLY
    if not contents.built:
        return _without_a_branch(contents, change)
    if comparison.trims:
        return _length_is_right(comparison.trims, change)
    return _LENGTH_NOT_KNOWN.get(change.verdict, _UNDO_IT)


def outcome_tone(comparison: Comparison) -> Tone:
    """Good news only when every drone that is the engine's is gone and nothing new came."""
    is_good = all_cured(comparison) and maybe_two_cars(comparison) is None
    return Tone.GOOD if is_good else Tone.CARE


def _how_sure(change: BandChange) -> str:
    """Write the 95 % interval in words: 'between 12.9 and 15.6 dB quieter'."""
    ends = change.ci95_db
    if change.level_change_db - ends.low >= UNKNOWN_ARM_DB:
        return f"at least {words.decibel(-ends.high, 1)} quieter"
    return words.quieter_between(ends.low, ends.high)


def interval_cell(change: BandChange) -> str:
    """Write the 95 % interval for a table: '−15.6 dB to −12.9 dB'."""
    ends = change.ci95_db
    if not math.isfinite(ends.low):
        return "not known"
    if change.level_change_db - ends.low >= UNKNOWN_ARM_DB:
        return f"{words.change(ends.high)} or less"
    return f"{words.change(ends.low)} to {words.change(ends.high)}"


def _measured(contents: ReportContents, change: BandChange) -> str:
    if change.verdict is Verdict.CANNOT_TELL:
        reason = change.why.partition(";")[0].rstrip(".")  # after it comes what to do
        return lowered(reason)
    amount = words.quieter(change.level_change_db)
    if abs(change.level_change_db) < words.UNHEARD_DB:
        amount = "as loud"
    where = f"at {words.hertz(change.band.peak_hz)} ({words.rpm(change.band.peak_rpm)})"
    what = (
        "the level with the drone in it"
        if contents.comparison and contents.comparison.is_of_levels
        else "the drone"
    )
    text = (
        f"{f'{where} it' if change.verdict is Verdict.MOVED else f'{what} {where}'} is {amount} "
        f"{'as' if amount == 'as loud' else 'than'} before ({_how_sure(change)}, with 95 % "
        "confidence)"
    )
    gain = contents.comparison.gain if contents.comparison else None
    if (known := taken_off(gain)) is not None:
        text += (
            f"; the recording as a whole is {words.quieter(known.gain_db)} (gain or microphone "
            "place), which is already allowed for"
        )
    if (doubtful := suspected(gain)) is not None:
        seems = f"seems to be {words.quieter(doubtful.gain_db)} (gain or microphone place)"
        if change.verdict is Verdict.CURED:
            less_db = change.level_change_db - doubtful.gain_db
            text += (
                f"; the recording itself {seems}, and with that taken off the drone is still "
                f"{words.quieter(less_db)}: cured either way"
            )
        else:
            text += f", but the recording itself {seems}"
    if (now := moved_to(contents, change)) is not None:
        text += (
            f", but the same order now drones at {words.rpm(now.peak_rpm)} "
            f"({words.hertz(now.peak_hz)})"
        )
    return text


def _others(comparison: Comparison, change: BandChange) -> Iterator[str]:
    for other in comparison.changes:
        if other.verdict is not change.verdict:
            yield f"at {words.hertz(other.band.peak_hz)} {lowered(_OPENINGS[other.verdict])}"


def _news(contents: ReportContents, comparison: Comparison, change: BandChange) -> Iterator[str]:
    """Tell what came up in the post-fix drive, one resonance once."""
    told = [band for band in [moved_to(contents, change)] if band is not None]
    fresh: list[DroneBand] = []
    for band in comparison.new_bands:
        if not any(one.low_hz <= band.peak_hz <= one.high_hz for one in [*told, *fresh]):
            fresh.append(band)
    if fresh:
        where = listed([f"{words.rpm(b.peak_rpm)} ({words.hertz(b.peak_hz)})" for b in fresh])
        came = f"{'a new drone has' if len(fresh) == 1 else 'new drones have'} appeared at {where}"
        under_db = new_under_db(comparison)
        yield came if under_db is None else f"{came}, {under_words(under_db)}"
    if not fresh and not told and (louder := louder_elsewhere(comparison)) is not None:
        yield f"but {louder_words(louder)}"
    if comparison.whistles:
        tones = listed([words.hertz(each.frequency_hz) for each in comparison.whistles])
        yield f"a new tone at {tones} does not follow the engine and may be a branch singing"


def _adjustment(comparison: Comparison) -> str:
    """Say what to saw, slide or weld on, if anything is worth it."""
    orders = [trim_order(trim) for trim in comparison.trims if trim.is_worth_it]
    if comparison.addition is not None and comparison.addition.outlook.is_worth_it:
        orders = [addition_order(comparison.addition)]
    return f"{sentence(listed(orders))[:-1]}, and drive again." if orders else ""


def _after_a_cure(contents: ReportContents, comparison: Comparison) -> str:
    if comparison.whistles:
        return "Before you weld the cap, round the edge of the branch's hole and drive again."
    if comparison.new_bands and not new_is_faint(comparison):
        return _weigh_new(contents, comparison)
    if adjustment := _adjustment(comparison):  # another drone of its order is left
        return adjustment
    if len(contents.built) > 1:
        return "Leave it, and weld the caps where they stand."
    if contents.built:
        return "Leave it, and weld the cap where it stands."
    return "Leave it as it is; if a cap still slides, fix it where it is now."


def _weigh_new(contents: ReportContents, comparison: Comparison) -> str:
    """Say how bad what came up is, and what to do: no car file has a branch that is built."""
    bad = "" if new_under_db(comparison) is None else ": the new drone is about as bad"
    if not contents.built:
        return f"Weld nothing yet{bad}, and size a branch for it from the post-fix drive."
    return (
        f"Weld nothing yet{bad}. Size again from the baseline, with two branches or another "
        "place: that counts every engine speed. The post-fix drive cannot be sized, because the "
        "car file lacks the branch that is on."
    )


def _length_is_right(trims: Sequence[Trim], change: BandChange) -> str:
    right = "The length is" if len(trims) == 1 else "The lengths are"
    leave = f"{right} right, so leave {listed([stands(trim) for trim in trims])}"
    return f"{leave}{_LENGTH_IS_RIGHT.get(change.verdict, _PLACE_IN_DOUBT)}"


def _without_a_branch(contents: ReportContents, change: BandChange) -> str:
    if change.verdict is Verdict.WORSE:
        return "Undo the change and drive again: if the drone is as it was, the change did it."
    if (now := moved_to(contents, change)) is not None:
        return (
            f"Size a branch for {words.hertz(now.peak_hz)} from the post-fix drive; if a branch "
            "is already built, give its length with --built, and this page tells what to trim."
        )
    return (
        "If a branch was built, give its length with --built, and this page tells what to trim; if "
        "not, size one from the baseline."
    )


def _drive_again(band: DroneBand) -> str:
    low = _ROUND_TO_RPM * (band.low_rpm * (1.0 - _WIDER) // _ROUND_TO_RPM)
    high = -_ROUND_TO_RPM * (-band.high_rpm * (1.0 + _WIDER) // _ROUND_TO_RPM)
    return (
        f"Cut nothing, and drive again like this: from {words.rpm(low)} to {words.rpm(high)} and "
        "back, 15 to 60 s each way, three times, with road, gear, windows and microphone as in the "
        "baseline."
    )


def _nothing_to_compare(contents: ReportContents, comparison: Comparison) -> str:
    withheld = contents.findings.withheld
    if withheld:
        return f"Nothing can be compared: the baseline gives no result, because {withheld}."
    low, high = contents.findings.driven_rpm
    text = (
        f"There was nothing to cure: between {words.rpm(low)} and {words.rpm(high)} the "
        "baseline has no drone"
    )
    if comparison.new_bands:
        band = comparison.new_bands[0]
        text += (
            f", but the post-fix drive has one at {words.rpm(band.peak_rpm)} "
            f"({words.hertz(band.peak_hz)})"
        )
    return f"{text}."


def _drive_the_drone(contents: ReportContents, comparison: Comparison) -> str:
    if comparison.new_bands and not contents.findings.withheld:
        return "Undo the change and drive again: if that drone goes, the change made it."
    return (
        "Without a baseline that shows the drone, nothing can be proved; if the old exhaust can be "
        "put back, drive again, slowly through the engine speed where the drone is worst."
    )
