"""What the importer says of thousands of mangled logs, how long it takes and how much memory.

    python -m tests.benchmarks.mangled_logs [logs [SEED]]

Takes the logs of the tests, changes bytes, cells and lines of each, and reads it, every second time
with options that may be wrong. Counts those that
were read and those that were refused with one line; anything else is shown with the bytes that
caused it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import random
import resource
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from logger.errors import TelemetryError
from logger.importing.plugins import check_telemetry, read_telemetry_file
from logger.importing.request import TelemetryOptions
from tests.logger.importing.mangling import any_options, mangled


def main(logs: int, seed: int) -> None:
    rng = random.Random(seed)
    outcomes: Counter[str] = Counter()
    slowest_s = 0.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log"
        for at in range(logs):
            content = mangled(rng)
            path.write_bytes(content)
            began_s = time.process_time()
            outcome = read(path, any_options(rng))
            slowest_s = max(slowest_s, time.process_time() - began_s)
            outcomes[outcome] += 1
            if outcome not in ("read", "refused in one line"):
                print(f"log {at}: {outcome}: {content!r}")
    for outcome, count in outcomes.most_common():
        print(f"{count:7} {outcome}")
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"slowest {slowest_s:.2f} s, most memory {peak_mb:.0f} MB")


def read(path: Path, options: TelemetryOptions) -> str:
    try:
        got = read_telemetry_file(path, options, importer=None, installed=())
        check_telemetry("log", got)
    except TelemetryError as refusal:
        told = str(refusal)
        return "refused in one line" if "\n" not in told and "failed:" not in told else told
    except Exception:  # whatever a reader lets out is the fault that is looked for
        return traceback.format_exc()
    return "read"


if __name__ == "__main__":
    told = [int(word) for word in sys.argv[1:]]
    main(*(told + [10_000, 1][len(told) :]))
