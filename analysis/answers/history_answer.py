"""What a history comes to, in a sentence or two."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.compare.best_drive import best_drive, is_as_good
from analysis.compare.history import History, HistoryDrive
from analysis.compare.judgement import amount_is_sure, headline
from analysis.findings import DroneBand
from analysis.verdicts import BandChange, Comparison, Verdict
from analysis.words.quantities import quieter, rpm
from analysis.words.sentences import listed

_GAIN = ", but gain or microphone place seem to differ from the baseline's"
# Said after a verdict that stands with a suspected change of gain taken off as well.
_UNSURE = {
    Verdict.CURED: ", even if gain or microphone place differ from the baseline's, as it seems",
    Verdict.REDUCED: ", but how much is not sure: gain or microphone place seem to differ from the "
    "baseline's",
}
_VERDICTS = {
    Verdict.CURED: "is cured",
    Verdict.REDUCED: "is quieter, but not cured",
    Verdict.UNCHANGED: "is as loud as before",
    Verdict.WORSE: "is louder",
    Verdict.MOVED: "has moved",
    Verdict.CANNOT_TELL: "cannot be judged from these drives",
}


def history_answer(history: History) -> str:
    """Say which drive is the best so far, what became of the drones, and how the latest did."""
    name = _quoted(history.drives[0].name)
    if history.baseline.withheld:
        why = history.baseline.withheld
        return f"Nothing to compare with: the baseline, {name}, gives no result, because {why}."
    if history.worst_band is None:
        return f"Nothing to follow: no drone was found in the baseline, {name}."
    best = best_drive(history)
    if best is None or best.comparison is None:
        return _none_better(history)
    worst = _headline(best.comparison)
    others = [each for each in best.comparison.changes if each is not worst]
    return (
        f"Best so far: {_quoted(best.name)}. {_drone(worst.band)} {_VERDICTS[worst.verdict]}, "
        f"{quieter(worst.level_change_db)} than in {name}{_unsure(best.comparison)}"
        f"{_others(others)}; {_new(best.comparison)}.{_beside_the_best(history, best)}"
    )


def _headline(comparison: Comparison) -> BandChange:
    return headline(comparison) or comparison.changes[0]


def _unsure(comparison: Comparison) -> str:
    """Say what a suspected change of gain leaves of a verdict."""
    verdict = _headline(comparison).verdict
    return "" if amount_is_sure(comparison) else _UNSURE.get(verdict, _GAIN)


def _none_better(history: History) -> str:
    name = _quoted(history.drives[0].name)
    compared = [drive.comparison for drive in history.drives if drive.comparison is not None]
    if not compared:
        return f"No drive can be compared with {name}; name another baseline with --baseline."
    latest = compared[-1]
    worst = _headline(latest)
    return (
        f"No drive is better than {name} so far: in {_quoted(latest.postfix_name)}, the latest, "
        f"{_drone(worst.band).lower()} {_VERDICTS[worst.verdict]}."
    )


def _beside_the_best(history: History, best: HistoryDrive) -> str:
    """Name the drives that are as good, and say so if the latest is not."""
    compared = [drive for drive in history.drives if drive.comparison is not None]
    alike = [drive for drive in compared if is_as_good(drive, best)]
    text = ""
    if alike:
        verb = "is" if len(alike) == 1 else "are"
        names = listed([_quoted(drive.name) for drive in alike])
        text = f" {names} {verb} as good, as far as these drives can tell."
    latest = compared[-1]
    if latest is best or latest in alike or latest.comparison is None:
        return text
    worst = _headline(latest.comparison)
    change = f" ({quieter(worst.level_change_db)})" if math.isfinite(worst.level_change_db) else ""
    became = f"{_VERDICTS[worst.verdict]}{change}{_unsure(latest.comparison)}"
    return f"{text} In {_quoted(latest.name)}, the latest, it {became}."


def _quoted(name: str) -> str:
    return f"'{name}'"


def _drone(band: DroneBand) -> str:
    return f"The drone at {rpm(band.peak_rpm)}"


def _others(others: list[BandChange]) -> str:
    """Name the weaker drones that are not cured, by verdict."""
    told = []
    for verdict in Verdict:
        where = [rpm(each.band.peak_rpm) for each in others if each.verdict is verdict]
        if where and verdict is not Verdict.CURED:
            told.append(f"{verdict.value} at {listed(where)}")
    return f"; weaker drones: {listed(told)}" if told else ""


def _new(comparison: Comparison) -> str:
    """Name what the baseline did not have."""
    drones = [rpm(band.peak_rpm) for band in comparison.new_bands]
    tones = [f"{tone.frequency_hz:.0f} Hz" for tone in comparison.whistles]
    parts = [f"a new drone at {listed(drones)}"] if drones else []
    parts += [f"a new tone at {listed(tones)}"] if tones else []
    return f"but there is {listed(parts)}" if parts else "nothing new"
