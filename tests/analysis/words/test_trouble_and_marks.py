"""Trouble in words, and moments that somebody marked: from the drive to page and document."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from rich.console import Console

from analysis.answers.documents import find_document
from analysis.drive import Trouble
from analysis.find.drone import find_drone
from analysis.findings import Findings
from analysis.report.blocks import Bullets, Chart, Table, Text
from analysis.report.found.trust import trust_section
from analysis.words.marks import marks
from analysis.words.quantities import seconds
from analysis.words.trouble import by_time, trouble_lines
from logger.command.tables.find import find_text
from tests.analysis.made_drives import drive_of, orders_sound, rows, there_and_back
from tests.analysis.report import examples, found_examples
from tests.named_codes import codes_named_in
from tests.result_schemas import result_schema

LOGGER_CODES = sorted(codes_named_in("logger"))


def lost(start_s: float | None, duration_s: float | None = None) -> Trouble:
    return Trouble(
        code="telemetry_lost",
        message="obd:auto gave no answer",
        start_s=start_s,
        duration_s=duration_s,
    )


def shown(findings: Findings) -> str:
    console = Console(file=io.StringIO(), width=200)
    console.print(find_text(findings))
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def test_many_alike_are_one_line() -> None:
    many = [lost(12.0 + 10.0 * index, 2.25) for index in reversed(range(14))]
    (line,) = trouble_lines([*many, lost(None)])
    assert "lost 15 times, 31.5 s in all, first at 12.0 s" in line
    assert "The first: obd:auto " in line
    assert "left out" in line


def test_one_keeps_its_own_words() -> None:
    (line,) = trouble_lines([lost(62.04, 3.4)])
    assert line.startswith("At 62.0 s, for 3.4 s: obd:auto gave no answer.")
    (line,) = trouble_lines([lost(None)])
    assert line.startswith("obd:auto")
    (line,) = trouble_lines([Trouble(code="of_a_plug_in", message="odd; look", start_s=1.0)])
    assert line == "At 1.0 s: Odd; look."


@pytest.mark.parametrize("code", LOGGER_CODES)
@pytest.mark.parametrize("count", [1, 3])
def test_what_it_means_is_said_for_every_code_of_the_logger(code: str, count: int) -> None:
    one = Trouble(code=code, message="a message", start_s=5.0, duration_s=1.0)
    (line,) = trouble_lines([one] * count)
    _, _, meaning = line.partition("A message. ")
    assert meaning.endswith(".")
    assert code not in line


troubles = st.builds(
    Trouble,
    code=st.sampled_from([*LOGGER_CODES, "another"]),
    message=st.text(min_size=1, max_size=20),
    start_s=st.none() | st.floats(0.0, 1e5),
    duration_s=st.none() | st.floats(0.0, 1e4),
)


@given(st.lists(troubles, max_size=30))
def test_kinds_come_once_each_in_order_of_time(trouble: list[Trouble]) -> None:
    lines = trouble_lines(trouble)
    assert len(lines) == len({each.code for each in trouble})
    starts = [each.start_s for each in by_time(trouble) if each.start_s is not None]
    assert starts == sorted(starts)
    assert sorted(map(repr, by_time(trouble))) == sorted(map(repr, trouble))


@pytest.mark.parametrize(
    ("duration_s", "text"),
    [(0.0, "0 s"), (0.012, "12 ms"), (3.4, "3.4 s"), (99.96, "1 min 40 s"), (725.0, "12 min 5 s")],
)
def test_lengths_of_time(duration_s: float, text: str) -> None:
    assert seconds(duration_s) == text


def test_page_lists_each_trouble_while_they_are_few() -> None:
    few = found_examples.findings(trouble=(lost(5.0, 1.0), lost(90.0)))
    section = trust_section(examples.contents(few))
    (table,) = (b for b in section.blocks if isinstance(b, Table) and "went wrong" in b.caption)
    assert table.rows[1][:3] == ("90.0 s", "not known", "telemetry lost")
    assert table.rows[1][3].startswith("obd:auto ")
    many = found_examples.findings(trouble=tuple(lost(float(at)) for at in range(500)))
    section = trust_section(examples.contents(many))
    assert not [b for b in section.blocks if isinstance(b, Table) and "went wrong" in b.caption]
    (bullets,) = (b for b in section.blocks if isinstance(b, Bullets))
    assert "lost 500 times" in bullets.items[0]


def test_marks_go_from_the_drive_to_every_result() -> None:
    """The engine climbs evenly in log speed from 1,000 rpm to 4,000 rpm in 20 s, and falls."""
    rpm = there_and_back(40.0, 1000.0, 4000.0)
    drive = drive_of(orders_sound(rpm, noise=0.002), rows(rpm))
    findings = find_drone(replace(drive, marks_s=(10.0, 5.0, 70.0)))
    assert findings.marks_s == (5.0, 10.0, 70.0)
    first, second, beyond = marks(findings)
    assert first.rpm == pytest.approx(1000.0 * 4.0**0.25, rel=0.03)
    assert second.rpm == pytest.approx(2000.0, rel=0.03)
    assert np.isnan(beyond.rpm)
    document = json.loads(json.dumps(find_document(findings), allow_nan=False))
    Draft202012Validator(result_schema("find")).validate(document)
    assert document["marks_s"] == [5.0, 10.0, 70.0]
    assert f"at 10.0 s: {second.rpm:,.0f} rpm, in no band" in shown(findings)
    assert "at 70.0 s: engine speed not known" in shown(findings)


def test_a_mark_in_a_band_says_which() -> None:
    made = found_examples.findings(found_examples.band(1500.0), found_examples.band(2240.0))
    at_s = float(made.engine_speed.time_s[np.abs(made.engine_speed.rpm - 2240.0).argmin()])
    marked = replace(made, marks_s=(at_s,))
    (mark,) = marks(marked)
    assert mark.band == 2
    assert "in band 2" in shown(marked)


def test_page_shows_marks_as_uprights_and_in_words() -> None:
    marked = replace(found_examples.findings(found_examples.band()), marks_s=(30.0, 31.5))
    section = trust_section(examples.contents(marked))
    (chart,) = (b for b in section.blocks if isinstance(b, Chart))
    uprights = [shape.x0 for shape in chart.figure.layout.shapes]
    assert uprights == [30.0, 31.5]
    assert any("at 30.0 s:" in b.text for b in section.blocks if isinstance(b, Text))
    plain = trust_section(examples.contents(found_examples.findings()))
    assert not any("arked" in b.text for b in plain.blocks if isinstance(b, Text))


def test_the_terminal_begins_with_the_answer_and_explains_the_worst_drone_alone() -> None:
    bands = (found_examples.band(), found_examples.band(1500.0), found_examples.band(3000.0))
    text = shown(found_examples.findings(*bands))
    assert text.startswith("baseline drive: At about 2,240 rpm the drone of order 3")
    assert text.count("Cause") == 1
    assert "2 more are in the report" in text


def test_numbers_on_the_terminal_are_written_one_way() -> None:
    """Thousands parted by commas, and a plain hyphen before what is negative: some terminals on
    Windows cannot show a true minus sign, and a lost sign would be worse."""
    text = shown(found_examples.findings(found_examples.band(2240.0)))
    assert "2,240" in text
    assert "2,020–2,490" in text
    assert "−" not in text
