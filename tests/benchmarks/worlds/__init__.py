"""What a sizing is worth on cars outside of what it takes for likely."""
# SPDX-License-Identifier: GPL-2.0-or-later
