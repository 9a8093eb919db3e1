"""One vocabulary for screen, report and sheets: each sentence has one owner.

Takes numbers and results.
Gives sentences and figures as a builder reads them, metric and inch.
Knows nothing of HTML, PDF, JSON or terminals.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
