"""One contract for every source: a real port, a replay and a made-up one pass the same tests."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Iterator
from importlib.metadata import EntryPoint
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from logger.errors import SessionError
from logger.folder.quantities import QUANTITIES
from logger.sources.choice import BUILT_IN, choose_source
from logger.sources.contract import Reading, RpmSource, SoundListener, SourceError, SourceTrouble
from tests.drives.motion import drive_motion
from tests.drives.spec import DriveSpec, Leg
from tests.logger.sources.pulse.channel import Ignition, make_channel
from tests.logger.sources.talkers import LinePrinter, TcpAdapter

Make = Callable[[], RpmSource]
KINDS = ("gps", "obd", "pulse", "replay", "serial", "synthetic")


class SteadyEngine:
    """A synthetic source, as another package would bring one."""

    def __init__(self, rest: str) -> None:
        self.name = f"steady:{rest}"
        self._rpm = float(rest)
        self._closed = False

    def read(self, timeout_s: float) -> Reading | None:
        del timeout_s
        if self._closed:
            return None
        now_s = time.perf_counter()
        return Reading(quantity="rpm", value=self._rpm, request_s=now_s, reply_s=now_s)

    def close(self) -> None:
        self._closed = True


STEADY = EntryPoint(
    name="steady",
    value="tests.logger.sources.test_conformance:SteadyEngine",
    group="pipenote.sources",
)


@pytest.fixture(params=KINDS)
def source(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[RpmSource]:
    if request.param == "obd":
        monkeypatch.setattr("obd.elm327.time", SimpleNamespace(sleep=lambda seconds: None))
        with TcpAdapter() as adapter:
            yield from opened(f"obd:{adapter.url}")
    elif request.param == "gps":
        fix = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"
        with LinePrinter(fix) as printer:
            yield from opened(f"gps:{printer.url}")
    elif request.param == "pulse":
        for made in opened("pulse:2@1"):
            hear_sparks(made)
            yield made
    elif request.param == "serial":
        with LinePrinter() as printer:
            yield from opened(f"serial:{printer.url}")
    elif request.param == "replay":
        rows = "".join(f"{0.01 * number},{2000 + number}\n" for number in range(40))
        (tmp_path / "telemetry.csv").write_text("time_s,rpm\n" + rows, encoding="utf-8")
        yield from opened(f"replay:{tmp_path}")
    else:
        yield from opened("steady:2000")


def opened(word: str) -> Iterator[RpmSource]:
    made = choose_source(word, installed=[STEADY])
    assert made is not None
    assert made.name == word
    yield made
    made.close()


def hear_sparks(source: RpmSource) -> None:
    """Let it hear five seconds of an engine that speeds up from 1,800 rpm."""
    assert isinstance(source, SoundListener)
    spec = DriveSpec(start_rpm=1800.0, legs=(Leg(duration_s=5.0, end_rpm=2600.0, gear=3),))
    rng = np.random.default_rng(1)
    motion = drive_motion(spec, rng)
    sparks = make_channel(Ignition(pulses_per_turn=1.0), motion, spec.duration_s, rng).samples
    sound = np.stack([np.zeros_like(sparks), sparks], axis=1)
    for first_frame in range(0, sparks.size, 960):
        source.hear(
            sound[first_frame : first_frame + 960],
            first_frame=first_frame,
            sample_rate_hz=48_000,
            arrived_s=100.0 + first_frame / 48_000,
        )


def readings(source: RpmSource, count: int) -> list[Reading]:
    """Read until so many readings came; no more than 10 s."""
    got: list[Reading] = []
    until_s = time.perf_counter() + 10.0
    while len(got) < count and time.perf_counter() < until_s:
        event = source.read(0.2)
        assert not isinstance(event, SourceTrouble), event
        if event is not None:
            got.append(event)
    return got


def test_readings_are_finite_known_and_in_order(source: RpmSource) -> None:
    got = readings(source, 20)
    assert len(got) == 20
    assert {one.quantity for one in got} <= set(QUANTITIES)
    assert {one.quantity for one in got} & {"rpm", "road_speed_m_s"}
    assert all(math.isfinite(one.value) for one in got)
    assert all(one.request_s <= one.midpoint_s <= one.reply_s for one in got)
    assert all(one.half_round_trip_s >= 0.0 for one in got)
    times_s = [one.reply_s for one in got]
    assert times_s == sorted(times_s)


def test_it_can_be_read_in_a_thread_of_its_own(source: RpmSource) -> None:
    got: list[Reading] = []
    thread = threading.Thread(target=lambda: got.extend(readings(source, 5)))
    thread.start()
    thread.join(timeout=10.0)
    assert len(got) == 5


def test_after_close_nothing_comes(source: RpmSource) -> None:
    readings(source, 1)
    source.close()
    source.close()
    assert source.read(0.0) is None


def test_closing_what_was_never_read_is_fine(source: RpmSource) -> None:
    source.close()
    assert source.read(0.0) is None


# --- words --------------------------------------------------------------------------------------


def test_none_is_no_source() -> None:
    assert choose_source("none", installed=[]) is None


@pytest.mark.parametrize("word", ["", "obd", "obd:", "tacho:1", "None", ":"])
def test_unknown_word_names_the_known_ones(word: str) -> None:
    with pytest.raises(SourceError, match=r"use none, or one of .*obd:\.\.\.,.* serial:\.\.\."):
        choose_source(word, installed=[])


def test_source_of_others_that_breaks_the_contract_is_refused() -> None:
    point = EntryPoint(name="odd", value="pathlib:PurePath", group="pipenote.sources")
    with pytest.raises(SourceError, match="lacks name, read or close"):
        choose_source("odd:1", installed=[point])


def test_source_of_others_that_cannot_be_loaded_is_refused() -> None:
    point = EntryPoint(name="gone", value="no_such_package:Box", group="pipenote.sources")
    with pytest.raises(SourceError, match="cannot be loaded"):
        choose_source("gone:1", installed=[point])


class FaultySource:
    """Other people's code with a fault in it."""

    def __init__(self, rest: str) -> None:
        raise ValueError(f"could not convert\nstring to float: {rest!r}")


