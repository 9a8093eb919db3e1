"""When the engine ran how fast, by what the sound itself tells.

Takes a working copy of the sound, and telemetry where there is any.
Gives engine speed over time with its uncertainty, and how late telemetry is.
Knows nothing of levels over engine speed, bands or causes.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
