"""Whose rpm is recorded, where several sources give it: that of the first one named."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence


class RpmChoice:
    """Keeps two sources from taking turns in one column: they may differ in delay, or by a factor.

    Until the first one named gives rpm, which may take it a while, the next one stands in.

    Parameters
    ----------
    names : sequence of str
        Of the sources, each once, in the order in which they were named.
    """

    def __init__(self, names: Sequence[str]) -> None:
        self._names = tuple(names)
        self._chosen = len(self._names)
        self._seen: set[int] = set()

    def is_recorded(self, name: str) -> bool:
        """Whether rpm of this source is what is recorded now."""
        return self._chosen < len(self._names) and name == self._names[self._chosen]

    def judge(self, name: str, quantity: str) -> tuple[bool, str]:
        """Say whether to record a reading, and what to tell; empty when that was told before."""
        if quantity != "rpm":
            return True, ""
        rank = self._names.index(name)
        before, self._chosen = self._chosen, min(rank, self._chosen)
        told = ""
        if self._seen and rank not in self._seen:
            left, kept = self._names[max(rank, before)], self._names[self._chosen]
            told = (
                f"rpm of {left} is left out, as {kept}, named before it, gives rpm too; name the "
                "better one first"
            )
        self._seen.add(rank)
        return rank == self._chosen, told
