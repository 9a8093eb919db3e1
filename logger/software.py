"""Which pipenote this is, the tables that come with it, and what other packages add to it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import resources
from importlib.metadata import EntryPoint, PackageNotFoundError, version
from typing import Any, TypeVar

from logger.errors import LoggerError

_T = TypeVar("_T")


def own_version() -> str:
    """Give the installed version."""
    try:
        return version("pipenote")
    except PackageNotFoundError:
        return "not installed"


def own_table(package: str, name: str) -> dict[str, Any]:
    """Read ``NAME.toml`` of a package of ours."""
    file = resources.files(package).joinpath(f"{name}.toml")
    return tomllib.loads(file.read_text(encoding="utf-8"))


@contextmanager
def others_code(told: Callable[[str], LoggerError]) -> Iterator[None]:
    """Run other people's code: whatever it does, ending the program too, is one error of ours.

    Raises
    ------
    LoggerError
        Its own, or what ``told`` makes of the words for anything else.
    """
    try:
        yield
    except LoggerError:
        raise
    except (Exception, SystemExit) as fault:
        raise told(in_words(fault)) from fault


def load_added(
    point: EntryPoint, make: Callable[[Any], _T], error: type[LoggerError], what: str, cure: str
) -> _T:
    """Load what another package adds, a ``what``, and make something of it.

    Raises
    ------
    LoggerError
        Its own, or ``error`` with whatever went wrong in other people's code, in one line.
    """

    def told(why: str) -> LoggerError:
        return error(f"the {what} {point.name} cannot be loaded ({why}); {cure}")

    with others_code(told):
        return make(point.load())


def in_words(fault: BaseException) -> str:
    """Kind and message of an error on one line."""
    return " ".join(f"{type(fault).__name__}: {fault}".split()).removesuffix(":")
