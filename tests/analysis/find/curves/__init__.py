"""Tests of analysis.find.curves."""
# SPDX-License-Identifier: GPL-2.0-or-later
