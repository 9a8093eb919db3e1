"""Tracks of satellite receivers: road speed and when it was driven.

Takes a GPX file, or sentences of NMEA 0183 as a receiver prints them.
Gives road speed in m/s over seconds, and the start in UTC; never an engine speed.
Knows nothing of tables, sound or sessions.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
