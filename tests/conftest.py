"""Settings for all tests.

Drawn examples are the same in every run, so that a red run can be run again. Draw others with
``HYPOTHESIS_PROFILE=wild``. None has a deadline: how long one takes says how busy the machine is.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import signal
from collections.abc import Iterator

import pytest
from hypothesis import settings
from threadpoolctl import threadpool_limits

import pipenote
from tests.command_line import Result, Run
from tests.done_once import compared_once, condition_once, found_once, set_up_once, sized_once

settings.register_profile("steady", deadline=None, derandomize=True)
settings.register_profile("wild", deadline=None, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))


@pytest.fixture(scope="session", autouse=True)
def _signals_as_in_a_terminal() -> None:
    """Heed what whoever started the tests may have them ignore: a script that does not wait."""
    for name, handler in (("SIGINT", signal.default_int_handler), ("SIGHUP", signal.SIG_DFL)):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_IGN:
            signal.signal(number, handler)


@pytest.fixture(scope="session", autouse=True)
def _one_thread_for_linear_algebra() -> Iterator[None]:
    """With many small solves more threads cost a third more of the processor and gain nothing."""
    with threadpool_limits(limits=1, user_api="blas"):
        yield


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command line as the shell would; usage errors end in SystemExit as they do there."""

    def run_now(*argv: object) -> Result:
        capsys.readouterr()
        try:
            status: object = pipenote.main([str(word) for word in argv])
        except SystemExit as end:
            status = end.code
        assert isinstance(status, int)
        return Result(status, *capsys.readouterr())

    return run_now


@pytest.fixture
def done_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let commands find, size and compare what another had before, at no cost."""
    # the first three are loaded when they are asked for
    monkeypatch.setattr("analysis.find.drone.find_drone", found_once)
    monkeypatch.setattr("analysis.size.size.size_branches", sized_once)
    monkeypatch.setattr("analysis.compare.comparison.compare_drives", compared_once)
    monkeypatch.setattr("analysis.size.on_exhaust.set_up", set_up_once)
    monkeypatch.setattr("analysis.compare.trim.on_exhaust.condition", condition_once)
