"""How what was typed into a form becomes an option of a command, and an option a field's name."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re

# what the desk's forms call what a command's complaint may name
_FIELDS = {
    "--longest-branch": "Room for a branch",
    "--pipe-diameter": "Inner diameter of the pipe",
    "--gas-temperature": "Gas in the branch",
    "--room": "Room beside the pipe",
    "--wall": "Wall of the pipe",
    "--bend-radius": "Radius of the bends you can buy",
    "--angle": "Angle of branch to pipe",
    "--tube": "Tube sizes",
    "--built": "Branches as built",
    "--rpm-at": "One rpm at one moment",
    "--idle-rpm": "Idle of the warm engine",
}
_OPTION = re.compile(r"--[a-z]+(-[a-z]+)*")


def with_fields(complaint: str) -> str:
    """Name the fields of the desk's forms where a command names its options."""
    return _OPTION.sub(
        lambda found: f"“{_FIELDS[found[0]]}”" if found[0] in _FIELDS else found[0], complaint
    )


def option(name: str, value: str) -> list[str]:
    """Give an option with its value as one word, so that no value is taken for an option.

    Nothing where nothing was typed.
    """
    return [f"{name}={value}"] if value else []
