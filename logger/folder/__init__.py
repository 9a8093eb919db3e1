"""Files, those of a session folder above all: written whole and read with care.

Takes samples, rows, JSON values, bytes and paths.
Gives files that are whole, or stay valid while they grow, and what damaged ones still hold.
Knows nothing of devices, recording or people.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
