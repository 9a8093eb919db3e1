"""Which pipenote this is, kept with every session and report; and the tables that come with it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import tomllib
from importlib import resources
from importlib.metadata import PackageNotFoundError, version
from typing import Any


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
