"""From sensors and files into a session folder, losing and inventing nothing."""
# SPDX-License-Identifier: GPL-2.0-or-later
