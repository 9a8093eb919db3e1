"""Where rpm and road speed come from while a drive is recorded.

Takes a word such as ``obd:auto`` or ``pulse:2``.
Gives readings with the times of question and answer, and trouble; never a made-up value.
Knows nothing of sessions, files or what becomes of a reading.

``contract`` is all that a source must do; ``choice`` names every kind.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
