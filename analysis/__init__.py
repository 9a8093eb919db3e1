"""Find an exhaust drone in a recorded drive, size its cure, and prove that it worked.

Takes plain arrays and pandas frames (:class:`analysis.drive.Drive`).
Gives frozen results: findings, sizing, comparison, history; as JSON, sheets and pages too.
Knows nothing of microphones, ports, sound files, command lines or terminals.

The job runs through the rooms in this order: find, size, compare, build, report. They hand on the
types beside this file, and stand on basics, words, acoustics and exhaust.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
