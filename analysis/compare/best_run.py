"""What a history comes to: the best run so far, in a sentence or two."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math

from analysis.basics.interval import Interval
from analysis.compare.history import History, Run
from analysis.findings import DroneBand
from analysis.verdicts import BandChange, Comparison, Verdict, suspected
from analysis.words.quantities import listed

_BETTER = (Verdict.CURED, Verdict.REDUCED)
_GAIN = "recording gain or microphone place seem to differ from the baseline's"
_VERDICTS = {
    Verdict.CURED: "is cured",
    Verdict.REDUCED: "is quieter, but not cured",
    Verdict.UNCHANGED: "is as loud as before",
    Verdict.WORSE: "is louder",
    Verdict.MOVED: "has moved",
    Verdict.CANNOT_TELL: "cannot be judged from these drives",
}


def answer(history: History) -> str:
    """Say which run is the best so far, what became of the drones, and what the latest did."""
    name = _quoted(history.runs[0].name)
    if history.baseline.withheld:
        why = history.baseline.withheld
        return f"Nothing to compare with: the baseline, {name}, gives no result, because {why}."
    if history.worst_band is None:
        return f"Nothing to follow: no drone was found in the baseline, {name}."
    best = best_run(history)
    if best is None or best.comparison is None:
        return _none_better(history)
    worst, *others = best.comparison.changes
    doubt = f" {_GAIN[0].upper()}{_GAIN[1:]}, so this is not sure." if is_doubtful(best) else ""
    return (
        f"Best so far: {_quoted(best.name)}. {_drone(worst.band)} {_VERDICTS[worst.verdict]}, "
        f"{_decibel(worst)} than in {name}{_others(others)}; {_new(best.comparison)}.{doubt}"
        f"{_beside_the_best(history, best)}"
    )


def best_run(history: History) -> Run | None:
    """Give the run with the quietest loudest drone, of those that made the worst one quieter.

    A run whose gain or microphone place seems to differ gives way to any other: its levels may be
    lower for no merit of its own.
    """
    better = [run for run in history.runs if _is_better(run.comparison)]
    sure = [run for run in better if not is_doubtful(run)]
    return min(sure or better, key=_loudest_left_db, default=None)


def is_doubtful(run: Run) -> bool:
    """Whether the levels may hold a change of recording gain or microphone place."""
    return run.comparison is not None and suspected(run.comparison.gain) is not None


def all_is_cured(run: Run) -> bool:
    """Whether every drone of the baseline is gone for sure, and nothing new came."""
    comparison = run.comparison
    return (
        comparison is not None
        and not is_doubtful(run)
        and bool(comparison.changes)
        and all(change.verdict is Verdict.CURED for change in comparison.changes)
        and not comparison.new_bands
        and not comparison.whistles
    )


def _is_better(comparison: Comparison | None) -> bool:
    return (
        comparison is not None
        and bool(comparison.changes)
        and comparison.changes[0].verdict in _BETTER
    )


def _loudest_left_db(run: Run) -> float:
    """Level of the loudest drone that is left or new: what a driver hears most.

    A change that is not known counts as none.
    """
    if run.comparison is None:
        return math.inf
    left = [c.band.level_db + _known(c.level_change_db) for c in run.comparison.changes]
    return max((*left, *(band.level_db for band in run.comparison.new_bands)))


def _known(change_db: float) -> float:
    return change_db if math.isfinite(change_db) else 0.0


def _none_better(history: History) -> str:
    name = _quoted(history.runs[0].name)
    compared = [run.comparison for run in history.runs if run.comparison is not None]
    if not compared:
        return f"No run can be compared with {name}; name another baseline with --baseline."
    latest = compared[-1]
    worst = latest.changes[0]
    return (
        f"No run is better than {name} so far: in {_quoted(latest.postfix_name)}, the latest, "
        f"{_drone(worst.band).lower()} {_VERDICTS[worst.verdict]}."
    )


def _beside_the_best(history: History, best: Run) -> str:
    """Say what else is as good, and when the latest run is not."""
    compared = [run for run in history.runs if run.comparison is not None]
    alike = [run for run in compared if _is_alike(run, best)]
    text = ""
    if alike:
        verb = "is" if len(alike) == 1 else "are"
        names = listed([_quoted(run.name) for run in alike])
        text = f" {names} {verb} as good, as far as these drives can tell."
    latest = compared[-1]
    if latest is best or latest in alike or latest.comparison is None:
        return text
    worst = latest.comparison.changes[0]
    change = f" ({_decibel(worst)})" if math.isfinite(worst.level_change_db) else ""
    doubt = f", but {_GAIN}" if is_doubtful(latest) else ""
    became = f"{_VERDICTS[worst.verdict]}{change}{doubt}"
    return f"{text} In {_quoted(latest.name)}, the latest, it {became}."


def _is_alike(run: Run, best: Run) -> bool:
    """Whether a run cannot be told from the best: no drone has another verdict or interval."""
    one, other = run.comparison, best.comparison
    if run is best or one is None or other is None or is_doubtful(run):
        return False
    if len(one.new_bands) > len(other.new_bands):
        return False
    return all(
        mine.verdict is its.verdict and _overlap(mine.ci95_db, its.ci95_db)
        for mine, its in zip(one.changes, other.changes, strict=True)
    )


def _overlap(one: Interval, other: Interval) -> bool:
    return one.low <= other.high and other.low <= one.high


def _quoted(name: str) -> str:
    return f"'{name}'"


def _drone(band: DroneBand) -> str:
    return f"The drone at {_rpm(band)}"


def _rpm(band: DroneBand) -> str:
    return f"{round(band.peak_rpm, -1):,.0f} rpm"


def _decibel(change: BandChange) -> str:
    word = "louder" if change.level_change_db > 0 else "quieter"
    return f"{abs(change.level_change_db):.0f} dB {word}"


def _others(others: list[BandChange]) -> str:
    """Name the weaker drones that are not cured as well, by verdict."""
    told = []
    for verdict in Verdict:
        where = [_rpm(each.band) for each in others if each.verdict is verdict]
        if where and verdict is not Verdict.CURED:
            told.append(f"{verdict.value} at {listed(where)}")
    return f"; weaker drones: {listed(told)}" if told else ""


def _new(comparison: Comparison) -> str:
    """Say what is there that the baseline did not have."""
    drones = [_rpm(band) for band in comparison.new_bands]
    tones = [f"{tone.frequency_hz:.0f} Hz" for tone in comparison.whistles]
    parts = [f"a new drone at {listed(drones)}"] if drones else []
    parts += [f"a new tone at {listed(tones)}"] if tones else []
    return f"but there is {listed(parts)}" if parts else "nothing new"
