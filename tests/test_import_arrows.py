"""Which way imports point: from later rooms to earlier ones, and never from analysis to logger."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import ast
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ANALYSIS = sorted((ROOT / "analysis").rglob("*.py"))
LOGGER = sorted((ROOT / "logger").rglob("*.py"))
MAY_IMPORT_ANALYSIS = ("logger.session", "logger.command", "logger.desk")

# Each room may import only itself and what stands before it. A room's own folder comes after the
# rooms inside it, which hand it their results.
ANALYSIS_ROOMS = (
    "analysis.errors",
    "analysis.basics",
    "analysis.drive",
    "analysis.findings",
    "analysis.branches",
    "analysis.verdicts",
    "analysis.words",
    "analysis.acoustics",
    "analysis.exhaust",
    "analysis.bench",
    "analysis.describe",
    "analysis.find.sound",
    "analysis.find.speed",
    "analysis.find.curves",
    "analysis.find.bands",
    "analysis.find.doubts",
    "analysis.find",
    "analysis.size",
    "analysis.listen",
    "analysis.compare.match",
    "analysis.compare.trim",
    "analysis.compare",
    "analysis.build.workshop",
    "analysis.build.drawing",
    "analysis.build.sheets",
    "analysis.answers",
    "analysis.report",
    "analysis.job",
)
LOGGER_ROOMS = (
    "logger.errors",
    "logger.arrays",
    "logger.software",
    "logger.folder",
    "logger.session",
    "logger.shelf",
    "logger.microphone",
    "logger.sources.serial_urls",
    "logger.sources.contract",
    "logger.sources.rpm_watch",
    "logger.sources.port_word",
    "logger.sources.retry",
    "logger.sources.lines",
    "logger.sources.obd",
    "logger.sources.pulse",
    "logger.sources",
    "logger.recording",
    "logger.importing.request",
    "logger.importing.tables",
    "logger.importing.tracks",
    "logger.importing",
    "logger.screen",
    "logger.record",
    "logger.check",
    "logger.desk",
    "logger.command",
)
MOST_MODULES = 20  # in one folder: more than that nobody finds anything in

# Fails as on a machine without audio and serial libraries, and without the logger.
WITHOUT_HARDWARE_LIBRARIES = """
import importlib
import sys

class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("soundfile", "sounddevice", "serial", "obd", "logger"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Missing())
for name in sys.argv[1:]:
    importlib.import_module(name)
print(len(sys.argv) - 1)
"""


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def imported_names(path: Path) -> frozenset[str]:
    """Full name of every module, and of everything taken from one, that a file imports."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import; write it in full"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return frozenset(names)


def imported(path: Path) -> set[str]:
    """First part of the name of every module that a file imports, anywhere in it."""
    return {name.partition(".")[0] for name in imported_names(path)}


@cache
def place(name: str, rooms: tuple[str, ...]) -> int:
    """Place in the order of the innermost room that holds a module or a name in it."""
    inside = [room for room in rooms if name == room or name.startswith(f"{room}.")]
    assert inside, f"{name} lies in no room; give its room a place in the order"
    return rooms.index(max(inside, key=len))


def arrows_back(name: str, imports: Iterable[str], rooms: tuple[str, ...]) -> list[str]:
    """Imports of a module that point to a later room, each as one line."""
    own = rooms[0].partition(".")[0]
    mine = sorted(each for each in imports if each.startswith(f"{own}."))
    return [f"{name} -> {each}" for each in mine if place(each, rooms) > place(name, rooms)]


def run_without_hardware_libraries(*modules: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", WITHOUT_HARDWARE_LIBRARIES, *modules],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_module_of_the_analysis_imports_without_audio_or_serial_library() -> None:
    names = [module_name(path) for path in ANALYSIS]
    done = run_without_hardware_libraries(*names)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) == len(names) > 20


def test_the_check_above_can_fail() -> None:
    assert run_without_hardware_libraries("soundfile").returncode != 0
    assert run_without_hardware_libraries("logger.session").returncode != 0


def test_analysis_knows_no_logger_no_device_and_no_terminal() -> None:
    beyond = {"logger", "soundfile", "sounddevice", "serial", "obd", "pipenote"}
    beyond |= {"argparse", "rich", "sys", "getpass", "curses"}
    assert [path for path in ANALYSIS if imported(path) & beyond] == []


def test_only_session_and_commands_join_logger_and_analysis() -> None:
    apart = [path for path in LOGGER if not module_name(path).startswith(MAY_IMPORT_ANALYSIS)]
    assert [path for path in apart if "analysis" in imported(path)] == []
    assert [path for path in LOGGER if "pipenote" in imported(path)] == []


@pytest.mark.parametrize(
    ("paths", "rooms"),
    [(ANALYSIS, ANALYSIS_ROOMS), (LOGGER, LOGGER_ROOMS)],
    ids=["analysis", "logger"],
)
def test_a_room_imports_only_what_stands_before_it(
    paths: list[Path], rooms: tuple[str, ...]
) -> None:
    named = [(module_name(path), path) for path in paths if "." in module_name(path)]
    assert len(named) > 60
    back = [line for name, path in named for line in arrows_back(name, imported_names(path), rooms)]
    assert back == []


def test_an_arrow_back_is_seen() -> None:
    back = ["analysis.report.page.make_page"]
    assert len(arrows_back("analysis.size.plan", back, ANALYSIS_ROOMS)) == 1
    assert not arrows_back("analysis.report.page", ["analysis.size.plan.Plan"], ANALYSIS_ROOMS)


def test_no_folder_holds_more_modules_than_one_can_look_through() -> None:
    held = Counter(
        path.parent
        for top in ("analysis", "logger", "tests")
        for path in (ROOT / top).rglob("*.py")
        if path.name != "__init__.py"
    )
    assert len(held) > 40
    assert {str(folder) for folder, count in held.items() if count > MOST_MODULES} == set()


def test_each_room_states_its_contract() -> None:
    rooms = [path for path in [*ANALYSIS, *LOGGER] if path.name == "__init__.py"]
    silent = []
    for path in rooms:
        said = (ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").lower()
        if not all(word in said for word in ("takes", "gives", "knows nothing of")):
            silent.append(module_name(path))
    assert len(rooms) > 30
    assert silent == []
