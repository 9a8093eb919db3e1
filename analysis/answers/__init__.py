"""Results as JSON for scripts and as text for a terminal.

Takes frozen results.
Gives JSON documents that fit ``schemas/``, and tables.
Knows nothing of how a result came about, or of pages.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
