"""Build sheets to print.

Takes a plan (:mod:`analysis.build.workshop.plan`): ``every_sheet.build_sheets``.
Gives a PDF: lines in millimetres, so what a viewer shows at 100 % is what a ruler measures.
Knows nothing of how a piece was worked out.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
