"""Tests of analysis.describe."""
# SPDX-License-Identifier: GPL-2.0-or-later
