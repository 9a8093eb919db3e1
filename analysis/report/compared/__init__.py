"""What the pages say of two drives or more: the outcome, the proof, the history.

Takes findings, comparisons and histories.
Gives sections and figures.
Knows nothing of how a verdict came about.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
