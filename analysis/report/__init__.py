"""The report: one self-contained HTML page from the results of find, size and compare.

Takes findings, a sizing, a comparison or a history (``contents.ReportContents``).
Gives the text of one file that opens in any browser.
Knows nothing of how a result came about.

Model first (``sections``: texts, numbers, figures as frozen blocks), then templates, then one text.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
