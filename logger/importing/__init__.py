"""Files recorded elsewhere, understood and turned into a session folder.

Takes sound and telemetry files in any usual shape, and what a person says of them.
Gives a session, and an account of how each column was understood; asks where a file can be read
in two ways.
Knows nothing of devices, drones or screens.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
