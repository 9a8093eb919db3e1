"""What is in doubt about a drive, each with a fixed code and a sentence that says what to do.

Takes the evidence of a drive (:class:`analysis.find.doubts.evidence.Evidence`).
Gives doubts, and the reason why no band may be reported where there is one.
Knows nothing of causes, cures or a second drive.

A new doubt is a function from evidence to a doubt or None, in the module of its subject, and a
line in :mod:`analysis.find.doubts.raised`, which lists them all.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
