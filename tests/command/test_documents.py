"""The JSON documents hold every key of the contract and fit the schemas that the project ships."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, ValidationError

from analysis.answers.documents import comparison_document, find_document
from analysis.answers.history_document import history_document
from analysis.answers.sizing_document import sizing_document
from analysis.basics.interval import Interval
from analysis.findings import Doubt, DroneBand
from analysis.verdicts import Verdict
from tests.analysis.compare.history_examples import three_drives
from tests.analysis.report import compared_examples, found_examples, sized_examples
from tests.result_schemas import result_schema

# The keys that others rely on, written down apart from the schemas.
CONTRACT = {
    "find": {
        "": {
            "schema",
            "drone_bands",
            "telemetry_delay_s",
            "telemetry_delay_ci95_s",
            "warnings",
        },
        "drone_bands/0": {
            "engine_order",
            "peak_rpm",
            "low_rpm",
            "high_rpm",
            "peak_hz",
            "low_hz",
            "high_hz",
            "rise_db",
            "locked_to",
            "ci95",
        },
        "drone_bands/0/ci95": {"peak_hz", "low_hz", "high_hz"},
        "warnings/0": {"code", "message"},
    },
    "size": {
        "": {"schema", "branches", "predicted", "assumptions", "warnings"},
        "branches/0": {
            "length_mm",
            "inner_diameter_mm",
            "position_mm",
            "tuned_hz",
            "gas_temperature_c",
        },
        "predicted": {"level_change_db", "level_change_db_range", "elsewhere_change_db"},
        "warnings/0": {"code", "message"},
    },
    "compare": {
        "": {"schema", "bands", "new_bands", "trim", "warnings"},
        "bands/0": {
            "engine_order",
            "peak_rpm",
            "low_rpm",
            "high_rpm",
            "level_change_db",
            "ci95_db",
            "verdict",
        },
        "trim/0": {"branch", "cut_mm", "gas_temperature_c"},
    },
    "history": {
        "": {"schema", "answer", "baseline", "best", "drone_bands", "runs", "left_out", "warnings"},
        "runs/1": {"name", "start_time_utc", "changed", "why_not", "bands", "new_bands"},
        "runs/1/bands/0": {"engine_order", "level_change_db", "ci95_db", "verdict"},
    },
}

Document = dict[str, Any]
WARNED = (
    Doubt(code="no_cure_in_room", message="no branch that fits cures it"),
    Doubt(code="may_whistle", message="listen for a new tone", is_advice=True),
)


def example(name: str) -> Document:
    """A full document, as it comes out of JSON text."""
    found = found_examples.findings(
        found_examples.band(), warnings=found_examples.one_gear_doubts()
    )
    made: Mapping[str, object] = {
        "find": lambda: find_document(found),
        "size": lambda: sizing_document(replace(sized_examples.sizing(), warnings=WARNED)),
        "compare": lambda: comparison_document(compared_examples.comparison()),
        "history": lambda: history_document(three_drives()),
    }[name]()
    return cast("Document", json.loads(json.dumps(made, allow_nan=False)))


def at(document: Any, path: str) -> Any:
    for step in filter(None, path.split("/")):
        document = document[int(step)] if isinstance(document, list) else document[step]
    return document


def validator(name: str) -> Draft202012Validator:
    return Draft202012Validator(result_schema(name))


CONTRACT_KEYS = [
    (name, path, key)
    for name, paths in CONTRACT.items()
    for path, keys in paths.items()
    for key in sorted(keys)
]


@pytest.mark.parametrize("name", sorted(CONTRACT))
def test_schema_is_a_valid_draft_2020_12_schema(name: str) -> None:
    Draft202012Validator.check_schema(result_schema(name))
    assert result_schema(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("name", sorted(CONTRACT))
def test_document_fits_its_schema(name: str) -> None:
    validator(name).validate(example(name))


@pytest.mark.parametrize(("name", "path", "key"), CONTRACT_KEYS)
def test_contract_key_is_there_and_the_schema_misses_it_when_gone(
    name: str, path: str, key: str
) -> None:
    document = example(name)
    assert key in at(document, path)
    del at(document, path)[key]
    with pytest.raises(ValidationError):
        validator(name).validate(document)


def described(schema: Any) -> Iterator[tuple[str, Any]]:
    """Every named property anywhere in a schema."""
    if isinstance(schema, dict):
        properties = schema.get("properties", {})
        yield from properties.items() if isinstance(properties, dict) else ()
        for value in schema.values():
            yield from described(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from described(value)


@pytest.mark.parametrize("name", sorted(CONTRACT))
def test_every_property_is_described(name: str) -> None:
    properties = list(described(result_schema(name)))
    assert len(properties) > 10
    assert [key for key, value in properties if not value.get("description")] == []


def test_unknown_values_are_null_not_nan() -> None:
    band = replace(
        found_examples.band(), high_hz_ci95=Interval(low=120.0, high=math.nan), level_db=math.inf
    )
    document = find_document(replace(found_examples.findings(band), telemetry_delay=None))
    text = json.dumps(document, allow_nan=False)
    validator("find").validate(json.loads(text))
    assert at(document, "drone_bands/0/ci95/high_hz") == [120.0, None]
    assert document["telemetry_delay_s"] is None
    assert document["telemetry_delay_ci95_s"] is None


def test_cannot_tell_has_no_number() -> None:
    document = comparison_document(compared_examples.comparison(Verdict.CANNOT_TELL))
    validator("compare").validate(document)
    assert at(document, "bands/0/level_change_db") is None
    assert at(document, "bands/0/ci95_db") == [None, None]
    assert at(document, "bands/0/verdict") == "cannot tell"


def test_advice_that_goes_with_every_branch_is_told_from_doubts() -> None:
    kinds = {warning["code"]: warning["kind"] for warning in example("size")["warnings"]}
    assert kinds == {"no_cure_in_room": "doubt", "may_whistle": "advice"}


def test_levels_only_drive_fits_the_schema() -> None:
    document = find_document(found_examples.levels_only())
    validator("find").validate(document)
    assert document["levels_only"] is True


anything = st.floats(allow_nan=True, allow_infinity=True)


@given(level_db=anything, rise_db=st.floats(0.0, 60.0), low=anything, high=anything)
def test_any_band_makes_json_that_fits(
    level_db: float, rise_db: float, low: float, high: float
) -> None:
    band: DroneBand = replace(
        found_examples.band(rise_db=rise_db),
        level_db=level_db,
        peak_hz_ci95=Interval(low=low, high=high),
    )
    document = find_document(replace(FOUND, bands=(band,)))
    validator("find").validate(json.loads(json.dumps(document, allow_nan=False)))


FOUND = found_examples.findings()


def test_a_history_gives_each_run_the_bands_of_its_comparison() -> None:
    document = example("history")
    assert (document["baseline"], document["best"]) == ("baseline", "trimmed")
    assert at(document, "runs/0/bands") == []
    assert at(document, "runs/1/start_time_utc") == "2024-06-08T09:30:00+00:00"
    assert at(document, "runs/1/changed") == ["branch 930 mm"]
    assert [at(document, f"runs/{n}/bands/0/verdict") for n in (1, 2)] == ["reduced", "cured"]
    assert at(document, "runs/2/bands/0/level_change_db") == pytest.approx(-14.0, abs=0.3)
