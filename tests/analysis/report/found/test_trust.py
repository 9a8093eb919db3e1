"""Evidence, proof and cautions in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.basics.interval import Interval
from analysis.drive import Trouble
from analysis.findings import Doubt, TelemetryDelay
from analysis.report.blocks import Bullets, Heading, Note, Section, Table, Text
from analysis.report.compared.proof import proof_section
from analysis.report.found.levels import levels_section
from analysis.report.found.trust import trust_section
from analysis.report.sections import cautions_section
from analysis.verdicts import Verdict
from analysis.words.cautions import CAUTIONS
from tests.analysis.report.compared_examples import comparison
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import band, findings, levels_only
from tests.analysis.report.sized_examples import sizing
from tests.named_codes import codes_named_in


def _words(section: Section | None) -> str:
    assert section is not None
    out: list[str] = []
    for block in section.blocks:
        if isinstance(block, Text | Note | Heading):
            out.append(block.text)
        elif isinstance(block, Bullets):
            out.extend(block.items)
        elif isinstance(block, Table):
            out.extend(cell for row in block.rows for cell in row)
    return " | ".join(out)


def test_the_delay_is_given_with_its_interval_and_side() -> None:
    late = findings()
    assert "0.47 s late (95 % interval 0.45 to 0.49 s), corrected; drift 12 ppm" in _words(
        trust_section(contents(late))
    )
    early = replace(
        late,
        telemetry_delay=TelemetryDelay(
            delay_s=-0.2, ci95_s=Interval(low=-0.22, high=-0.18), drift_ppm=0.0
        ),
    )
    assert "0.20 s early (95 % interval -0.22 to -0.18 s), corrected" in _words(
        trust_section(contents(early))
    )
    unknown = replace(late, telemetry_delay=None)
    assert "could not be measured" in _words(trust_section(contents(unknown)))
    assert "no sound to line up with" in _words(trust_section(contents(levels_only())))


def test_the_row_of_the_log_names_what_was_logged() -> None:
    logged = findings()
    assert "Engine speed log, against the sound | 0.47 s late" in _words(
        trust_section(contents(logged))
    )
    heard = Doubt(code="rpm_from_sound", message="worked out from the sound")
    by_road = replace(logged, warnings=(heard,))
    assert "Road speed log, against the sound | 0.47 s late" in _words(
        trust_section(contents(by_road))
    )
    unaligned = Doubt(code="telemetry_unaligned", message="taken as on time")
    unknown = replace(by_road, telemetry_delay=None, warnings=(heard, unaligned))
    assert "Road speed log, against the sound | could not be measured" in _words(
        trust_section(contents(unknown))
    )
    nothing = replace(by_road, telemetry_delay=None)
    assert "against the sound" not in _words(trust_section(contents(nothing)))


def test_warnings_trouble_and_assumptions_are_all_there() -> None:
    found = findings(
        band(),
        warnings=(Doubt(code="clipped_audio", message="2 % is clipped; turn it down"),),
        trouble=(Trouble(code="gap", message="adapter lost", start_s=12.0, duration_s=3.4),),
    )
    text = _words(trust_section(contents(found, sizing())))
    assert "2 % is clipped; turn it down." in text
    assert "At 12.0 s, for 3.4 s: Adapter lost." in text
    assert "Pipe gas at 300 °C (572 °F), because the car file does not say." in text


def test_every_warning_about_a_drive_has_a_label() -> None:
    codes = codes_named_in("analysis/find/doubts")
    assert {"low_signal", "levels_only"} <= codes
    warnings = tuple(Doubt(code=code, message="a message") for code in codes)
    blocks = trust_section(contents(findings(warnings=warnings))).blocks
    labels = [block.label for block in blocks if isinstance(block, Note)]
    assert len(set(labels)) == len(codes)
    assert not set(labels) & {code.replace("_", " ") for code in codes}


def test_a_clean_drive_says_so() -> None:
    text = _words(trust_section(contents(findings())))
    assert "No warnings." in text
    assert "No trouble was noted." in text


def test_the_second_drive_brings_its_own_warnings() -> None:
    after = findings(name="after", warnings=(Doubt(code="low_signal", message="very quiet"),))
    page = contents(findings(band()), None, comparison(), after)
    assert "Very quiet." in _words(trust_section(page))


def test_the_proof_gives_verdict_change_interval_and_trim() -> None:
    text = _words(proof_section(contents(findings(band()), sizing(), comparison(), findings())))
    for part in ("cured", "-14.2 dB", "-15.6 dB to -12.9 dB", "no new drone", "Shorten branch 1"):
        assert part in text


def test_an_unknown_change_is_never_a_number() -> None:
    unknown = comparison(Verdict.CANNOT_TELL)
    text = _words(proof_section(contents(findings(band()), None, unknown, findings())))
    assert "cannot tell" in text
    assert "nan" not in text
    assert "not known" in text


def test_a_new_drone_that_follows_the_engine_is_named_and_no_whistle() -> None:
    moved = comparison(Verdict.MOVED, -9.0)
    text = _words(proof_section(contents(findings(band()), None, moved, findings())))
    assert "Order 3 (firing) at 2,900 rpm, 145 Hz, 7 dB above what is beside it." in text
    assert "whistling" not in text


def test_no_second_drive_no_proof() -> None:
    assert proof_section(contents(findings(band()))) is None


def test_the_a_weighting_of_the_standard_is_named_at_100_hz() -> None:
    # IEC 61672-1:2013, table 3: A(100 Hz) = -19.1 dB
    text = _words(levels_section(findings()))
    assert "At 100 Hz the A-weighting takes off 19 dB (IEC 61672-1)" in text


def test_every_caution_has_its_source_and_the_page_defers() -> None:
    labels = {label for label, _, _ in CAUTIONS}
    assert labels >= {
        "Hearing",
        "Carbon monoxide",
        "Hot parts",
        "Under the car",
        "Welding fume",
        "Fuel and brake lines",
        "Battery and electronics",
        "Emissions law",
        "Noise law",
        "Driving while logging",
    }
    assert all(source for _, _, source in CAUTIONS)
    assert "codes where you live" in _words(cautions_section())
    assert "licensed workshop" in _words(cautions_section())


@pytest.mark.parametrize(("level_dba", "time"), [(85, "8 hours"), (94, "1 hour"), (100, "15 min")])
def test_hearing_times_follow_niosh(level_dba: int, time: str) -> None:
    # NIOSH 98-126 (1998): T = 480 min / 2**((L - 85) / 3)
    minutes = 480.0 / 2.0 ** ((level_dba - 85) / 3.0)
    count = int(time.split()[0])
    assert minutes == count * (60 if "hour" in time else 1)
    hearing = next(text for label, text, _ in CAUTIONS if label == "Hearing")
    assert f"{level_dba} dB(A)" in hearing
    assert time in hearing
