"""A session: metadata, sound and telemetry of one drive, read and written.

Takes a session folder, or what goes into a new one.
Gives a :class:`Session`, and by :meth:`Session.drive` what the analysis works on.
Knows nothing of devices, recording or people.

This is the one room beside the commands that knows the analysis. The format is described in
``SESSION_FORMAT.md``, beside this folder.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.drive import MOST_CYLINDERS, SAMPLE_RATES_HZ, Trouble
from logger.session.metadata import MOST_MARKS, SessionMetadata, SoundOrigin, encode_metadata
from logger.session.reading import Session, read_session
from logger.session.writing import write_session

__all__ = [
    "MOST_CYLINDERS",
    "MOST_MARKS",
    "SAMPLE_RATES_HZ",
    "Session",
    "SessionMetadata",
    "SoundOrigin",
    "Trouble",
    "encode_metadata",
    "read_session",
    "write_session",
]
