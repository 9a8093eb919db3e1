"""One question of the car: what is asked, where to measure, and how the answer is read."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from analysis.errors import CarError

Answers = Mapping[str, str]
"""By a question's key, in the order asked; "" where nobody knows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One of the answers to choose from.

    ``looks`` is how to tell it from the others, ``also`` what people call it too.
    """

    name: str
    looks: str = ""
    also: tuple[str, ...] = ()

    def is_also(self, text: str) -> bool:
        """Tell whether a text is, or begins with, what it is called too: straight six."""
        return any(f"{text.lower()} ".startswith(f"{each} ") for each in self.also)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked.

    Attributes
    ----------
    key : stands for it in the answers
    asks : one sentence
    hint : where to look or measure, and an example
    words : that a free answer may begin with
    choices : in place of a free answer
    if_unknown : what becomes of it when nobody knows; "" where it must be answered
    read : raises a CarError on an answer that cannot be meant, and gives it as it is kept
    """

    key: str
    asks: str
    hint: str = ""
    words: tuple[Choice, ...] = ()
    choices: tuple[Choice, ...] = ()
    if_unknown: str = ""
    read: Callable[[str], str] = str.strip

    def answer(self, typed: str) -> str:
        """Give an answer as it is kept: the name of a choice, or text that was read once.

        Raises
        ------
        CarError
            It cannot be meant, or must be known; the message says what to type.
        """
        text = " ".join(typed.split())
        if text.lower() in ("", "unknown"):
            if not self.if_unknown:
                raise CarError("this one is needed; look it up and come back if you must")
            return ""
        return self._chosen(text) if self.choices else self.read(text)

    def _chosen(self, text: str) -> str:
        if text.isdecimal() and 1 <= int(text[:3]) <= len(self.choices):
            return self.choices[int(text[:3]) - 1].name
        names = [choice.name for choice in self.choices]
        exact = [name for name in names if name.lower() == text.lower()]
        begins = exact or [name for name in names if name.lower().startswith(text.lower())]
        if len(begins) != 1:
            begins = [choice.name for choice in self.choices if choice.is_also(text)]
        if len(begins) != 1:
            raise CarError(f"type one of the numbers 1 to {len(names)}, or the name beside it")
        return begins[0]
