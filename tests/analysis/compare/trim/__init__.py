"""Checks of what is said about trimming."""
# SPDX-License-Identifier: GPL-2.0-or-later
