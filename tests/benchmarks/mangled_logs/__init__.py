"""Thousands of mangled logs: no traceback, no hang, bounded memory."""
# SPDX-License-Identifier: GPL-2.0-or-later
