"""Two sources that both give rpm: one column never holds a mixture of them, and that is told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from logger.recording.rpm_choice import RpmChoice
from logger.recording.status import Status
from logger.session import Session, read_session
from logger.sources.contract import Reading, SourceTrouble
from tests.logger.recording.scripted import (
    RATE_HZ,
    START_S,
    ScriptedSound,
    ScriptedSource,
    blocks_of,
    noise,
    record,
    rpm,
)


class EarlySource(ScriptedSource):
    """Knows when the recorder has all that it gave."""

    has_said_all = False

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        event = super().read(timeout_s)
        self.has_said_all = event is None  # what came before was handed over
        return event


class LateSource(ScriptedSource):
    """Gives nothing before it may."""

    def __init__(self, *events: Reading, name: str) -> None:
        super().__init__(*events, name=name)
        self.may = threading.Event()
        self.has_said_all = False

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        if not self.may.wait(0.01):
            return None
        event = super().read(timeout_s)
        self.has_said_all = event is None
        return event


def speed(value: float, at_s: float) -> Reading:
    time_s = START_S + at_s
    return Reading(quantity="road_speed_m_s", value=value, request_s=time_s, reply_s=time_s)


ONE = tuple(rpm(2000.0, 0.1 * number) for number in range(9))
TWICE = tuple(rpm(4000.0, 0.05 + 0.1 * number) for number in range(9))


def record_both(tmp_path: Path, *, first_named_is_late: bool) -> Session:
    """One source gives all it has before the other begins."""
    early = EarlySource(*ONE, speed(20.0, 0.2), name="box:early")
    late = LateSource(*TWICE, speed(21.0, 0.9), name="box:late")
    early_was_done: list[bool] = []

    def show(status: Status) -> None:
        del status
        early_was_done.append(early.has_said_all)
        if early_was_done[-2:] == [True, True]:  # so all of it was taken in between
            late.may.set()

    sources = (late, early) if first_named_is_late else (early, late)
    sound = ScriptedSound(blocks_of(noise(RATE_HZ)))
    out = tmp_path / "drive"
    record(sound, out, *sources, stopped=lambda: late.has_said_all, show=show)
    return read_session(out)


def left_out(session: Session) -> list[str]:
    return [each.message for each in session.metadata.trouble if each.code == "rpm_left_out"]


def test_rpm_of_the_second_source_is_left_out_and_told_once(tmp_path: Path) -> None:
    session = record_both(tmp_path, first_named_is_late=False)
    assert session.telemetry["rpm"].dropna().tolist() == [2000.0] * 9
    assert session.telemetry["road_speed_m_s"].dropna().tolist() == [20.0, 21.0]
    (told,) = left_out(session)
    assert told.startswith("rpm of box:late is left out, as box:early, named before it,")


def test_the_source_named_first_takes_over_once_it_gives_rpm(tmp_path: Path) -> None:
    session = record_both(tmp_path, first_named_is_late=True)
    assert sorted(session.telemetry["rpm"].dropna()) == [2000.0] * 9 + [4000.0] * 9
    (told,) = left_out(session)
    assert told.startswith("rpm of box:early is left out, as box:late, named before it,")


@given(st.lists(st.integers(0, 2)))
def test_nothing_comes_from_a_source_once_an_earlier_one_gave(order: list[int]) -> None:
    names = ("a", "b", "c")
    choice = RpmChoice(names)
    judged = [(number, *choice.judge(names[number], "rpm")) for number in order]
    best = [min(order[: at + 1]) for at in range(len(order))]
    assert [taken for _, taken, _ in judged] == [
        number == least for number, least in zip(order, best, strict=True)
    ]
    if order:
        assert [choice.is_recorded(name) for name in names] == [
            number == min(order) for number in range(3)
        ]
    told = [words for _, _, words in judged if words]
    assert len(told) == len(set(told)) == max(0, len(set(order)) - 1)
    assert all(choice.judge(name, "road_speed_m_s") == (True, "") for name in names)
