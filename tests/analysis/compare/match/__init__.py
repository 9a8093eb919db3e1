"""Checks of how two drives are laid side by side."""
# SPDX-License-Identifier: GPL-2.0-or-later
