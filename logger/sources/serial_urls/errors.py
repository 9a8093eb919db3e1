"""What pyserial raises when a port is not there, may not be used, or goes away."""
# SPDX-License-Identifier: GPL-2.0-or-later

import sys

if sys.platform == "win32":
    PORT_ERRORS: tuple[type[Exception], ...] = (OSError, ValueError)
else:
    import termios

    # SerialException is an OSError; a port lost while it is set up raises the terminal's own
    PORT_ERRORS: tuple[type[Exception], ...] = (OSError, ValueError, termios.error)
