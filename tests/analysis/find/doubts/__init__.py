"""Tests of analysis.find.doubts."""
# SPDX-License-Identifier: GPL-2.0-or-later
