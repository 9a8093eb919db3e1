"""How far each constant moves the answers: python -m tests.benchmarks.constants [ROOM ...].

Every numeric constant at the top level of a module is made 20 % larger, alone, and the stages that
stand on its room are asked again: ``find`` on a drive with a log, on one without, and on levels
alone; ``size`` on the whole exhaust and on a pipe of unknown length; ``compare`` on a pair, trimmed
on the whole exhaust and by frequency. A stage takes the unchanged results of the stage before.

The source is changed before the module is run, so what is computed from a constant, and whoever
imported it, follow. A whole number grows by at least one, the numbers of a tuple grow together, and
a share or ratio between 0.8 and 1.25 moves 20 % farther from one. The constants of a module are
first changed all together: where that moves nothing, none is said to.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import ast
import contextlib
import dataclasses
import importlib
import multiprocessing
import resource
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from multiprocessing.connection import Connection
from pathlib import Path
from types import CodeType, ModuleType

import numpy as np

from tests.benchmarks.constant_cases import ASKED, Answers, Made, make

# Nothing of ``analysis`` is imported up here: each constant gets a fork that has not run it yet.

ROOT = Path(__file__).resolve().parents[2]
MOST_S = 60.0  # of processor time: a constant that makes a search endless is a result too

# Which stages stand on a room; those of rooms not named here only show what the stages found.
_STAGES = {
    "analysis.basics": ("find", "size", "compare"),
    "analysis.drive": ("find",),
    "analysis.findings": ("find", "compare"),
    "analysis.acoustics": ("size", "compare"),
    "analysis.exhaust": ("size", "trim"),
    "analysis.find": ("find",),
    "analysis.size": ("size",),
    "analysis.compare": ("compare",),
    "analysis.compare.trim": ("compare", "trim"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One name that a module gives a number to."""

    module: str
    name: str
    line: int


def constants(path: Path) -> Iterator[Constant]:
    """Names with a number in what they are set to, in the order of the file."""
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for statement in ast.parse(path.read_text(encoding="utf-8")).body:
        value = getattr(statement, "value", None)
        if isinstance(statement, ast.Assign | ast.AnnAssign) and value is not None:
            for name in _names(statement) if _holds_number(value) else ():
                yield Constant(module=module, name=name, line=statement.lineno)


def larger(value: object) -> object:
    """20 % more, as the top of this file says; what is no number comes back as it is."""
    if isinstance(value, bool | str | bytes) or callable(value):
        return value
    if isinstance(value, int):
        return value + max(1, round(0.2 * abs(value)))
    if isinstance(value, float):
        return 1.0 + 1.2 * (value - 1.0) if 0.8 < value < 1.25 and value != 1.0 else 1.2 * value
    if isinstance(value, np.ndarray):
        return value * value.dtype.type(1.2) if value.dtype.kind in "fc" else value
    if isinstance(value, tuple | list):
        return type(value)(larger(each) for each in value)
    if isinstance(value, dict):
        return {key: larger(each) for key, each in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {f.name: larger(getattr(value, f.name)) for f in dataclasses.fields(value)}
        return replace(value, **fields)
    return value


class _Finder(MetaPathFinder):
    """Finds one module ahead of all others, to run it with some of its constants made larger."""

    def __init__(self, constants: Sequence[Constant]) -> None:
        self._constants = constants

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        del path, target
        if fullname != self._constants[0].module:
            return None
        file = ROOT / (fullname.replace(".", "/") + ".py")
        return spec_from_file_location(fullname, file, loader=_Loader(self._constants, file))


class _Loader(SourceFileLoader):
    def __init__(self, constants: Sequence[Constant], file: Path) -> None:
        super().__init__(constants[0].module, str(file))
        self._constants = constants

    def get_code(self, fullname: str) -> CodeType:
        del fullname
        tree = ast.parse(self.get_data(self.path))
        body = []
        for statement in tree.body:
            body.append(statement)
            for name in (each.name for each in self._constants if each.line == statement.lineno):
                call = f"{name} = __import__({__name__!r}, fromlist=['larger']).larger({name})"
                body += ast.parse(call).body
        tree.body = body
        return compile(ast.fix_missing_locations(tree), self.path, "exec")


def answers_with(larger_ones: Sequence[Constant], stages: Sequence[str], made: Made) -> Answers:
    """Answers of the stages, each with the name of its stage; an exception is an answer as well."""
    if larger_ones:
        sys.meta_path.insert(0, _Finder(larger_ones))
    answers: Answers = {}
    for stage in stages:
        try:
            of_stage = ASKED[stage](made)
        except Exception as error:  # whatever the changed constant broke
            of_stage = {"refused": f"{type(error).__name__}: {error}"[:90]}
        answers |= {f"{stage} {key}": value for key, value in of_stage.items()}
    if not larger_ones:
        own = ("analysis", "logger", "tests", "__")
        answers["libraries"] = " ".join(name for name in sys.modules if not name.startswith(own))
    return answers


def difference(before: Answers, after: Answers) -> str:
    """Largest move of each kind of number, and each text that is another; nothing if all agree."""
    moves: dict[str, float] = {}
    texts = []
    for key in sorted(before.keys() | after.keys()):
        old, new = before.get(key), after.get(key)
        if isinstance(old, float | int) and isinstance(new, float | int):
            words = key.split()
            kind = f"{words[0]} {words[-2]} {words[-1]}"
            moves[kind] = max(moves.get(kind, 0.0), abs(new - old), key=abs)
        elif isinstance(old or new, str) and old != new:
            texts.append(f"{key}: {old or 'none'} -> {new or 'none'}")
    told = [f"{kind} {size:.2g}" for kind, size in moves.items() if size >= 0.005]
    return "; ".join(told + texts) or "nothing"


def in_a_fork(work: Callable[[], object]) -> object:
    """Result of some work in a process of its own; None where it died or took too long."""
    receiving, sending = multiprocessing.Pipe(duplex=False)
    context = multiprocessing.get_context("fork")
    process = context.Process(target=_work, args=(work, sending))
    process.start()
    sending.close()
    try:
        return receiving.recv()
    except EOFError:
        return None
    finally:
        process.join()


def _work(work: Callable[[], object], sending: Connection) -> None:
    limit_s = int(MOST_S)
    resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s))
    sending.send(work())


