"""What the analysis refuses, each with one line that says what to do."""
# SPDX-License-Identifier: GPL-2.0-or-later


class AnalysisError(ValueError):
    """Base of everything the analysis refuses; the command maps it to exit status 2."""


class QuantityError(AnalysisError):
    """A length, temperature or speed that cannot be read, or that lies outside what is possible."""


class CarError(AnalysisError):
    """A car file with an unknown key, a missing value or an impossible size."""


class DriveError(AnalysisError):
    """A drive that holds too little, or too damaged, data for the question asked."""


class SizingError(AnalysisError):
    """A branch that cannot be sized from what is known."""
