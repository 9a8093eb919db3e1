"""One file a command: its options and its run; argparse lives here and nowhere else.

Takes the words that a person typed.
Gives requests to the rooms that do the work, and their results on the screen.
Knows nothing of acoustics, devices or file formats.

What cannot be done is raised, mostly before any work: an ``AnalysisError`` or a ``LoggerError``
with one line that says what to do. The door maps it to a status.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
