"""From a word such as ``replay:monday`` to a source.

A package adds a kind of its own with an entry point of the group ``pipenote.sources``::

    [project.entry-points."pipenote.sources"]
    mybox = "mypackage:MyBox"

``--rpm mybox:REST`` then calls ``MyBox("REST")``, which gives a
:class:`logger.sources.contract.RpmSource` without opening anything yet.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Iterable, Sequence
from importlib import import_module
from importlib.metadata import EntryPoint, entry_points

from logger.software import load_added
from logger.sources.contract import RpmSource, SourceError

ENTRY_POINT_GROUP = "pipenote.sources"
_CURE = "update or install its package again, or choose another --rpm"
_TOLD_OF_THE_ENGINE = frozenset({"pulse"})  # get cylinders and stroke_cycle as well
BUILT_IN = {  # imported only when asked for
    "gps": "logger.sources.lines.gps:GpsSource",
    "obd": "logger.sources.obd.source:ObdSource",
    "pulse": "logger.sources.pulse.source:PulseSource",
    "replay": "logger.sources.replay:ReplaySource",
    "serial": "logger.sources.lines.serial_lines:SerialLines",
}


def choose_sources(
    words: Sequence[str], *, cylinders: int | None, stroke_cycle: int = 4
) -> tuple[RpmSource, ...]:
    """Give the sources that the words name, in order; ``none`` names none.

    ``cylinders`` and ``stroke_cycle`` (4 or 2) are those of the engine, for sources that count.

    Raises
    ------
    SourceError
        A word cannot be understood, or stands there twice.
    SessionError
        ``replay:`` names no session.
    """
    if len(set(words)) < len(words):
        raise SourceError("--rpm names the same source twice; give each of them once")
    installed = tuple(entry_points(group=ENTRY_POINT_GROUP))
    made = (
        choose_source(word, installed=installed, cylinders=cylinders, stroke_cycle=stroke_cycle)
        for word in words
    )
    return tuple(source for source in made if source is not None)


def choose_source(
    word: str,
    *,
    installed: Iterable[EntryPoint],
    cylinders: int | None = None,
    stroke_cycle: int = 4,
) -> RpmSource | None:
    """Give the source that ``word`` names; None for ``none``."""
    if word == "none":
        return None
    others = {point.name: point for point in installed}
    kind, _, rest = word.partition(":")
    if not rest or (kind not in BUILT_IN and kind not in others):
        known = ", ".join(f"{name}:..." for name in sorted({*BUILT_IN, *others}))
        raise SourceError(f"--rpm {word!r} is not a source of rpm; use none, or one of {known}")
    if kind not in BUILT_IN:
        return _added(others[kind], rest)
    module, _, name = BUILT_IN[kind].partition(":")
    make = getattr(import_module(module), name)
    if kind in _TOLD_OF_THE_ENGINE:
        made = make(rest, cylinders=cylinders, stroke_cycle=stroke_cycle)
    else:
        made = make(rest)
    assert isinstance(made, RpmSource)
    return made


def load_kind(point: EntryPoint) -> Callable[[str], object]:
    """Load another package's source, and make none of it yet."""

    def check(loaded: Callable[[str], object]) -> Callable[[str], object]:
        if not callable(loaded):
            raise SourceError(f"the source {point.name} cannot be called; update or remove it")
        return loaded

    return load_added(point, check, SourceError, "source", _CURE)


def _added(point: EntryPoint, rest: str) -> RpmSource:
    def make(loaded: Callable[[str], object]) -> RpmSource:
        made = loaded(rest)
        if not isinstance(made, RpmSource) or not isinstance(made.name, str):
            raise SourceError(
                f"the source {point.name} lacks name, read or close; update or remove it"
            )
        return made

    return load_added(point, make, SourceError, "source", _CURE)
