"""Find an adapter with a car behind it, and find it quickly the next time."""
# SPDX-License-Identifier: GPL-2.0-or-later

from logger.sources.obd.link import LinkError, ObdLink, connect
from logger.sources.obd.ports import FIXED_RATE, find_rate, has_no_rate, likely_ports
from logger.sources.serial_urls.protocol_timed import PORT_ERRORS


class AdapterSearch:
    """Tries one port at a time, and remembers port, rate and protocol that worked.

    Parameters
    ----------
    wanted : str
        ``auto``, or the port.
    rate : int or None
        Baud rate of every port; None asks each for its own.
    reply_limit_s, search_limit_s : float
        See :class:`logger.sources.obd.source.ObdSource`.
    """

    def __init__(
        self, wanted: str, *, rate: int | None, reply_limit_s: float, search_limit_s: float
    ) -> None:
        self._wanted = wanted
        self._told_rate = rate
        self._reply_limit_s = reply_limit_s
        self._search_limit_s = search_limit_s
        self._untried: list[str] = []
        self._failure: LinkError | None = None
        self._port = ""
        self._rates: dict[str, int] = {}
        self._protocol: str | None = None

    def try_next(self) -> ObdLink | None:
        """Try one port; None when it failed and there are more.

        Raises
        ------
        LinkError
            Every port has failed; it tells about the one that came nearest.
        """
        if not self._untried:
            self._failure = None
            self._untried = self._ports()
        port = self._untried.pop(0)
        try:
            link = self._connect(port)
        except LinkError as error:
            if self._failure is None or error.has_adapter:
                self._failure = error
            if self._untried:
                return None
            raise self._failure from error
        self._port, self._untried = port, []
        return link

    def note_rpm(self, link: ObdLink) -> None:
        """Note that the car gives rpm, so that this is how to speak with it."""
        self._protocol = link.protocol

    def _ports(self) -> list[str]:
        if self._wanted != "auto":
            return [self._wanted]
        ports = sorted(likely_ports(), key=lambda port: port != self._port)  # the last one first
        if not ports:
            raise LinkError("finds no USB or Bluetooth serial port; plug the adapter in")
        return ports

    def _connect(self, port: str) -> ObdLink:
        rate = self._told_rate or self._rates.get(port) or _rate_of(port)
        try:
            link = connect(
                port,
                rate=rate,
                protocol=self._protocol,
                reply_limit_s=self._reply_limit_s,
                search_limit_s=self._search_limit_s,
            )
        except LinkError as error:
            if not error.has_adapter:
                # something else may be plugged in there by now
                self._rates.pop(port, None)
            raise
        self._rates[port] = rate
        return link


def _rate_of(port: str) -> int:
    try:
        rate = FIXED_RATE if has_no_rate(port) else find_rate(port)
    except PORT_ERRORS as error:
        raise LinkError(
            f"cannot open {port} ({error}); plug it in, allow access to it (Linux: group dialout), "
            "or close what uses it"
        ) from error
    if rate is None:
        raise LinkError(
            f"does not answer at {port} at any baud rate; unplug it and plug it in again"
        )
    return rate
