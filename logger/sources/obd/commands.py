"""Questions to the engine's computer whose answers are believed only when they are whole.

The library's own decoders pad a cut answer with zeros and never look at which question was
answered: a refusal ``7F 01 12`` becomes 1,152 rpm. These take an answer only when it is one frame
from the engine's computer, repeats mode and PID, and has exactly the length of SAE J1979 (and, on
CAN, that of ISO 15765-4); anything else is None.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from logger.folder.quantities import is_in_range

if TYPE_CHECKING:
    from obd import OBDCommand

_MODE_ANSWERED = 0x41  # SAE J1979: mode 1 plus 0x40
_CAN_BYTES = 8  # a padded frame of ISO 15765-4
_CAN_HEADERS = ("7E", "18DAF1")  # of answers, 11 and 29 bits; the library does not look


@dataclass(frozen=True, slots=True, kw_only=True)
class Pid:
    """One quantity of SAE J1979, mode 1."""

    quantity: str
    number: int
    byte_count: int
    scale: Callable[[int], float]

    def decode(self, answer: bytes) -> float | None:
        """Give the value of one whole answer, or None."""
        if len(answer) != 2 + self.byte_count or answer[:2] != bytes((_MODE_ANSWERED, self.number)):
            return None
        value = self.scale(int.from_bytes(answer[2:], "big"))
        return value if is_in_range(self.quantity, value) else None


# Numbers, bytes and scales: SAE J1979 mode 1.
RPM = Pid(quantity="rpm", number=0x0C, byte_count=2, scale=lambda raw: raw / 4.0)
# Asked for in turn between the rpm, when the car has them; SAE J1979 mode 1.
BESIDE = tuple(
    Pid(quantity=quantity, number=number, byte_count=byte_count, scale=scale)
    for quantity, number, byte_count, scale in (
        ("road_speed_m_s", 0x0D, 1, lambda raw: raw / 3.6),
        ("load_percent", 0x04, 1, lambda raw: raw / 2.55),
        ("throttle_percent", 0x11, 1, lambda raw: raw / 2.55),
        ("manifold_pressure_kpa", 0x0B, 1, float),
        ("coolant_temperature_degc", 0x05, 1, lambda raw: raw - 40.0),
        ("catalyst_temperature_degc", 0x3C, 2, lambda raw: raw / 10.0 - 40.0),
    )
)


class _Frame(Protocol):
    raw: str
    data: bytearray
    data_len: int | None  # as a CAN frame says itself; None on older buses


class _Message(Protocol):
    data: bytearray
    ecu: int
    frames: list[_Frame]


class FrameWatch:
    """Knows a frame that came whole from one that lost bytes on the cable.

    On CAN a frame says its own length, and most cars pad it to 8 bytes. A padded frame that lost
    bytes can look like one that is not padded: a car is held to what it did before, and the first
    frame that is not padded is not believed.
    """

    def __init__(self) -> None:
        self._car_pads = False
        self._bare_count = 0

    def is_whole(self, message: _Message) -> bool:
        """Take note of what the engine's computer sent, and judge it."""
        if len(message.frames) != 1:
            return False
        frame = message.frames[0]
        if frame.data_len is None:  # an older bus, where the checksum shows the length
            return True
        if len(message.data) != frame.data_len or not frame.raw.upper().startswith(_CAN_HEADERS):
            return False
        if len(frame.data) == _CAN_BYTES:
            self._car_pads = True
            return True
        if self._car_pads or len(frame.data) != 1 + frame.data_len:
            return False
        self._bare_count += 1
        return self._bare_count > 1


def strict_command(pid: Pid, frames: FrameWatch, *, quick: bool) -> OBDCommand:
    """Make the library's command; ``quick`` tells the adapter to wait for one frame only."""
    from obd import ECU, OBDCommand

    def decode(messages: Iterable[_Message]) -> float | None:
        values = (
            pid.decode(bytes(message.data))
            for message in messages
            if message.ecu == ECU.ENGINE and frames.is_whole(message)
        )
        return next((value for value in values if value is not None), None)

    return OBDCommand(
        pid.quantity,
        pid.quantity,
        f"01{pid.number:02X}{'1' if quick else ''}".encode(),
        0,  # neither pad nor cut
        decode,
        ECU.ALL,  # so that the adapter's words come back too
    )
