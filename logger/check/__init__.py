"""What could record here, tried.

Takes a request: which microphone, which sources, how long.
Gives a table of devices, what each heard, and the cure of what fails.
Knows nothing of sessions and drives.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
