"""From what built branches did to what to cut or add.

Takes two matched drives and the branches as built.
Gives where each branch works, how hot its gas must be, and the length that it should have.
Knows nothing of verdicts, pages or saws.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
