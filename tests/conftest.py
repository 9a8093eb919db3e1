"""Settings for all tests.

Drawn examples are the same in every run, so that a red run can be run again. Draw others with
``HYPOTHESIS_PROFILE=wild``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True)
settings.register_profile("wild", print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))
