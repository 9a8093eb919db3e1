"""From answers to what a car file holds, as plain data; every answer is checked with the rest."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.describe import said
from analysis.describe.piece import inside, piece
from analysis.describe.question import Answers
from analysis.describe.questions import (
    BALANCE,
    DIESEL,
    LEFT,
    ONE,
    RIGHT,
    ROTARY,
    TWO,
    TWO_STROKE,
    X,
    legs_asked,
    pieces_of,
    shape_of,
    unit_of,
)
from analysis.exhaust.car import parse_car
from analysis.exhaust.pipes import doubts_of_pipes
from analysis.words.mufflers import EMPTY

Table = dict[str, object]
_GAS_KEYS = ("inlet_gas_temperature", "outlet_gas_temperature")
_ROOM_KEYS = ("longest_branch", "widest_branch")

# A diesel's gas at cruise, cooler than a petrol engine's: within Heywood (1988), from memory. It is
# taken where nobody measured, as the sizing's own range is a petrol engine's.
_DIESEL_GAS = ("200..450 degC", "100..250 degC")


def car_table(answers: Answers) -> Table:
    """Give a car file's content; what is not answered yet, or not known, is left out.

    Raises
    ------
    CarError
        An answer that cannot be read.
    """
    tables = (
        ("engine", _engine(answers)),
        ("exhaust", _exhaust(answers)),
        ("room", _room(answers)),
    )
    return {name: table for name, table in tables if table}


def _engine(answers: Answers) -> Table:
    table: Table = {}
    kind = answers.get("engine")
    if kind == ROTARY:
        table["rotors"] = int(answers.get("rotors") or 1)
    else:
        table["cylinders"] = int(answers.get("cylinders") or 1)
    if kind == TWO_STROKE:
        table["stroke_cycle"] = 2
    if layout := answers.get("layout"):
        table["layout"] = layout
    if span := answers.get("range"):
        table["driving_range_rpm"] = said.rpm_range(span)
    return table


def _exhaust(answers: Answers) -> Table:
    table: Table = {}
    gas = said.one_or_two_temperatures(answers["gas"]) if answers.get("gas") else []
    # "" is asked and not known; while it is not asked yet, nothing is taken
    if answers.get("engine") == DIESEL and answers.get("gas") == "":
        gas = [*_DIESEL_GAS]
    table |= dict(zip(_GAS_KEYS, gas, strict=False))
    if not _are_legs(answers):
        if sections := _sections(answers, "pipe"):
            table["section"] = sections
        return table
    if legs := _legs(answers):
        table["leg"] = legs
        if link := _link(answers):
            table["link"] = [link]
    return table


def _are_legs(answers: Answers) -> bool:
    """Whether pipes are written as legs: several, or one where the engine leaves that open."""
    if answers.get("pipes") == ONE:
        return bool(doubts_of_pipes(parse_car({"engine": _engine(answers)})))
    return bool(answers.get("pipes"))


def _legs(answers: Answers) -> list[Table]:
    """Legs as far as they are told: one without pieces would be refused, and what it feeds."""
    shape, asked, legs = shape_of(answers), legs_asked(answers), []
    told: set[str] = set()
    for name, fed_by in shape.legs:
        source = fed_by[0] if len(fed_by) == 1 else list(fed_by)
        leg: Table = {"name": name, "from": source}
        is_fed = all(each in told or each not in dict(shape.legs) for each in fed_by)
        if name not in asked and LEFT in told:
            leg["like"] = LEFT
        elif is_fed and (sections := _sections(answers, name)):
            leg["section"] = sections
        else:
            continue
        legs.append(leg)
        told.add(name)
    return legs


def _sections(answers: Answers, leg: str) -> list[Table]:
    unit = unit_of(answers)
    sections: list[Table] = []
    for key in pieces_of(answers, leg):
        section: Table = dict(piece(answers[key], unit))
        made = answers.get(f"{key}.type")
        if made == EMPTY:
            section["kind"] = "chamber"
        elif made:
            section = {"kind": section.pop("kind"), "type": made, **section}
        sections.append(section)
    return sections


def _link(answers: Answers) -> Table | None:
    kind, at, size = (answers.get(key) for key in ("link", "link.at", "link.size"))
    if answers.get("pipes") != TWO or kind not in (X, BALANCE) or not at:
        return None
    unit = unit_of(answers)
    link: Table = {"kind": kind, "between": [LEFT, RIGHT], "at": [said.length(at, unit)] * 2}
    if kind == X:
        return link
    if not size:
        return None
    pipe = piece(f"pipe, {size}", unit)
    return {**link, "length": pipe["length"], "inner_diameter": inside(pipe)}


def _room(answers: Answers) -> Table:
    unit = unit_of(answers)
    table: Table = {}
    if told := answers.get("places"):
        places, leg = said.places(told, unit), shape_of(answers).room_on
        if not _are_legs(answers):
            table["places"] = places
        else:
            table["place"] = [{"leg": leg, "from": start, "to": end} for start, end in places]
    if size := answers.get("room"):
        table |= zip(_ROOM_KEYS, said.one_or_two_lengths(size, unit), strict=False)
    if beside := answers.get("beside"):
        table["beside"] = said.length(beside, unit)
    return table
