"""Each fault of an adapter, a cable or a car, in the middle of a drive through the real python-OBD.

Whatever happens, the car's rpm is 2,000 throughout: any other value is an invented one. The words
of the adapter are those of the public data sheet of the ELM327, the refusal is that of ISO 14229-1,
and answers are laid out as in SAE J1979 and ISO 15765-4.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from logger.sources.obd.source import ObdSource
from tests.logger.sources.drives_with import Drive, FakeClock, hurry
from tests.logger.sources.obd.elm import car, frame
from tests.logger.sources.talkers import PtyAdapter, needs_pty

pytestmark = needs_pty
TRUE_RPM = 2000.0
REPLY_LIMIT_S = 0.4
SEARCH_LIMIT_S = 0.6
LOST, NO_RPM = "telemetry_lost", "telemetry_no_rpm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What happens to the adapter, and what the person is told, each once."""

    begins: Callable[[PtyAdapter], None]
    told: tuple[str, ...]
    cure: str = ""
    gives_rpm: bool = False
    reads: int = 20


def answers(text: bytes | None, *, to: bytes = b"010C") -> Callable[[PtyAdapter], None]:
    """The car answers this to one question; to all of them when ``to`` is empty."""

    def begin(adapter: PtyAdapter) -> None:
        adapter.elm.answer = lambda question: text if question.startswith(to) else car(question)

    return begin


def prints(text: bytes) -> Callable[[PtyAdapter], None]:
    """The adapter prints this, and no prompt."""

    def begin(adapter: PtyAdapter) -> None:
        adapter.elm.prompt = b""
        adapter.elm.answer = lambda question: text

    return begin


def is_deaf(adapter: PtyAdapter) -> None:
    adapter.elm.is_deaf = True


def is_late(adapter: PtyAdapter) -> None:
    adapter.elm.latency_s = 1.5 * REPLY_LIMIT_S


def restarts(adapter: PtyAdapter) -> None:
    """A brown-out while cranking: echo on and headers off, as from the factory."""
    adapter.elm.reset()


def keeps_echo(adapter: PtyAdapter) -> None:
    adapter.elm.settings[b"ATE0"] = b"?"
    adapter.elm.settings[b"ATH1"] = b"ATH1\rOK"
    adapter.elm.answer = lambda question: question + b"\r" + b"NO DATA"


