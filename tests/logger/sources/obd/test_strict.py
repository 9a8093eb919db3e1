"""No byte that an adapter can send becomes an rpm that was not sent as one whole answer.

The frames of CAN are those of ISO 15765-4 (a single frame: length, mode, PID, data; 8 bytes when
padded); the others are those of ISO 9141-2 and SAE J1979 (three bytes of header, a checksum).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from collections.abc import Iterator

import obd
import obd.protocols
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.folder.quantities import is_in_range
from logger.sources.obd.commands import BESIDE, RPM, FrameWatch, Pid, strict_command
from logger.sources.obd.link import ObdLink, connect
from logger.sources.obd.ports import FIXED_RATE
from tests.logger.sources.drives_with import hurry
from tests.logger.sources.talkers import TcpAdapter

WHOLE = re.compile(  # what counts, said once more and otherwise than in the code
    rb" *7 *E *8 *0 *4 *4 *1 *0 *C *((?:[0-9A-F] *){4})((?:[0-9A-F] *){6})?", re.IGNORECASE
)


def rpm_sent(text: bytes) -> list[float]:
    """Every rpm in a whole line of an answer."""
    lines = re.split(rb"[\r\n]", text.replace(b"\0", b""))
    found = (WHOLE.fullmatch(line.strip()) for line in lines)
    return [int(match[1].replace(b" ", b""), 16) / 4.0 for match in found if match]


PIECES = b"7E8 |7E8 |01 |04 |03 |10 |21 |41 |0C |7F |1F |40 |AA |43 |\r|\r|\n|\0|\xc3|4|NO DATA\r"
NEAR_ANSWERS = st.lists(st.sampled_from(PIECES.split(b"|")), max_size=20).map(b"".join)


def without_prompt(text: bytes) -> bytes:
    """Leave the prompt out: what stands behind one belongs to the next question."""
    return text.replace(b">", b"")


@st.composite
def damaged(draw: st.DrawFn) -> bytes:
    """A good answer, padded or not, with some bytes lost, doubled or changed."""
    answer = bytearray(b"7E8 04 41 0C 1F 40" + draw(st.sampled_from([b"", b" AA AA AA"])) + b"\r")
    for _ in range(draw(st.integers(0, 4))):
        place = draw(st.integers(0, max(0, len(answer) - 1)))
        length = draw(st.integers(0, 6))
        noise = st.one_of(st.just(b"\xff" * length), st.binary(max_size=3))
        answer[place : place + length] = draw(noise)
    return bytes(answer)


@pytest.fixture(scope="module")
def linked() -> Iterator[tuple[TcpAdapter, ObdLink]]:
    with pytest.MonkeyPatch.context() as patch, TcpAdapter() as adapter:
        hurry(patch)
        link = connect(
            adapter.url, rate=FIXED_RATE, protocol="6", reply_limit_s=1.0, search_limit_s=2.0
        )
        yield adapter, link
        link.close()


@settings(max_examples=200)
@given(text=st.one_of(NEAR_ANSWERS, damaged(), st.binary(max_size=60)).map(without_prompt))
def test_whatever_an_adapter_prints_nothing_is_invented(
    linked: tuple[TcpAdapter, ObdLink], text: bytes
) -> None:
    adapter, link = linked
    adapter.elm.answer = lambda question: text
    answer = link.ask(RPM, quick=False)
    assert link.is_alive
    assert answer.value is None or answer.value in rpm_sent(text)


def values_of(protocol: str, *answers: str) -> list[float | None]:
    """Let the library take answers apart, and the strict command judge, one after the other."""
    first = {"6": "7E8 06 41 00 18 38 80 01", "7": "18 DA F1 10 06 41 00 18 38 80 01"}
    parser = getattr(obd.protocols, PROTOCOLS[protocol])(
        [first.get(protocol, "48 6B 10 41 00 18 38 80 01 55")]
    )
    command = strict_command(RPM, FrameWatch(), quick=False)
    return [command(parser(answer.split("\r"))).value for answer in answers]


PROTOCOLS = {"3": "ISO_9141_2", "6": "ISO_15765_4_11bit_500k", "7": "ISO_15765_4_29bit_500k"}
PADDING = " AA AA AA"
GOOD = {
    "3": "48 6B 10 41 0C 1F 40 6B",
    "6": "7E8 04 41 0C 1F 40",
    "7": "18 DA F1 10 04 41 0C 1F 40",
}


@pytest.mark.parametrize("protocol", PROTOCOLS)
def test_a_whole_answer_is_taken_on_every_bus(protocol: str) -> None:
    assert values_of(protocol, *[GOOD[protocol]] * 3)[1:] == [2000.0, 2000.0]


@pytest.mark.parametrize("protocol", ["6", "7"])
def test_a_padded_answer_is_taken_at_once(protocol: str) -> None:
    assert values_of(protocol, GOOD[protocol] + PADDING) == [2000.0]


@pytest.mark.parametrize("protocol", PROTOCOLS)
def test_an_answer_cut_anywhere_is_none(protocol: str) -> None:
    whole = GOOD[protocol]
    for length in range(len(whole)):
        assert values_of(protocol, whole, whole, whole[:length])[-1] is None


@pytest.mark.parametrize("protocol", PROTOCOLS)
@pytest.mark.parametrize("padding", ["", PADDING])
def test_an_answer_that_lost_bytes_anywhere_is_none(protocol: str, padding: str) -> None:
    whole = GOOD[protocol] + (padding if protocol != "3" else "")
    parts = whole.split()
    for begin in range(len(parts)):
        for end in range(begin + 1, len(parts)):
            rest = " ".join(parts[:begin] + parts[end:])
            assert values_of(protocol, rest) == [None]
            assert values_of(protocol, whole, whole, rest, rest)[2:] == [None, None]


def test_two_answers_are_not_put_together_to_one() -> None:
    assert values_of("3", "48 6B 10 41 0C 01 40 4D\r48 6B 10 41 0C 02 80 8E") == [None]


@given(st.integers(0, 0xFFFF))
def test_every_rpm_that_an_engine_has_comes_through(raw: int) -> None:
    (value,) = values_of("6", f"7E8 04 41 0C {raw >> 8:02X} {raw & 0xFF:02X} 00 00 00")
    assert value == (raw / 4.0 if is_in_range("rpm", raw / 4.0) else None)


@given(st.sampled_from([RPM, *BESIDE]), st.binary(max_size=8))
def test_a_value_is_of_the_right_pid_length_and_range(pid: Pid, answer: bytes) -> None:
    value = pid.decode(answer)
    if value is not None:
        assert answer[:2] == bytes((0x41, pid.number))
        assert len(answer) == 2 + pid.byte_count
        assert is_in_range(pid.quantity, value)
