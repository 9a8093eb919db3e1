"""Draws a branch, its joints and its pieces.

Takes plans (:mod:`analysis.build.workshop.plan`).
Gives shapes in millimetres (``pen``), for a PDF page or, as SVG, for the report (``svg``).
Knows nothing of pages, papers and HTML.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
