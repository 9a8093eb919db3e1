"""What to build, on paper.

Takes a sizing.
Gives pieces, bends and templates (``workshop``), pictures of them (``drawing``), and both in a PDF
at true scale (``sheets``).
Knows nothing of drives, sound or how a length came about.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
