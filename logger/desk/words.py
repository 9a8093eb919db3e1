"""How what was typed into a form becomes an option of a command."""
# SPDX-License-Identifier: GPL-2.0-or-later


def option(name: str, value: str) -> list[str]:
    """Give an option with its value as one word, so that no value is taken for an option.

    Nothing where nothing was typed.
    """
    return [f"{name}={value}"] if value else []
