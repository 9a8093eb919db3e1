"""What the page says of a drive: cause, levels, quality, and the pictures of them.

Takes findings.
Gives sections and figures.
Knows nothing of sizings and comparisons.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
