"""One drive while it is recorded.

Takes sound blocks and readings as they come.
Gives a session that survives a kill, and its status twice a second.
Knows nothing of screens, options or which device is behind a source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
