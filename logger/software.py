"""Which pipenote this is; kept with every session and report."""
# SPDX-License-Identifier: GPL-2.0-or-later

from importlib.metadata import PackageNotFoundError, version


def own_version() -> str:
    """Give the installed version."""
    try:
        return version("pipenote")
    except PackageNotFoundError:
        return "not installed"
