"""What the logger refuses or loses, each with one line that says what to do."""
# SPDX-License-Identifier: GPL-2.0-or-later


class LoggerError(Exception):
    """Base of everything the logger raises; the command maps it to an exit status."""


class SessionError(LoggerError):
    """A session folder that exists already, cannot be written, or cannot be read."""


class OutputError(LoggerError):
    """A file to be written that exists already, or cannot be written."""


class AudioError(LoggerError):
    """A sound file that cannot be used as asked."""


class TelemetryError(LoggerError):
    """A telemetry file that cannot be understood, or that needs an option to be."""


class DeviceError(LoggerError):
    """A microphone or adapter that is missing or failed; exit status 3."""
