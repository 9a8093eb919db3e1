"""What a recording makes of faults: python -m tests.benchmarks.recorder_faults.

Real recordings through PulseAudio and PortAudio, with emulated adapters: killed at random moments;
struck by eight kinds of faults of the sound system; with faults of an adapter or a printing board.
Each line of the table is one kind: how many, of how many the trouble was told, the worst error of
time (of a kill, the most sound that was lost), rows of rpm, and rows that are wrong. What is not as
it must be is printed below with its number, which ``--first`` and a count of one run again.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import multiprocessing
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from tests.benchmarks.recorder_faults import adapters, kills, sound
from tests.benchmarks.recorder_faults.outcome import Outcome, attempt

_GOOD = "as it must be"


def main() -> None:
    """Strike, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=100, metavar="N")
    parser.add_argument("--sound", type=int, default=50, metavar="N")
    parser.add_argument("--adapters", type=int, default=30, metavar="N")
    parser.add_argument("--first", type=int, default=0, help="number of the first of each")
    parser.add_argument("--jobs", type=int, default=4, help="recordings at once")
    wanted = parser.parse_args()
    first = wanted.first
    batches = range(first, first + wanted.kills, kills.AT_ONCE)
    outcomes = list(_each(outcome for batch in batches for outcome in kills.kill(batch)))
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(wanted.jobs, mp_context=context) as pool:
        outcomes += _each(
            pool.map(partial(attempt, sound.strike, "sound"), range(first, first + wanted.sound))
        )
        outcomes += _each(
            pool.map(
                partial(attempt, adapters.strike, "adapter"), range(first, first + wanted.adapters)
            )
        )
    _show(outcomes)


def _each(outcomes: Iterable[Outcome]) -> Iterator[Outcome]:
    for outcome in outcomes:
        print(f"{outcome.kind} {outcome.number}: {outcome.fault or _GOOD}", flush=True)
        yield outcome


def _show(outcomes: list[Outcome]) -> None:
    print(
        f"{'fault':40}{'how many':>9}{'told':>6}{'time error':>12}{'rows':>8}{'wrong':>7}{'bad':>5}"
    )
    for kind in dict.fromkeys(outcome.kind for outcome in outcomes):
        of_kind = [outcome for outcome in outcomes if outcome.kind == kind]
        worst_ms = 1e3 * max(outcome.late_s for outcome in of_kind)
        print(
            f"{kind:40}{len(of_kind):9}{sum(outcome.told for outcome in of_kind):6}"
            f"{worst_ms:9.0f} ms{sum(outcome.rows for outcome in of_kind):8}"
            f"{sum(outcome.wrong for outcome in of_kind):7}"
            f"{sum(bool(outcome.fault) for outcome in of_kind):5}"
        )
    bad = [outcome for outcome in outcomes if outcome.fault]
    print(f"{len(outcomes)} faults, {len(bad)} not as they must be")
    for outcome in bad:
        print(f"{outcome.kind} {outcome.number}: {outcome.fault}")


if __name__ == "__main__":
    main()
