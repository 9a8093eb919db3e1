"""What differs between two car files, in a builder's words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Mapping

_MOST = 4  # judgement: texts in one line of a page


def car_changes(
    before: Mapping[str, object] | None, after: Mapping[str, object] | None
) -> tuple[str, ...]:
    """Give one text for each value that differs, in the order of the car file.

    ``before`` and ``after`` are car files as plain data; without one of them nothing is said.
    """
    if before is None or after is None:
        return ()
    old, new = dict(_values(before)), dict(_values(after))
    texts = [_text(name, old.get(name), new.get(name)) for name in {**old, **new}]
    told = tuple(text for text in texts if text)
    if len(told) <= _MOST:
        return told
    return (*told[:_MOST], f"and {len(told) - _MOST} more in the car file")


def _text(name: str, old: str | None, new: str | None) -> str:
    if old == new:
        return ""
    if new is None:
        return f"{name} no longer given, was {old}"
    return f"{name} {new}" + ("" if old is None else f", was {old}")


def _values(table: Mapping[str, object], above: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        name = f"{above} {key.replace('_', ' ')}".strip()
        if isinstance(value, Mapping):
            yield from _values(value, name)
        elif isinstance(value, list) and value and all(isinstance(v, Mapping) for v in value):
            yield f"number of {name}s", str(len(value))
            for number, item in enumerate(value, start=1):
                yield from _values(item, f"{name} {number}")
        else:
            yield name, _plain(value)


def _plain(value: object) -> str:
    if isinstance(value, list):
        return " to ".join(map(_plain, value)) if len(value) == 2 else ", ".join(map(_plain, value))
    return str(value)
