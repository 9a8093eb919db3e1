"""Serial ports of this computer, and whether they may be used."""
# SPDX-License-Identifier: GPL-2.0-or-later

import os
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from serial.tools import list_ports

from logger.check.cures import Cure, cure_for
from logger.screen.terminal import Row

# Windows asks every paired Bluetooth device first; judgement: shorter would call such a port dead
_PATIENCE_S = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialPort:
    """One port: what to call it, and what is behind it."""

    device: str
    description: str


def serial_ports(patience_s: float = _PATIENCE_S) -> tuple[SerialPort, ...] | None:
    """List the ports; None when the system takes too long to answer."""
    found: list[SerialPort] = []

    def look() -> None:
        found.extend(
            SerialPort(device=port.device, description=port.description)
            for port in list_ports.comports()
        )

    # daemon: whoever hangs there must not keep the program from its end
    looker = threading.Thread(target=look, name="serial ports", daemon=True)
    looker.start()
    looker.join(patience_s)
    return None if looker.is_alive() else tuple(found)


def port_rows(ports: Sequence[SerialPort] | None) -> list[Row]:
    """Tell about the ports found, or what to do when there is none; None: no answer."""
    if ports is None:
        words = "no answer; switch Bluetooth off, or remove paired devices, and retry"
        return [("Serial port", words)]
    if not ports:
        return [("Serial port", f"none; to use one, {cure_for(Cure.NO_PORT)}")]
    return [("Serial port", _port_words(port)) for port in ports]


def _port_words(port: SerialPort) -> str:
    words = port.device if port.description == "n/a" else f"{port.device} ({port.description})"
    barred = _barred(Path(port.device))
    return f"{words}; {barred}" if barred else words


def _barred(device: Path) -> str:
    """Why this user may not open the port, and the cure; empty when they may."""
    if sys.platform == "win32" or not device.exists() or os.access(device, os.R_OK | os.W_OK):
        return ""
    try:
        group = device.group()
    except KeyError:  # a group without a name
        group = "dialout"
    return f"you may not open it: sudo usermod -a -G {group} $USER, then log out and in again"
