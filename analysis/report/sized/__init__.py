"""What the page says of a sizing: what to build, a drawing, and the pictures of it.

Takes a sizing.
Gives sections, a drawing and figures.
Knows nothing of a post-fix drive.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
