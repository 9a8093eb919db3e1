"""Files that a person asked for: whole or not at all, and nothing written over."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from logger.errors import OutputError
from logger.folder.output_file import refuse_out, write_whole
from tests.logger.folders import files_below, write_small_session


def test_a_file_is_made_and_nothing_else(tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    write_whole(out, b"page")
    assert out.read_bytes() == b"page"
    assert list(tmp_path.iterdir()) == [out]


def test_an_existing_file_is_kept_unless_asked(tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    out.write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"exists already.*--overwrite"):
        write_whole(out, b"page")
    assert out.read_bytes() == b"mine"
    write_whole(out, b"page", overwrite=True)
    assert out.read_bytes() == b"page"
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("has_links", [True, False], ids=["hard links", "none, as on FAT"])
def test_a_file_made_by_someone_quicker_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, has_links: bool
) -> None:
    out = tmp_path / "report.html"
    link = os.link

    def late_link(part: Path, path: Path) -> None:
        out.write_bytes(b"theirs")
        if not has_links:
            raise OSError(errno.EPERM, os.strerror(errno.EPERM))
        link(part, path)

    monkeypatch.setattr(os, "link", late_link)
    with pytest.raises(OutputError, match="exists already"):
        write_whole(out, b"page")
    assert out.read_bytes() == b"theirs"
    assert list(tmp_path.iterdir()) == [out]


def test_without_hard_links_a_file_is_made_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(part: Path, path: Path) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)
    write_whole(tmp_path / "report.html", b"page")
    assert [each.read_bytes() for each in tmp_path.iterdir()] == [b"page"]


@pytest.mark.parametrize("overwrite", [False, True])
def test_a_place_that_cannot_be_written_is_one_clear_line(tmp_path: Path, overwrite: bool) -> None:
    for out in (tmp_path / "no-folder" / "report.html", tmp_path):
        with pytest.raises(OutputError) as caught:
            write_whole(out, b"page", overwrite=overwrite)
        assert "\n" not in str(caught.value)
        assert str(out) in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_what_is_read_is_never_written_over(tmp_path: Path) -> None:
    session, car = tmp_path / "monday", tmp_path / "car.toml"
    session.mkdir()
    for inside in (session / "session.json", session / "audio.wav", car):
        with pytest.raises(OutputError, match="choose another name"):
            refuse_out(inside, inputs=[session, car, None], overwrite=True)
    refuse_out(session / "report.html", session / "sheets.pdf", inputs=[session, car])
    refuse_out(tmp_path / "friday.toml", inputs=[session, car])
    refuse_out(None, inputs=[session, car])


@pytest.mark.parametrize("name", ["session.json", "telemetry.csv", "audio-2.wav", "Audio.WAV"])
def test_a_sessions_own_file_is_never_written_read_here_or_not(tmp_path: Path, name: str) -> None:
    """Also one that is not there yet: a sound beside levels alone makes them unreadable."""
    session = tmp_path / "monday"
    write_small_session(session)
    before = files_below(session)
    with pytest.raises(OutputError, match="is a file of the session in"):
        write_whole(session / name, b"page", overwrite=True)
    assert files_below(session) == before


def test_one_name_for_two_files_is_refused(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    with pytest.raises(OutputError, match="is to be written twice"):
        refuse_out(tmp_path / "x", tmp_path / "sub" / ".." / "x", overwrite=True)
