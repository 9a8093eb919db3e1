"""``sizing.json`` of a session: what ``size`` said was to be built, for the comparison later.

It is the document that ``size --json`` prints.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.basics.interval import Interval
from analysis.basics.units import ZERO_C_K
from analysis.branches import Can, SlidingCap, Tube, cap_on
from analysis.compare.trim.built import BuiltBranch, SizedBranches
from analysis.errors import AnalysisError
from analysis.exhaust.tube_stock import parse_tube
from logger.errors import SessionError
from logger.folder.json_fields import JsonFields, any_text, mapping, number, pair, whole, yes_or_no
from logger.folder.output_file import write_text
from logger.folder.text_decoding import read_whole

SIZING_FILE = "sizing.json"
_LARGEST_BYTES = 1_000_000  # judgement: a hundred times any sizing's
_AGAIN = "size again with --keep --overwrite"
# judgement: what no branch exceeds; a value beyond is damage.
_LENGTH_MM = number(1.0, 20_000.0)
_BORE_MM = number(10.0, 300.0)
_FREQUENCY_HZ = number(1.0, 2_000.0)
_GAS_C = number(-100.0, 1_000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """A plan as it was laid beside others; ``places`` is what ``size --branches`` takes."""

    name: str
    places: int
    welds: int
    cured_now_percent: int
    cured_adjusted_percent: int
    is_chosen: bool


def keep_sizing(folder: Path, document: Mapping[str, object], *, overwrite: bool) -> Path:
    """Write what ``size`` says beside the session's other files.

    Raises
    ------
    OutputError
        It is there already and ``overwrite`` is not set, or cannot be written.
    """
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    write_text(folder / SIZING_FILE, f"{text}\n", overwrite=overwrite)
    return folder / SIZING_FILE


def is_kept(folder: Path) -> bool:
    """Whether something is kept there as to be built."""
    return (folder / SIZING_FILE).exists()


def kept_sizing(folder: Path) -> SizedBranches | None:
    """Read what ``size`` said; None where nothing was kept, or nothing was to be built.

    Raises
    ------
    SessionError
        The file cannot be read, or is damaged.
    """
    fields = _fields(folder)
    if fields is None:
        return None
    branches = fields.inner_each("branches")
    if not branches:
        return None
    fields.needed("target", mapping)
    target = fields.inner("target")
    return SizedBranches(
        engine_order=target.one("engine_order", number(0.0, 100.0)),
        peak_hz=target.needed("peak_hz", _FREQUENCY_HZ),
        gas_k=ZERO_C_K + branches[0].needed("gas_temperature_c", _GAS_C),
        branches=_together(branches),
        kept=next(iter(_together(fields.inner_each("kept_place"))), None),
        is_for_several=any(
            other.one("planned_for", yes_or_no) for other in fields.inner_each("other_drones")
        ),
    )


def kept_plans(folder: Path) -> tuple[KeptPlan, ...]:
    """Read the plans that ``size`` laid side by side; none where nothing was kept."""
    fields = _fields(folder)
    return () if fields is None else tuple(map(_plan, fields.inner_each("plans")))


def _plan(fields: JsonFields) -> KeptPlan:
    percent = whole(0, 100)
    return KeptPlan(
        name=fields.needed("name", any_text),
        places=fields.needed("places", whole(1, 2)),
        welds=fields.needed("branches", whole(1, 8)),
        cured_now_percent=fields.needed("cured_now_percent", percent),
        cured_adjusted_percent=fields.needed("cured_after_one_adjustment_percent", percent),
        is_chosen=fields.needed("chosen", yes_or_no),
    )


def _fields(folder: Path) -> JsonFields | None:
    """Open what was kept; None where nothing was."""
    file = folder / SIZING_FILE
    if not is_kept(folder):
        return None
    too_large = f"is too long to be a sizing; {_AGAIN}"
    data = read_whole(file, _LARGEST_BYTES, SessionError, too_large)
    fields = JsonFields(data, str(file), SessionError, _AGAIN)
    fields.needed("schema", whole(1, 1))
    return fields


def _together(branches: Sequence[JsonFields]) -> tuple[BuiltBranch, ...]:
    """Put branches that are the same but for their pipe together."""
    legs: dict[BuiltBranch, list[str]] = {}
    for each in branches:
        on, leg = legs.setdefault(_branch(each), []), each.one("leg", any_text)
        on += [] if leg is None else [leg]
    return tuple(replace(branch, legs=tuple(on)) for branch, on in legs.items())


def _branch(fields: JsonFields) -> BuiltBranch:
    position_mm = fields.one("position_mm", number(0.0, 100_000.0))
    length_m, can = 1e-3 * fields.needed("length_mm", _LENGTH_MM), _can(fields)
    return BuiltBranch(
        length_m=length_m,
        end_correction_m=1e-3 * fields.needed("end_correction_mm", number(-100.0, 200.0)),
        bore_m=1e-3 * fields.needed("inner_diameter_mm", _BORE_MM),
        wanted_hz=fields.needed("tuned_hz", _FREQUENCY_HZ),
        can=can,
        position_m=None if position_mm is None else 1e-3 * position_mm,
        cap=_cap(fields, length_m, can),
        bends_take_m=_bends_take_m(fields),
    )


def _bends_take_m(fields: JsonFields) -> float:
    """Read how much longer it measures than it sounds; sizings of before have no shape."""
    if fields.one("shape", mapping) is None:
        return 0.0
    return 1e-3 * fields.inner("shape").needed("bends_take_mm", number(0.0, 1_000.0))


def _cap(fields: JsonFields, length_m: float, can: Can | None) -> SlidingCap | None:
    reach_m = fields.one("slide_mm", _reach_m)
    if reach_m is None:
        return None
    tube = fields.needed("tube", _tube) if can is None else can.tube
    return cap_on(tube, length_m, reach_m, 0.0 if can is None else can.neck_m)


def _reach_m(value: object) -> Interval:
    """Read two lengths, the shorter one first."""
    low_mm, high_mm = map(_LENGTH_MM, pair(value))
    if low_mm > high_mm:
        raise ValueError("two lengths, the shorter one first")
    return Interval(low=1e-3 * low_mm, high=1e-3 * high_mm)


def _can(fields: JsonFields) -> Can | None:
    if fields.one("can", mapping) is None:
        return None
    can = fields.inner("can")
    return Can(tube=can.needed("tube", _tube), neck_m=1e-3 * can.needed("neck_mm", _LENGTH_MM))


def _tube(value: object) -> Tube:
    try:
        return parse_tube(any_text(value))
    except AnalysisError as error:
        raise ValueError(f"a tube ({error})") from error
