"""Stands for an errand of the desk: passes streams, folder and signals on to what runs it.

A program of its own, which loads next to nothing: ``pass_on.py DOOR WORDS...``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import os
import signal
import socket
import sys


def main(door: str, words: list[str]) -> int:
    """Have it run by what listens at the door (see ``warm.py``); gives its status."""
    stop = {signal.SIGTERM}
    signal.pthread_sigmask(signal.SIG_BLOCK, stop)  # it waits until there is something to stop
    with socket.socket(socket.AF_UNIX) as asked:
        asked.connect(door)
        told = json.dumps([os.getcwd(), dict(os.environ), words])  # noqa: PTH109, pathlib loads long
        socket.send_fds(asked, [told.encode()], [0, 1, 2])
        errand = int.from_bytes(asked.recv(8), "big")
        signal.signal(signal.SIGTERM, lambda number, _: os.kill(errand, number))
        signal.pthread_sigmask(signal.SIG_UNBLOCK, stop)
        return int.from_bytes(asked.recv(8), "big", signed=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2:]))
