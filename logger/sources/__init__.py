"""Where rpm comes from while a drive is recorded: one contract, one small module for each kind."""
# SPDX-License-Identifier: GPL-2.0-or-later
