"""Files recorded elsewhere, understood and turned into a session folder."""
# SPDX-License-Identifier: GPL-2.0-or-later
