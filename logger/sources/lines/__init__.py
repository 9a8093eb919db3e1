"""Sources that print lines of text: small boards and satellite receivers.

Takes a port's name.
Gives readings of whole, plausible lines.
Knows nothing of other sources.
"""
# SPDX-License-Identifier: GPL-2.0-or-later
