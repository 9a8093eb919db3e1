"""Did it work? The drive before the work against the drive after it.

Takes the findings of two drives, or of many, and what was built.
Gives a comparison (:class:`analysis.verdicts.Comparison`) or a history: verdicts, trims, doubts.
Knows nothing of sound, drawings, pages or files.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
