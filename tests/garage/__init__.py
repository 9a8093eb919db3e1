"""Random whole exhausts with a physics of their own, to try sizing on; shares no code with it."""
# SPDX-License-Identifier: GPL-2.0-or-later
