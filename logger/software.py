"""Which pipenote this is, the tables that come with it, and what other packages add to it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import tomllib
from collections.abc import Callable
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


def load_added(
    point: EntryPoint, make: Callable[[Any], _T], error: type[LoggerError], what: str, cure: str
) -> _T:
    """Load what another package adds, a ``what``, and make something of it.

    Raises
    ------
    LoggerError
        Its own, or ``error`` with whatever went wrong in other people's code, in one line.
    """
    try:
        return make(point.load())
    except LoggerError:
        raise
    except Exception as fault:  # other people's code
        raise error(
            f"the {what} {point.name} cannot be loaded ({in_words(fault)}); {cure}"
        ) from fault


def in_words(fault: Exception) -> str:
    """Kind and message of an error on one line."""
    return " ".join(f"{type(fault).__name__}: {fault}".split()).removesuffix(":")
