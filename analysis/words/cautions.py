"""The cautions that page and sheets show; their words are ``cautions.toml``."""
# SPDX-License-Identifier: GPL-2.0-or-later

import tomllib
from typing import NamedTuple

from analysis.basics.own_files import one_line, own_text


class Caution(NamedTuple):
    """What it is about, what to do, and on whose word."""

    label: str
    text: str
    source: str


_TOLD = tomllib.loads(own_text("analysis.words", "cautions.toml"))
DEFER, CAUTION_LINE = one_line(_TOLD["defer"]), one_line(_TOLD["line"])
CAUTIONS = tuple(
    Caution(label=each["label"], text=one_line(each["text"]), source=each["source"])
    for each in _TOLD["caution"]
)
