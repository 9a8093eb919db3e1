"""What a person sees and presses while something runs.

Takes the status of a recording, progress, keys and signals.
Gives a live screen, plain lines, a bar, marks and the wish to stop.
Knows nothing of devices and files.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
