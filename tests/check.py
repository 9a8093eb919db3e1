"""Every check of the project, one after the other; ends with the status of the first that fails.

Run from anywhere: ``python tests/check.py``. Arguments go to pytest.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CHECKS = (
    ("ruff", "check", "."),
    ("ruff", "format", "--check", "."),
    ("mypy",),
    ("pytest",),
)
# glibc gives each array's memory back to the system and asks for it again, which takes a tenth of
# all the time here (mallopt(3), Linux man-pages; other C libraries do not read this)
KEPT_MEMORY = {
    "MALLOC_TRIM_THRESHOLD_": str(1 << 28),
    "MALLOC_TOP_PAD_": str(1 << 24),
    "MALLOC_MMAP_THRESHOLD_": str(1 << 25),
}


def main(pytest_arguments: list[str]) -> int:
    """Run the checks in order."""
    for check in CHECKS:
        command = [sys.executable, "-m", *check]
        if check == ("pytest",):
            command += pytest_arguments
        print("checking:", *check, flush=True)
        environment = {**KEPT_MEMORY, **os.environ}
        status = subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode
        if status != 0:
            print("failed:", *check, flush=True)
            return status
    print("every check passed")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
