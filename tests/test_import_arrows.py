"""Which way imports point: the analysis stands alone, the logger leans on it in one place only."""
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
MAY_IMPORT_ANALYSIS = {ROOT / "logger" / "session.py"}

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
def test_analysis_never_imports_the_logger_or_a_device_library(path: Path) -> None:
    assert not imported(path) & {"logger", "soundfile", "sounddevice", "serial", "obd", "pipenote"}


@pytest.mark.parametrize("path", LOGGER, ids=module_name)
def test_only_the_session_joins_logger_and_analysis(path: Path) -> None:
    assert ("analysis" in imported(path)) <= (path in MAY_IMPORT_ANALYSIS)
    assert "pipenote" not in imported(path)
