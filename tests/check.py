"""Every check of the project, one after the other; ends with the status of the first that fails.

Run from anywhere: ``python tests/check.py``. Arguments go to pytest.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

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


def main(pytest_arguments: list[str]) -> int:
    """Run the checks in order."""
    for check in CHECKS:
        command = [sys.executable, "-m", *check]
        if check == ("pytest",):
            command += pytest_arguments
        print("checking:", *check, flush=True)
        status = subprocess.run(command, cwd=ROOT, check=False).returncode
        if status != 0:
            print("failed:", *check, flush=True)
            return status
    print("every check passed")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
