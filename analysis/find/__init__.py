"""Find the drone.

Takes a drive (:class:`analysis.drive.Drive`).
Gives findings (:class:`analysis.findings.Findings`): bands, curves, causes, doubts.
Knows nothing of branches, car files or a second drive.

``drone.find_drone`` is the line of stages: sound, speed, curves, bands, then doubts and causes.
A drive without sound goes through ``from_levels``. A new warning goes into ``doubts``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
