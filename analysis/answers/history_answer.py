"""What a history comes to, in a sentence or two."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.compare.best_drive import best_drive, is_as_good, is_doubtful
from analysis.compare.history import History, HistoryDrive
from analysis.findings import DroneBand
from analysis.verdicts import BandChange, Comparison, Verdict
from analysis.words.quantities import quieter, rpm
from analysis.words.sentences import listed

_GAIN = "recording gain or microphone place seems to differ from the baseline's"
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
    worst, *others = best.comparison.changes
    doubt = f" {_GAIN[0].upper()}{_GAIN[1:]}, so this is not certain." if is_doubtful(best) else ""
    return (
        f"Best so far: {_quoted(best.name)}. {_drone(worst.band)} {_VERDICTS[worst.verdict]}, "
        f"{quieter(worst.level_change_db)} than in {name}{_others(others)}; "
        f"{_new(best.comparison)}.{doubt}{_beside_the_best(history, best)}"
    )


def _none_better(history: History) -> str:
    name = _quoted(history.drives[0].name)
    compared = [drive.comparison for drive in history.drives if drive.comparison is not None]
    if not compared:
        return f"No drive can be compared with {name}; name another baseline with --baseline."
    latest = compared[-1]
    worst = latest.changes[0]
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
    worst = latest.comparison.changes[0]
    change = f" ({quieter(worst.level_change_db)})" if math.isfinite(worst.level_change_db) else ""
    doubt = f", but {_GAIN}" if is_doubtful(latest) else ""
    became = f"{_VERDICTS[worst.verdict]}{change}{doubt}"
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
