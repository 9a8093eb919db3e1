"""Ports for pyserial's ``serial_for_url``, which looks for ``protocol_NAME`` here.

Takes a URL such as ``timed://PORT``.
Gives a port that never waits longer than it was told.
Knows nothing of what is said over it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