FAULTS = {
    # the line
    "unplugged": Fault(begins=PtyAdapter.unplug, told=(LOST,), cure="plug it in again"),
    "silent": Fault(begins=is_deaf, told=(LOST,), cure="plug it in again", reads=4),
    "5 s late (to scale)": Fault(begins=is_late, told=(LOST,), cure="plug it in again", reads=4),
    "prompt only": Fault(begins=answers(b""), told=(NO_RPM,), cure="ignition on"),
    "nothing to one question": Fault(begins=answers(None), told=(LOST,), cure="plug it", reads=5),
    "no prompt": Fault(
        begins=prints(b"7E8 04 41 0C 1F 40\r"), told=(LOST,), cure="plug it", reads=4
    ),
    "garbage": Fault(begins=answers(b"\xfe\x80\x13zz\x00\xff"), told=(NO_RPM,), cure="ignition on"),
    "garbage for ever": Fault(begins=prints(b"\xa5" * 60), told=(LOST,), cure="plug it", reads=4),
    "lost bytes": Fault(
        begins=answers(b"7E8 04 41 0C 1F AA AA AA"), told=(NO_RPM,), cure="ignition"
    ),
    "high bytes inside": Fault(
        begins=answers(b"7E8 04 41 0C 1F \xb4\xb0 AA AA AA AA"), told=(NO_RPM,), cure="ignition on"
    ),
    "restarted": Fault(begins=restarts, told=(NO_RPM,), cure="ignition on", gives_rpm=True),
    "keeps its echo": Fault(begins=keeps_echo, told=(NO_RPM, LOST), cure="ignition on"),
    # the adapter's words
    "NO DATA": Fault(begins=answers(b"NO DATA"), told=(NO_RPM,), cure="ignition on"),
    "NO DATA to all": Fault(begins=answers(b"NO DATA", to=b""), told=(NO_RPM,), cure="ignition on"),
    "UNABLE TO CONNECT": Fault(
        begins=answers(b"UNABLE TO CONNECT", to=b""), told=(NO_RPM,), cure="ignition on"
    ),
    "BUS INIT: ERROR": Fault(
        begins=answers(b"BUS INIT: ...ERROR", to=b""), told=(NO_RPM,), cure="ignition on"
    ),
    "SEARCHING then rpm": Fault(
        begins=answers(b"SEARCHING...\r7E8 04 41 0C 1F 40"), told=(), gives_rpm=True
    ),
    "SEARCHING for ever": Fault(
        begins=prints(b"SEARCHING..."), told=(LOST,), cure="plug it", reads=4
    ),
    "STOPPED": Fault(begins=answers(b"STOPPED"), told=(NO_RPM,), cure="close other programs"),
    "BUFFER FULL": Fault(begins=answers(b"BUFFER FULL"), told=(NO_RPM,), cure="another adapter"),
    "CAN ERROR": Fault(begins=answers(b"CAN ERROR"), told=(NO_RPM,), cure="push the adapter in"),
    "DATA ERROR": Fault(
        begins=answers(b"7E8 04 41 0C 1F 41 <DATA ERROR"),
        told=(NO_RPM,),
        cure="push the adapter in",
    ),
    "question mark": Fault(begins=answers(b"?"), told=(NO_RPM,), cure="another adapter"),
    # the car's answers
    "cut short": Fault(begins=answers(b"7E8 04 41 0C 1F"), told=(NO_RPM,), cure="ignition on"),
    "cut in a byte": Fault(
        begins=answers(b"7E8 04 41 0C 1F 4"), told=(NO_RPM,), cure="ignition on"
    ),
    "no header": Fault(begins=answers(b"41 0C 1F 41"), told=(NO_RPM,), cure="ignition on"),
    "refusal": Fault(begins=answers(frame("7F 01 12")), told=(NO_RPM,), cure="try another --rpm"),
    "busy, ask again": Fault(
        begins=answers(frame("7F 01 21")), told=(NO_RPM,), cure="another --rpm"
    ),
    "another PID": Fault(begins=answers(frame("41 0D 3C")), told=(NO_RPM,), cure="ignition on"),
    "another mode": Fault(begins=answers(frame("42 0C 1F 41")), told=(NO_RPM,), cure="ignition on"),
    "too long": Fault(begins=answers(frame("41 0C 1F 41 00")), told=(NO_RPM,), cure="ignition on"),
    "all ones": Fault(begins=answers(frame("41 0C FF FF")), told=(NO_RPM,), cure="ignition on"),
    "two frames": Fault(
        begins=answers(b"7E8 10 04 41 0C 1F 41 00 00\r7E8 21 00 00 00 00 00 00 00"),
        told=(NO_RPM,),
        cure="ignition on",
    ),
    "trouble codes, cut": Fault(  # the library raises
        begins=answers(b"7E8 01 43 00"), told=(NO_RPM,), cure="ignition on"
    ),
    "gearbox only": Fault(
        begins=answers(frame("41 0C 1F 41", "7E9")), told=(NO_RPM,), cure="ignition on"
    ),
    "two computers": Fault(
        begins=answers(frame("41 0C 1F 40") + b"\r" + frame("41 0C 2E E0", "7E9")),
        told=(),
        gives_rpm=True,
    ),
    "two, gearbox first": Fault(
        begins=answers(frame("41 0C 2E E0", "7E9") + b"\r" + frame("41 0C 1F 40")),
        told=(),
        gives_rpm=True,
    ),
    "padded to 8 bytes": Fault(
        begins=answers(b"7E8 04 41 0C 1F 40 AA AA AA"), told=(), gives_rpm=True
    ),
}


@pytest.fixture
def adapter(monkeypatch: pytest.MonkeyPatch) -> Iterator[PtyAdapter]:
    hurry(monkeypatch)
    monkeypatch.setattr("logger.sources.obd.ports._TRY_S", 0.15)
    with PtyAdapter() as adapter:
        yield adapter


@pytest.fixture
def drive(adapter: PtyAdapter) -> Iterator[Drive]:
    clock = FakeClock(adapter)
    source = ObdSource(
        adapter.path,
        reply_limit_s=REPLY_LIMIT_S,
        search_limit_s=SEARCH_LIMIT_S,
        patience_s=0.0,
        clock=clock.read,
        sleep=clock.sleep,
    )
    yield Drive(source)
    source.close()


def heal(adapter: PtyAdapter) -> None:
    """All is well again, and nobody touches the source."""
    adapter.unplug()
    adapter.elm.get_well()
    adapter.elm.answer = car
    adapter.elm.latency_s = 0.0
    adapter.replug()


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS.keys())
def test_fault(
    fault: Fault, adapter: PtyAdapter, drive: Drive, capfd: pytest.CaptureFixture[str]
) -> None:
    drive.until_rpm(12)
    assert not drive.troubles
    before, last = len(drive.rpm), drive.readings[-1]

    fault.begins(adapter)
    drive.read(fault.reads)

    came = drive.rpm[before:]
    assert bool(came) == fault.gives_rpm
    assert set(drive.rpm) == {TRUE_RPM}
    assert tuple(one.code for one in drive.troubles) == fault.told
    for trouble in drive.troubles[:1]:
        assert fault.cure in trouble.message
        assert trouble.message.isascii()
        assert trouble.at_s >= last.reply_s

    heal(adapter)
    drive.until_rpm(12)
    assert set(drive.rpm[-12:]) == {TRUE_RPM}
    assert len(drive.troubles) <= 2  # at most one more: the healing pulls the plug
    assert capfd.readouterr() == ("", "")
