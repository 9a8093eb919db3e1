"""Texts and tables that lie beside the code which shows them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from importlib import resources


def own_text(package: str, name: str) -> str:
    """Read a file of a package of ours."""
    return resources.files(package).joinpath(name).read_text(encoding="utf-8")


def one_line(text: str) -> str:
    """Put a text that was broken into lines for the reader of the file back into one."""
    return " ".join(text.split())
