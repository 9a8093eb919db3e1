"""The files of a session folder, written whole and read with care.

Takes samples, rows, JSON values and paths.
Gives files that stay valid while they grow, and what damaged ones still hold.
Knows nothing of devices, recording or people.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
