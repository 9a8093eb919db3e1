"""Numbers without a stage.

Takes numbers, and text with units as people type it.
Gives arrays' types, intervals, rpm bins, SI values, and the figures that define a cure.
Knows nothing of drives, exhausts or results.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
