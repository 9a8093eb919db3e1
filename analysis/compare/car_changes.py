"""What was changed on a car between two drives, by their car files."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Mapping

_MOST = 4  # judgement: texts on a car in one line of a page


def car_changes(
    before: Mapping[str, object] | None, after: Mapping[str, object] | None
) -> tuple[str, ...]:
    """Give one text for each value that differs, in a builder's words and the car file's order.

    ``before`` and ``after`` are car files as plain data; without one of them nothing is said.
    """
    if before is None or after is None:
        return ()
    old, new = dict(_values(before)), dict(_values(after))
    told: list[str] = []
    # the old names first: what is gone is told where it stood
    for name in {**old, **new}:
        was, now = old.get(name), new.get(name)
        if now is None:
            told.append(f"{name} no longer given, was {was}")
        elif was != now:
            told.append(f"{name} {now}" + ("" if was is None else f", was {was}"))
    if len(told) > _MOST:
        told[_MOST:] = [f"and {len(told) - _MOST} more in the car file"]
    return tuple(told)


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
