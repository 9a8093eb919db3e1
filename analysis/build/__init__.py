"""What to build, on paper.

Takes a sizing.
Gives cut lists, bends, templates (``workshop``), and a PDF of them at true scale (``sheets``).
Knows nothing of drives, sound or how a length came about.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
