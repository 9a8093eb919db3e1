"""Several logs of one drive on one clock: halves of one, or rpm here and road speed there."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import pandas as pd

from logger.errors import TelemetryError
from logger.importing.request import ImportedTelemetry

# judgement: more than this between two logs, and they are of two drives
_LONGEST_BETWEEN_S = 6 * 3600.0
_DAY_S = 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """One log of several."""

    path: Path
    telemetry: ImportedTelemetry


def join_logs(logs: Sequence[Log], *, are_placed: bool) -> ImportedTelemetry:
    """Lay logs on the clock of the one that begins first, or as a person placed them.

    Where two hold the same quantity for the same time, the one named first counts.

    Raises
    ------
    TelemetryError
        The files do not tell how much time lies between them; the message names the option.
    """
    if len(logs) == 1:
        return logs[0].telemetry
    shifts_s, how = ([0.0] * len(logs), "by --time-offset-s") if are_placed else _shifts(logs)
    shifted = [
        each.telemetry.frame.assign(time_s=each.telemetry.frame["time_s"] + shift_s)
        for each, shift_s in zip(logs, shifts_s, strict=True)
    ]
    _refuse_far_apart(logs, shifted)
    frame, notes = _merged(logs, shifted)
    starts = [each.telemetry.start for each in logs if each.telemetry.start is not None]
    told = ", ".join(each.path.name for each in logs)
    first = logs[0].telemetry
    return replace(
        first,
        frame=frame,
        columns=tuple(
            replace(column, column=f"{each.path.name}: {column.column}")
            for each in logs
            for column in each.telemetry.columns
        ),
        start=min(starts) if starts else None,
        start_question=next(
            (each.telemetry.start_question for each in logs if each.telemetry.start_question), ""
        ),
        notes=(
            *dict.fromkeys(note for each in logs for note in each.telemetry.notes),
            f"{told} were joined {how}.",
            *notes,
        ),
    )


def _shifts(logs: Sequence[Log]) -> tuple[list[float], str]:
    """Seconds to add to each log's times, and in words how that is known."""
    frames = [each.telemetry.frame for each in logs]
    first_s = [float(frame["time_s"].iloc[0]) for frame in frames]
    starts = [each.telemetry.start for each in logs if each.telemetry.start is not None]
    if len(starts) == len(logs):
        earliest = min(starts)
        base_s = first_s[starts.index(earliest)]
        since_s = [(start - earliest).total_seconds() for start in starts]
        return [base_s + s - f for s, f in zip(since_s, first_s, strict=True)], "by their dates"
    for each in logs:
        if each.telemetry.start_question:
            raise TelemetryError(f"{each.path}: {each.telemetry.start_question}")
    clocks = [each.telemetry.clock_s for each in logs if each.telemetry.clock_s is not None]
    if len(clocks) == len(logs):
        # behind midnight where that is nearer
        since_s = [(c - clocks[0] + 0.5 * _DAY_S) % _DAY_S - 0.5 * _DAY_S for c in clocks]
        least_s = min(since_s)
        return [s - least_s - f for s, f in zip(since_s, first_s, strict=True)], "by their clocks"
    last_s = [float(frame["time_s"].iloc[-1]) for frame in frames]
    order = sorted(range(len(logs)), key=lambda at: first_s[at])
    goes_on = all(last_s[a] < first_s[b] for a, b in pairwise(order))
    if goes_on and not starts and not clocks:
        return [0.0] * len(logs), "by their times, which go on"
    named = zip(logs, first_s, strict=True)
    begins = " and ".join(f"{each.path.name} at {s:.4g} s" for each, s in named)
    raise TelemetryError(
        f"nothing tells how the clocks of these logs go together ({begins}); give --time-offset-s "
        f"with one number for each, such as --time-offset-s 0 {last_s[0]:.0f}"
    )


def _refuse_far_apart(logs: Sequence[Log], frames: Sequence[pd.DataFrame]) -> None:
    spans = sorted(
        (float(frame["time_s"].iloc[0]), float(frame["time_s"].iloc[-1])) for frame in frames
    )
    for (_, end_s), (start_s, _) in pairwise(spans):
        if start_s - end_s > _LONGEST_BETWEEN_S:
            names = " and ".join(each.path.name for each in logs)
            raise TelemetryError(
                f"{(start_s - end_s) / 3600:.1f} hours lie between {names}; import each drive by "
                "itself, or give --time-offset-s with one number for each if a clock was wrong"
            )


def _merged(
    logs: Sequence[Log], frames: Sequence[pd.DataFrame]
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Put the rows in order; a later log gives what the earlier ones named do not hold."""
    kept: list[pd.DataFrame] = []
    notes: list[str] = []
    for each, frame in zip(logs, frames, strict=True):
        left = frame.copy()
        for before in kept:
            first_s, last_s = before["time_s"].iloc[0], before["time_s"].iloc[-1]
            both = [name for name in before.columns if name in left.columns and name != "time_s"]
            inside = left["time_s"].between(first_s, last_s)
            if both and inside.any():
                left.loc[inside, both] = float("nan")
                notes.append(
                    f"{each.path.name} holds {', '.join(both)} for a time that a file named before "
                    "it holds too; the one named first counts."
                )
        kept.append(left)
    # one moment may stand in two files, with another quantity in each
    together = pd.concat(kept).groupby("time_s", sort=True).first().reset_index()
    together = together.dropna(how="all", subset=[*together.columns.drop("time_s")])
    return together.reset_index(drop=True), tuple(dict.fromkeys(notes))
