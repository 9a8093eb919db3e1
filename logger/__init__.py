"""From sensors and files into a session folder, losing and inventing nothing.

Takes microphones, rpm sources, files recorded elsewhere, and what a person types.
Gives session folders, and the commands that people run on them.
Knows nothing of how a drone is found or cured: that is ``analysis``, which only the rooms session
and command touch.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
