"""A history: which drives, in which order, against which baseline, and why others are not in it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.compare.history import make_history
from analysis.errors import DriveError
from analysis.findings import Findings
from analysis.verdicts import Verdict
from tests.analysis.compare.history_examples import (
    BASELINE,
    Outing,
    day,
    drive,
    history_of,
    three_drives,
)


def outing(name: str, number: int | None = None, change_db: float = 0.0) -> Outing:
    found = drive(change_db) if change_db else BASELINE
    return Outing(name=name, found=found, start_time_utc=None if number is None else day(number))


def names(*outings: Outing, baseline: str | None = None) -> list[str]:
    return [each.name for each in history_of(*outings, baseline=baseline).drives]


def test_drives_are_in_the_order_of_time_whatever_their_names() -> None:
    assert names(outing("b", 1), outing("a", 3), outing("c", 2)) == ["b", "c", "a"]


def test_each_drive_is_compared_with_the_baseline_not_with_the_one_before() -> None:
    history = history_of(outing("a", 1), outing("b", 2, -8.0), outing("c", 3, -8.0))
    baseline, *later = history.drives
    assert baseline.comparison is None
    for each in later:
        assert each.comparison is not None
        assert each.comparison.baseline_name == "a"
        assert each.comparison.postfix_name == each.name
        assert each.comparison.changes[0].level_change_db == pytest.approx(-8.0, abs=0.3)


def test_known_changes_get_their_verdicts() -> None:
    verdicts = [
        each.comparison.changes[0].verdict
        for each in three_drives().drives
        if each.comparison is not None
    ]
    assert verdicts == [Verdict.REDUCED, Verdict.CURED]


def test_without_a_time_it_is_asked_which_came_first() -> None:
    """By their names "friday" would come before "monday" of the same week."""
    with pytest.raises(DriveError, match=r"which drive came first\? Give --baseline") as asked:
        history_of(outing("monday"), outing("friday", 3))
    assert "'friday', 'monday'" in str(asked.value)


def test_behind_the_baseline_the_names_decide_as_people_count_and_it_is_said() -> None:
    drives = (outing("run 10", 1), outing("run 2"), outing("run 1", 3), outing("stock"))
    history = history_of(*drives, baseline="stock")
    assert [each.name for each in history.drives] == ["stock", "run 1", "run 2", "run 10"]
    (doubt,) = history.warnings
    assert doubt.code == "order_by_name"
    assert "'run 2'" in doubt.message
    assert three_drives().warnings == ()


def test_without_times_changes_are_told_against_the_baseline() -> None:
    """Nobody knows which drive was before another, so no change is told between them."""
    cars = ({"cap": "out"}, {"cap": "in"}, {"cap": "in"})
    drives = [
        replace(outing(name), car=car) for name, car in zip(("a", "b", "c"), cars, strict=True)
    ]
    history = history_of(*drives, baseline="a")
    _, second, third = history.drives
    assert second.changed == third.changed != ()


def test_times_of_files_are_used_and_told() -> None:
    history = history_of(outing("b", 1), replace(outing("a", 2), start_is_of_file=True))
    assert [each.name for each in history.drives] == ["b", "a"]
    (doubt,) = history.warnings
    assert doubt.code == "order_by_file_time"
    assert "'a'" in doubt.message
    assert "--started" in doubt.message


def test_what_was_driven_before_the_baseline_is_left_out_and_said() -> None:
    history = history_of(outing("old", 1), outing("b", 2), outing("c", 3), baseline="b")
    assert [each.name for each in history.drives] == ["b", "c"]
    assert [(each.name, each.why) for each in history.left_out] == [
        ("old", "it was driven before the baseline")
    ]


def test_drives_that_began_together_are_told_and_none_is_before_the_baseline() -> None:
    history = history_of(outing("b", 1), outing("a", 1), outing("c", 2))
    assert [each.name for each in history.drives] == ["a", "b", "c"]
    (doubt,) = history.warnings
    assert doubt.code == "order_tied"
    assert "'a' and 'b'" in doubt.message
    chosen = history_of(outing("b", 1), outing("a", 1), outing("c", 2), baseline="b")
    assert [each.name for each in chosen.drives] == ["b", "a", "c"]
    assert not chosen.left_out
    assert not chosen.warnings


def test_without_times_no_drive_is_known_to_be_before_the_baseline() -> None:
    assert names(outing("a"), outing("b"), outing("c"), baseline="b") == ["b", "a", "c"]


def test_a_baseline_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(DriveError, match="no drive 'd' to be the baseline; choose one of a, b"):
        history_of(outing("a", 1), outing("b", 2), baseline="d")


def test_a_drive_that_cannot_be_analysed_is_left_out_with_the_reason() -> None:
    broken = Outing(name="b", found="too short", start_time_utc=day(2))
    history = history_of(
        outing("a", 1), broken, outing("c", 3), unreadable=(("d", "no session.json"),)
    )
    assert [each.name for each in history.drives] == ["a", "c"]
    told = [(each.name, each.why) for each in history.left_out]
    assert told == [("d", "no session.json"), ("b", "too short")]


def test_a_baseline_that_cannot_be_analysed_ends_it() -> None:
    broken = Outing(name="a", found="too short", start_time_utc=day(1))
    with pytest.raises(DriveError, match=r"baseline, a, cannot be used: too short.*--baseline"):
        history_of(broken, outing("b", 2))


@pytest.mark.parametrize(
    ("outings", "told"),
    [
        ((), "no session can be used; d is left out: no session.json"),
        ((outing("a", 1),), "only a can be used; d is left out: no session.json"),
        (
            (outing("a", 1), Outing(name="b", found="too short", start_time_utc=day(2))),
            "only a can be used; d is left out: no session.json; b is left out: too short",
        ),
    ],
)
def test_fewer_than_two_drives_are_no_history(outings: tuple[Outing, ...], told: str) -> None:
    with pytest.raises(DriveError) as caught:
        history_of(*outings, unreadable=(("d", "no session.json"),))
    assert str(caught.value) == f"a history needs two drives or more, and {told}"


def test_the_last_drive_as_baseline_leaves_nothing_to_compare() -> None:
    with pytest.raises(DriveError, match="only b can be used; a is left out: it was driven before"):
        history_of(outing("a", 1), outing("b", 2), baseline="b")


def test_a_drive_with_other_levels_is_listed_with_the_reason() -> None:
    calibrated = replace(BASELINE, level_unit="dB SPL")
    history = history_of(
        outing("a", 1), Outing(name="b", found=calibrated, start_time_utc=day(2)), outing("c", 3)
    )
    unlike = history.drives[1]
    assert unlike.comparison is None
    assert "calibrate" in unlike.why_not
    assert history.drives[2].comparison is not None


def test_drives_are_found_one_after_the_other_the_baseline_first() -> None:
    asked: list[str] = []

    def find(drive: Outing) -> Findings:
        asked.append(drive.name)
        return BASELINE

    make_history([outing("c", 3), outing("a", 1), outing("b", 2)], find)
    assert asked == ["a", "b", "c"]


def test_what_changed_is_told_against_the_drive_before() -> None:
    cars = [{"engine": {"cylinders": 6}, "exhaust": {"gas": text}} for text in ("a", "b", "b")]
    history = history_of(
        *(replace(outing(f"r{n}", n + 1), car=car) for n, car in enumerate(cars)),
        replace(outing("r9", 9), note="cap out"),
    )
    assert [each.changed for each in history.drives] == [
        (),
        ("exhaust gas b, was a",),
        (),
        ("cap out",),
    ]
