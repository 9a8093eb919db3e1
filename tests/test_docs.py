"""What the README and DEVELOPERS.md say is what there is."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import pipenote

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = ROOT / "logger" / "command" / "COMMANDS.md"
CAR_FILE = ROOT / "analysis" / "exhaust" / "CAR_FILE.md"
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
WINDOWS_VENV = "py -m venv .venv; "

# What others call; they rely on these words.
CONTRACT = {
    "demo": ["--out", "--overwrite"],
    "car": ["FILE", "--out", "--svg", "--overwrite"],
    "check": [],
    "record": ["--out", "--car", "--cylinders", "--microphone", "--rpm", "--seconds", "--plain"],
    "import": ["--out", "--audio", "--telemetry", "--car", "--cylinders", "--channel"],
    "find": ["SESSION", "--json", "--idle-rpm", "--rpm-at"],
    "size": ["SESSION", "--car", "--json", "--rpm", "--order", "--cylinders", "--hz"],
    "compare": ["BASELINE", "POSTFIX", "--car", "--json"],
    "history": ["FOLDER", "--baseline", "--car", "--cylinders", "--json", "--out", "--overwrite"],
    "report": ["SESSION", "POSTFIX", "--car", "--out", "--rpm", "--overwrite"],
    "desk": ["FOLDER", "--port", "--no-browser", "--listen"],
}


def block(marker: str, text: str = README) -> str:
    """The fenced block that follows a marker in a page."""
    found = re.search(rf"<!-- {marker} -->\n```\w+\n(.*?)```", text, re.DOTALL)
    assert found, f"no block is marked {marker}"
    return found[1]


def shell_blocks(text: str = README) -> list[str]:
    return re.findall(r"```sh\n(.*?)```", text, re.DOTALL)


def typed_commands(text: str) -> list[str]:
    """Every pipenote command that a page tells people to type."""
    lines = [line for block in shell_blocks(text) for line in block.splitlines()]
    inline = [" ".join(each.split()) for each in re.findall(r"`(pipenote \w+[^`]*)`", text)]
    return [line for line in lines if line.startswith("pipenote ")] + inline


def test_help_in_the_readme_is_the_live_help(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert block("help") == pipenote.make_parser().format_help()


@pytest.mark.parametrize(
    ("marker", "extra", "last"),
    [
        ("demo", "-e .", "pipenote demo"),
        ("tests", '-e ".[dev]"', "python tests/check.py"),
    ],
)
def test_each_of_the_two_commands_is_complete_in_one_line(
    marker: str, extra: str, last: str
) -> None:
    (line,) = block(marker).splitlines()
    assert line.split(" && ") == [
        "python3 -m venv .venv",
        f".venv/bin/python -m pip install -c constraints.txt {extra}",
        f".venv/bin/{last}",
    ]
    windows = re.sub(r"\.venv/bin/", r".venv\\Scripts\\", line)
    windows = windows.replace("python3 -m venv", "py -m venv").replace(" && ", "; ")
    assert windows.replace("tests/check", "tests\\check") in README


def test_the_readme_is_short_and_its_pictures_are_small() -> None:
    assert len(README.splitlines()) < 150
    names = re.findall(r"!\[[^\]]+\]\((analysis/report/pictures/[\w.]+)\)", README)
    pictures = [ROOT / name for name in names]
    assert len(pictures) == 3
    assert sum(picture.stat().st_size for picture in pictures) < 600_000


def test_the_version_is_the_newest_of_the_changes() -> None:
    told = re.search(
        r'^version = "([0-9.]+)"$', (ROOT / "pyproject.toml").read_text(), re.MULTILINE
    )
    newest = re.search(r"^## ([0-9.]+)$", (ROOT / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert told
    assert newest
    assert told[1] == newest[1]


def test_the_readme_sets_up_exactly_two_ways() -> None:
    assert sum("-m venv" in text for text in shell_blocks()) == 2


@pytest.mark.parametrize("page", [ROOT / "README.md", COMMANDS, CAR_FILE], ids=lambda p: p.name)
def test_commands_that_people_are_told_to_type_parse(page: Path) -> None:
    commands = typed_commands(page.read_text(encoding="utf-8"))
    assert commands
    for line in commands:
        pipenote.make_parser().parse_args(shlex.split(line)[1:])


def test_the_readme_tells_every_command() -> None:
    told = {line.split()[1] for line in typed_commands(README)} | {"demo"}
    assert told == set(CONTRACT)


@pytest.mark.parametrize("command", sorted(CONTRACT))
def test_command_has_the_words_that_others_rely_on(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        pipenote.main([command, "--help"])
    words = set(re.findall(r"--[\w-]+|[A-Z]+", capsys.readouterr().out))
    assert set(CONTRACT[command]) <= words


def test_example_for_a_notebook_runs() -> None:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", block("example", DEVELOPERS)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("order 3 at ")
    assert "cut " in done.stdout
    assert "a page of " in done.stdout


@pytest.mark.parametrize(
    "page", [ROOT / "README.md", ROOT / "DEVELOPERS.md", COMMANDS, CAR_FILE], ids=lambda p: p.name
)
def test_files_that_the_docs_name_exist(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#:]+)\)", text)
    named = re.findall(r"`((?:analysis|logger|tests|recorded_sessions)/[\w./]*)`", text)
    assert links + named
    assert [link for link in links if not (page.parent / link).exists()] == []
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_benchmarks_that_the_docs_name_exist() -> None:
    modules = re.findall(r"-m (tests\.benchmarks\.\w+)", DEVELOPERS)
    assert modules
    paths = [ROOT / module.replace(".", "/") for module in modules]
    assert all(p.with_suffix(".py").exists() or (p / "__main__.py").exists() for p in paths)


def test_constraints_are_names_versions_and_markers_only() -> None:
    line = re.compile(r"[a-z0-9-]+==[0-9][0-9a-z.]*( ; [a-z_]+ [=!<>]+ '[\w.]+')?")
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    assert len(lines) > 30
    assert [text for text in lines if not line.fullmatch(text)] == []


@pytest.mark.skipif(shutil.which("awk") is None, reason="awk is not installed")
def test_ci_runs_the_test_command_of_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    start, end = script.index("awk '") + len("awk '"), script.index('\' "$project/README.md"')
    done = subprocess.run(
        ["awk", script[start:end], str(ROOT / "README.md")],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == block("tests")
