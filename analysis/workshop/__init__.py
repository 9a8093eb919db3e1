"""What the builder does with a sizing: shapes of cuts, pieces, bends and caps, as plain numbers."""
# SPDX-License-Identifier: GPL-2.0-or-later
