"""What is wrong is said at once: nothing that is slow to load is loaded before."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import pipenote
from tests.command_line import BASELINE, CAR, Run

# What takes longest to load of all that a command may need, and what of ours loads the rest.
_SLOW = ("scipy", "pandas", "plotly", "reportlab", "jinja2", "openpyxl", "av", "analysis.job")
_REFUSED = (
    "find nowhere",
    f"find {BASELINE} --car nowhere.toml",
    "size nowhere",
    f"size {BASELINE} --car nowhere.toml",
    f"size {BASELINE} --tube wide",
    f"size {BASELINE} --order 3",
    "report nowhere --out new.html",
    f"report {BASELINE} --out new.html --longest-branch 70",
    f"report {BASELINE} nowhere --out new.html",
    f"compare {BASELINE} nowhere",
    f"compare {BASELINE} {BASELINE}",
    "history nowhere",
    "car nowhere.toml",
    "import --out new nowhere.m4a",
    f"import --out new {BASELINE}/audio.wav --telemetry nowhere.csv",
    f"import --out new --audio {BASELINE}/telemetry.csv --telemetry {BASELINE}/audio.wav",
    f"import --out {BASELINE} {CAR}/../postfix/audio.wav",
)
_SCRIPT = f"""
import sys
import pipenote
for words in sys.argv[1:]:
    try:
        status = pipenote.main(words.split())
    except SystemExit as end:
        status = end.code
    print(status, *(name for name in {_SLOW!r} if name in sys.modules), sep=",")
"""


def test_what_is_wrong_is_said_before_anything_slow_is_loaded(tmp_path: Path) -> None:
    root = Path(pipenote.__file__).parent
    ended = subprocess.run(
        [sys.executable, "-c", _SCRIPT, *_REFUSED],
        capture_output=True,
        check=True,
        text=True,
        cwd=tmp_path,
        env={"PYTHONPATH": str(root)},
    )
    told = dict(zip(_REFUSED, ended.stdout.splitlines(), strict=True))
    assert told == dict.fromkeys(_REFUSED, "2"), ended.stderr
    assert len(ended.stderr.splitlines()) == len(_REFUSED)


def test_help_needs_no_numbers() -> None:
    script = (
        "import sys, pipenote; pipenote.make_parser().format_help(); print(*sys.modules, sep=',')"
    )
    root = Path(pipenote.__file__).parent
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, check=True, text=True, cwd=root
    )
    assert not {"numpy", *_SLOW} & set(ended.stdout.strip().split(","))


def test_find_needs_no_drawing() -> None:
    """What draws pages and sheets takes 10 MB and a moment to load, and find shows neither."""
    script = (
        "import sys, pipenote, logger.command.tables.find, analysis.job; "
        "print(*sys.modules, sep=',')"
    )
    root = Path(pipenote.__file__).parent
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, check=True, text=True, cwd=root
    )
    assert not {"plotly", "reportlab", "jinja2"} & set(ended.stdout.strip().split(","))


@pytest.mark.parametrize("command", ["find", "size", "report"])
def test_a_session_that_was_mistyped_is_named(run: Run, tmp_path: Path, command: str) -> None:
    (tmp_path / "monday").mkdir()
    (tmp_path / "monday" / "session.json").write_text("{}", encoding="utf-8")
    (tmp_path / "mondays").mkdir()  # no session
    result = run(command, tmp_path / "mondy")
    assert result.status == 2
    assert f"did you mean {tmp_path / 'monday'}?" in result.err
