"""Telemetry in tables: which file it is, what each column and unit means, and what its times are.

Takes a file of text or a spreadsheet in any usual shape, and what a person says of it.
Gives the session's columns in SI units, and an account of each column; asks where a table can be
read in two ways.
Knows nothing of sound or of sessions.

What it cannot decide ends in a ``TelemetryError``, one line that names the option which does.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
