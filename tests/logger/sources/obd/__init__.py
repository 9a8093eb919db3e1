"""Tests of logger.sources.obd."""
# SPDX-License-Identifier: GPL-2.0-or-later
