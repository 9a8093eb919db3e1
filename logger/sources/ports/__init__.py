"""Ports for pyserial's ``serial_for_url``, which looks for ``protocol_NAME`` here."""
# SPDX-License-Identifier: GPL-2.0-or-later
