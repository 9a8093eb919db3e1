"""One connection through python-OBD, with its traps fenced off.

The library freezes on a silent adapter (:mod:`logger.sources.serial_urls.protocol_timed`), makes
values up (:mod:`logger.sources.obd.commands`), writes to standard error, and raises what nobody
expects when the port goes away between two of its steps or an answer is mangled.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import logging
import time
from dataclasses import dataclass
from types import ModuleType
from typing import TYPE_CHECKING

import serial

from logger.errors import LoggerError
from logger.sources.obd.commands import BESIDE, RPM, FrameWatch, Pid, strict_command
from logger.sources.serial_urls.protocol_timed import PORT_ERRORS, timed_url

if TYPE_CHECKING:
    from obd import OBD

_PORTS = "logger.sources.serial_urls"
_LIBRARY_ERRORS: tuple[type[Exception], ...] = (
    AttributeError,
    IndexError,
    TypeError,
    *PORT_ERRORS,
)


class LinkError(LoggerError):
    """There is no connection to a car; ``has_adapter`` tells whether an adapter answered."""

    def __init__(self, words: str, *, has_adapter: bool = False) -> None:
        super().__init__(words)
        self.has_adapter = has_adapter


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back: a value, or the words in its place; times of :func:`time.perf_counter`."""

    value: float | None
    words: str
    request_s: float
    reply_s: float


class ObdLink:
    """A connection to a car; owned by one thread."""

    def __init__(self, connection: OBD) -> None:
        self._connection = connection
        self.protocol: str = connection.protocol_id()
        frames, pids = FrameWatch(), (RPM, *BESIDE)
        self._plain = {pid: strict_command(pid, frames, quick=False) for pid in pids}
        self._quick = {pid: strict_command(pid, frames, quick=True) for pid in pids}
        self.beside = tuple(pid for pid in BESIDE if connection.supports(self._plain[pid]))

    @property
    def is_alive(self) -> bool:
        """Whether the library still has a port; it may call itself connected without one."""
        return self._connection.is_connected() and bool(self._connection.port_name())

    def ask(self, pid: Pid, *, quick: bool) -> Answer:
        """Ask the car for one quantity."""
        command = (self._quick if quick else self._plain)[pid]
        request_s = time.perf_counter()
        value, words = None, ""
        try:
            # by force: the list of what the car knows, asked for at connect, may have come mangled
            response = self._connection.query(command, force=True)
            value = response.value
            words = " ".join(message.raw() for message in response.messages)
        except _LIBRARY_ERRORS as error:  # a mangled answer
            words = str(error)
        return Answer(value=value, words=words, request_s=request_s, reply_s=time.perf_counter())

    def close(self) -> None:
        """Let the adapter go."""
        try:
            self._connection.close()
        except _LIBRARY_ERRORS:
            return  # it went away by itself


def connect(
    port: str, *, rate: int, protocol: str | None, reply_limit_s: float, search_limit_s: float
) -> ObdLink:
    """Connect; with ``protocol`` known it takes one second, else three and the search.

    Raises
    ------
    LinkError
        No adapter, no car, or no library.
    """
    obd = import_obd_quietly()
    # a device that is dead holds the library up for 132 s, and a silent one for 121 s
    url = timed_url(port, reply_limit_s=reply_limit_s, search_limit_s=search_limit_s)
    try:
        connection = obd.OBD(
            url,
            baudrate=rate,
            protocol=protocol,
            fast=False,  # its short questions cannot be trusted; Shortcut has its own
            check_voltage=False,  # some adapters answer that with words, which ends the library
        )
    except _LIBRARY_ERRORS as error:
        raise LinkError(f"was lost at {port} ({error}); plug it in again") from error
    status = connection.status()
    if status == obd.OBDStatus.CAR_CONNECTED:
        return ObdLink(connection)
    connection.close()
    if status == obd.OBDStatus.NOT_CONNECTED:
        raise LinkError(
            f"does not answer at {port}; plug it in, switch it on or pair it, and allow access to "
            "the port"
        )
    raise LinkError(
        f"reaches no car through {port}; switch the ignition on, and push the adapter in firmly",
        has_adapter=True,
    )


def import_obd_quietly() -> ModuleType:
    """Import the library, half a second, and keep it from writing to standard error.

    Raises
    ------
    LinkError
        The library, or one that it needs, does not load.
    """
    try:
        import obd
    except ImportError as error:
        raise LinkError(
            f"needs the library python-OBD, which does not load ({error}); install pipenote again, "
            "or take another --rpm"
        ) from error
    obd.logger.handlers[:] = [logging.NullHandler()]
    if _PORTS not in serial.protocol_handler_packages:
        serial.protocol_handler_packages.append(_PORTS)
    return obd  # type: ignore[no-any-return] # it has no types