class RefusingSource:
    def __init__(self, rest: str) -> None:
        raise SourceError(f"refusing:{rest} is no box of mine; say refusing:7")


def test_a_fault_in_a_source_of_others_is_one_line() -> None:
    point = EntryPoint(name="faulty", value=f"{__name__}:FaultySource", group="pipenote.sources")
    with pytest.raises(SourceError, match=r"source faulty .*ValueError: could not") as refusal:
        choose_source("faulty:1", installed=[point])
    assert "\n" not in str(refusal.value)


def test_a_source_of_others_refuses_in_its_own_words() -> None:
    point = EntryPoint(name="refusing", value=f"{__name__}:RefusingSource", group="x")
    with pytest.raises(SourceError, match=r"^refusing:1 is no box of mine; say refusing:7$"):
        choose_source("refusing:1", installed=[point])


def test_every_built_in_word_leads_to_a_class() -> None:
    assert all(value.startswith("logger.sources.") for value in BUILT_IN.values())


def test_replay_of_no_telemetry_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SessionError, match="holds no telemetry"):
        choose_source(f"replay:{tmp_path}", installed=[])


@pytest.mark.parametrize("kind", ["gps", "serial"])
@pytest.mark.parametrize("rate", ["fast", "", "0", "49", "4000001", "999999999999", "9" * 5000])
def test_bad_baud_rate_is_refused(kind: str, rate: str) -> None:
    with pytest.raises(SourceError, match="not a baud rate, 50 to 4,000,000; say PORT@9600"):
        choose_source(f"{kind}:/dev/ttyUSB0@{rate}", installed=[])
