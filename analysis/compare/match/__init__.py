"""Two drives laid side by side, so that like is compared with like.

Takes the findings of two drives.
Gives what both hold alike, level changes with their intervals, and what was left out.
Knows nothing of verdicts in words, branches or trims.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
