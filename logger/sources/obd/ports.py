"""Where an adapter may be plugged in, and at which rate it talks.

``obd:auto`` writes to devices it does not know, so it keeps to USB and Bluetooth serial ports, and
a USB device gets nothing but a nonsense line until it has shown an adapter's prompt. A device of
another kind can still take offence: give its port by name when something else is plugged in.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import sys
from collections.abc import Iterable

import serial
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

# judgement: usual rates, common practice, no source, the most usual first; each wrong one costs the
# time of one try. Sockets and Bluetooth have no rate, and trying some fails there.
FIXED_RATE = 38_400
_RATES = (38_400, 115_200, 9_600, 230_400, 57_600, 19_200, 500_000)
_TRY_S = 0.25  # judgement: how long each rate is tried; shorter misses a slow adapter
_NONSENSE = b"\x7f\x7f\r"  # an empty line would repeat the last command
_PROMPTS = (b"\r>", b"\n>")
_NO_ADAPTER = ("gps", "gnss", "u-blox", "modem", "arduino")
_NOT_FOR_US = ("Bluetooth-Incoming-Port", "debug-console", "wlan-debug")  # macOS
_INCOMING = "&000000000000_"  # Windows: address of the Bluetooth port that waits to be called


def likely_ports(
    ports: Iterable[ListPortInfo] | None = None, platform: str = sys.platform
) -> list[str]:
    """Choose the ports of this computer that can be an adapter, USB first."""
    # not the library's own list: it lacks ttyACM ports, and on Windows opens COM0 to COM255 in turn
    found = list_ports.comports() if ports is None else ports
    likely = [port for port in found if _is_usb(port) or _is_bluetooth(port, platform)]
    return [port.device for port in sorted(likely, key=lambda port: not _is_usb(port))]


def has_no_rate(port_name: str, platform: str = sys.platform) -> bool:
    """Tell whether the port is a socket or Bluetooth."""
    if "://" in port_name or "rfcomm" in port_name:
        return True
    return any(
        port.device == port_name and _is_bluetooth(port, platform) for port in list_ports.comports()
    )


def find_rate(port_name: str) -> int | None:
    """Give the rate at which the device shows a prompt; None when it shows none.

    Raises
    ------
    OSError, ValueError, termios.error
        The port cannot be opened, or was lost.
    """
    with serial.Serial(port_name, timeout=_TRY_S, write_timeout=_TRY_S) as port:
        for rate in _RATES:
            port.baudrate = rate
            port.write(_NONSENSE)
            if port.read_until(b">", 64).endswith(_PROMPTS):
                return rate
    return None


def _is_usb(port: ListPortInfo) -> bool:
    words = f"{port.description} {port.manufacturer} {port.product}".lower()
    return port.vid is not None and not any(word in words for word in _NO_ADAPTER)


def _is_bluetooth(port: ListPortInfo, platform: str) -> bool:
    if platform == "win32":
        return "BTHENUM" in port.hwid and _INCOMING not in port.hwid
    if platform == "darwin":
        return port.vid is None and not any(name in port.device for name in _NOT_FOR_US)
    return "rfcomm" in port.device
