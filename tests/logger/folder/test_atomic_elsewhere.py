"""What files need on Windows, tried with a file system that refuses as a virus scanner makes it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from pathlib import Path

import pytest

from logger.folder import atomic


class Held:
    """Refuses to rename for the first few times."""

    def __init__(self, times: int) -> None:
        self.times = times
        self.tries = 0
        self._replace = Path.replace

    def __call__(self, source: Path, target: Path) -> Path:
        self.tries += 1
        if self.tries <= self.times:
            raise PermissionError(13, "in use")
        return self._replace(source, target)


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> Held:
    held = Held(times=3)
    monkeypatch.setattr(Path, "replace", lambda source, target: held(source, target))
    monkeypatch.setattr("logger.folder.atomic.time.sleep", lambda seconds: None)
    return held


def test_on_windows_a_file_that_a_scanner_holds_is_replaced_in_the_end(
    tmp_path: Path, held: Held, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.folder.atomic.sys.platform", "win32")
    target = tmp_path / "session.json"
    target.write_bytes(b"old")
    atomic.replace_file(target, (b"new",))
    assert target.read_bytes() == b"new"
    assert held.tries == 4


def test_elsewhere_a_refusal_is_one(
    tmp_path: Path, held: Held, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.folder.atomic.sys.platform", "linux")
    target = tmp_path / "session.json"
    target.write_bytes(b"old")
    with pytest.raises(PermissionError):
        atomic.replace_file(target, (b"new",))
    assert target.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["session.json"]
    assert held.tries == 1


def test_on_windows_nobody_is_asked_to_hold_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.folder.atomic.sys.platform", "win32")
    with atomic.try_to_hold(tmp_path) as one, atomic.try_to_hold(tmp_path) as other:
        assert one
        assert other