def _names(statement: ast.Assign | ast.AnnAssign) -> list[str]:
    targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
    each = [name for target in targets for name in getattr(target, "elts", [target])]
    return [name.id for name in each if isinstance(name, ast.Name)]


def _holds_number(value: ast.expr) -> bool:
    return any(
        isinstance(node, ast.Constant)
        and isinstance(node.value, int | float)
        and not isinstance(node.value, bool)
        for node in ast.walk(value)
    )


def _stages_of(module: str) -> tuple[str, ...]:
    room = max((r for r in _STAGES if f"{module}.".startswith(f"{r}.")), key=len, default="")
    return _STAGES.get(room, ())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rooms", nargs="*", default=["analysis"], help="such as analysis.find")
    rooms = parser.parse_args().rooms
    made = in_a_fork(make)
    assert isinstance(made, Made)
    run(rooms, made)


def run(rooms: Sequence[str], made: Made) -> None:
    """Measure the constants of some rooms, and print a line for each."""
    before: dict[tuple[str, ...], Answers] = {}
    for path in sorted((ROOT / "analysis").rglob("*.py")):
        of_module = list(constants(path))
        stages = _stages_of(of_module[0].module) if of_module else ()
        if not stages or not any(f"{of_module[0].module}.".startswith(f"{r}.") for r in rooms):
            continue
        if stages not in before:
            before[stages] = _asked((), stages, made)
            _import(str(before[stages].pop("libraries", "")))
        for constant, moved in _moves(of_module, stages, made, before[stages]):
            print(f"{constant.module}.{constant.name}: {moved}", flush=True)


def _moves(
    group: list[Constant], stages: tuple[str, ...], made: Made, before: Answers
) -> Iterator[tuple[Constant, str]]:
    """What each moves. All together first: most move nothing, and half of a group is half of it."""
    moved = difference(before, _asked(group, stages, made))
    half = len(group) // 2
    if moved == "nothing" or not half:
        yield from ((constant, moved) for constant in group)
    else:
        yield from _moves(group[:half], stages, made, before)
        yield from _moves(group[half:], stages, made, before)


def _import(names: str) -> None:
    """Import the libraries once, up here, rather than in each fork."""
    for name in names.split():
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def _asked(larger_ones: Sequence[Constant], stages: tuple[str, ...], made: Made) -> Answers:
    answers = in_a_fork(lambda: answers_with(larger_ones, stages, made))
    return answers if isinstance(answers, dict) else {"all": "no answer: it died or took too long"}


if __name__ == "__main__":
    main()
