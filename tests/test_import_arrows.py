"""Which way imports point: from later rooms to earlier ones, and never from analysis to logger."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ANALYSIS = sorted((ROOT / "analysis").rglob("*.py"))
LOGGER = sorted((ROOT / "logger").rglob("*.py"))
MAY_IMPORT_ANALYSIS = ("logger.session", "logger.command")

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
    "analysis.find.sound",
    "analysis.find.speed",
    "analysis.find.curves",
    "analysis.find.bands",
    "analysis.find",
    "analysis.size",
    "analysis.compare.match",
    "analysis.compare.trim",
    "analysis.compare",
    "analysis.build.workshop",
    "analysis.build.sheets",
    "analysis.answers",
    "analysis.report",
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
    "logger.sources.plausible",
    "logger.sources.retry",
    "logger.sources.lines",
    "logger.sources.obd",
    "logger.sources.pulse",
    "logger.sources",
    "logger.recording",
    "logger.importing",
    "logger.screen",
    "logger.record",
    "logger.check",
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


def imported(path: Path) -> set[str]:
    """First part of the name of every module that a file imports, anywhere in it."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import; write it in full"
            names.add(str(node.module).partition(".")[0])
    return names


def imported_names(path: Path) -> set[str]:
    """Full name of everything of ours that a file imports."""
    return {
        f"{node.module}.{alias.name}"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module is not None
        for alias in node.names
        if node.module.partition(".")[0] in ("analysis", "logger")
    }


def place(name: str, rooms: tuple[str, ...]) -> int:
    """Place in the order of the innermost room that holds a module or a name in it."""
    inside = [room for room in rooms if name == room or name.startswith(f"{room}.")]
    assert inside, f"{name} lies in no room; give its room a place in the order"
    return rooms.index(max(inside, key=len))


def arrows_back(name: str, imports: set[str], rooms: tuple[str, ...]) -> list[str]:
    own = rooms[0].partition(".")[0]
    mine = [each for each in imports if each.startswith(f"{own}.")]
    return [each for each in mine if place(each, rooms) > place(name, rooms)]


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


@pytest.mark.parametrize("path", ANALYSIS, ids=module_name)
def test_analysis_knows_no_logger_no_device_and_no_terminal(path: Path) -> None:
    beyond = {"logger", "soundfile", "sounddevice", "serial", "obd", "pipenote"}
    assert not imported(path) & (beyond | {"argparse", "rich", "sys", "getpass", "curses"})


@pytest.mark.parametrize("path", LOGGER, ids=module_name)
def test_only_session_and_commands_join_logger_and_analysis(path: Path) -> None:
    joins = module_name(path).startswith(MAY_IMPORT_ANALYSIS)
    assert ("analysis" in imported(path)) <= joins
    assert "pipenote" not in imported(path)


@pytest.mark.parametrize("path", [*ANALYSIS, *LOGGER], ids=module_name)
def test_a_room_imports_only_what_stands_before_it(path: Path) -> None:
    name = module_name(path)
    if "." not in name:
        return
    rooms = ANALYSIS_ROOMS if name.startswith("analysis.") else LOGGER_ROOMS
    assert not arrows_back(name, imported_names(path), rooms)


def test_an_arrow_back_is_seen() -> None:
    back = {"analysis.report.page.make_page"}
    assert arrows_back("analysis.size.plan", back, ANALYSIS_ROOMS) == sorted(back)
    assert not arrows_back("analysis.report.page", {"analysis.size.plan.Plan"}, ANALYSIS_ROOMS)


@pytest.mark.parametrize("top", ["analysis", "logger", "tests"])
def test_no_folder_holds_more_modules_than_one_can_look_through(top: str) -> None:
    folders = [ROOT / top, *(path for path in (ROOT / top).rglob("*") if path.is_dir())]
    modules = {
        folder: [path for path in folder.glob("*.py") if path.name != "__init__.py"]
        for folder in folders
    }
    assert len(folders) > 5
    assert {f.name for f, held in modules.items() if len(held) > MOST_MODULES} == set()


@pytest.mark.parametrize(
    "path", [p for p in [*ANALYSIS, *LOGGER] if p.name == "__init__.py"], ids=module_name
)
def test_each_room_states_its_contract(path: Path) -> None:
    said = (ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").lower()
    assert all(word in said for word in ("takes", "gives", "knows nothing of")), said
