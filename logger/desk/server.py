"""Serve the desk until it is stopped."""
# SPDX-License-Identifier: GPL-2.0-or-later

import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from logger.desk.app import make_app
from logger.desk.folder import DeskFolder
from logger.desk.gate import Rules
from logger.errors import OutputError

HOME = "127.0.0.1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Where the desk is to be opened; port 0 takes any that is free."""

    folder: Path
    address: str
    port: int
    opens_browser: bool


def serve(opening: Opening, say: Callable[[str], None]) -> None:
    """Serve until Ctrl-C.

    Raises
    ------
    SessionError
        The folder cannot be read.
    OutputError
        The port is taken, or the address is none of this machine.
    """
    folder = DeskFolder(opening.folder)
    folder.look()  # refuse a folder that is none before anything is opened
    folder.inbox.clear()
    is_home = opening.address == HOME
    with _listening(opening) as listener:
        port = listener.getsockname()[1]
        names = {HOME, "localhost"} if is_home else {HOME, "localhost", opening.address}
        rules = Rules(
            hosts=frozenset(f"{name}:{port}" for name in names),
            token=None if is_home else secrets.token_urlsafe(18),
        )
        url = f"http://{opening.address}:{port}/"
        if rules.token is not None:
            url = f"{url}?token={rules.token}"
            say("Whoever has this address can see and change all drives in the folder.")
        say(f"The desk is open at {url} (Ctrl-C closes it).")
        config = uvicorn.Config(
            make_app(folder.path, rules),
            log_level="error",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=2,
        )
        if opening.opens_browser:
            threading.Timer(0.5, webbrowser.open, (url,)).start()
        uvicorn.Server(config).run(sockets=[listener])


def _listening(opening: Opening) -> socket.socket:
    try:
        return socket.create_server((opening.address, opening.port))
    except (OSError, OverflowError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise OutputError(
            f"cannot open {opening.address}:{opening.port}: {why}; choose another --port, or leave "
            "it out"
        ) from error
