"""One file a screen: what its page shows, and what its forms ask for.

Takes a request and the desk. Gives a page, or an errand to run.
Knows nothing of other screens.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
