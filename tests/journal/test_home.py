"""Where the records live, and who may read them."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from floorclock.errors import ResourceError
from floorclock.journal.beat import Beat, beat_path, write_beat
from floorclock.journal.home import classes_folder, data_home, new_journal_path
from floorclock.journal.writer import JournalWriter
from tests.journal.sample_class import WALL, event_numbered, journal_at, journal_bytes, rights, sample_header


@pytest.fixture(params=[0o000, 0o022, 0o077, 0o777], ids=oct)
def umask(request: pytest.FixtureRequest) -> Iterator[None]:
    before = os.umask(request.param)
    yield
    os.umask(before)


@pytest.mark.usefixtures("umask")
def test_all_that_is_made_is_for_its_owner_only_whatever_the_umask(tmp_path: Path) -> None:
    home = data_home({"FLOORCLOCK_HOME": str(tmp_path / "deep" / "below" / "home")})
    path = new_journal_path(home, WALL)
    writer = JournalWriter(path, sample_header(path.stem), on_written=lambda *told: None)
    writer.append(event_numbered(1), WALL)
    writer.beat(Beat(5, WALL))
    assert rights(path.with_suffix(".lock")) == 0o600
    writer.close()
    torn = journal_at(path.with_name("20261125-1831-zzzz.jsonl"), 2)
    torn.write_bytes(journal_bytes(2)[:-9])
    writer = JournalWriter.reopen(torn, on_written=lambda *told: None)
    writer.append(event_numbered(2), WALL)
    writer.close()
    files = {found.suffix: rights(found) for found in path.parent.iterdir()}
    assert files == {".jsonl": 0o600, ".beat": 0o600, ".torn": 0o600}
    assert {rights(folder) for folder in (path.parent, home, home.parent, home.parent.parent)} == {0o700}


def test_a_folder_that_somebody_else_made_keeps_its_rights_but_the_journals_are_closed_to_others(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    (tmp_path / "classes").mkdir(mode=0o755)
    home = data_home({"FLOORCLOCK_HOME": str(tmp_path)})
    assert rights(classes_folder(home)) == 0o700
    assert rights(home) == 0o755


def test_without_a_wish_it_is_the_folder_that_the_base_directory_specification_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # XDG Base Directory Specification: $XDG_DATA_HOME, else $HOME/.local/share; missing folders are made with 0700.
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    for environ in ({}, {"FLOORCLOCK_HOME": ""}, {"FLOORCLOCK_HOME": "  "}):
        assert data_home(environ) == tmp_path / "data" / "floorclock"
    assert rights(tmp_path / "data") == 0o700
    monkeypatch.delenv("XDG_DATA_HOME")
    monkeypatch.setenv("HOME", str(tmp_path / "coach"))
    assert data_home({}) == tmp_path / "coach" / ".local" / "share" / "floorclock"


def test_a_wish_may_begin_at_the_users_own_folder_or_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    assert data_home({"FLOORCLOCK_HOME": "~/gym"}) == tmp_path / "gym"
    assert data_home({"FLOORCLOCK_HOME": "here"}) == tmp_path / "here"


def test_a_home_that_cannot_be_made_is_a_lack_of_the_machine(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for wish in (tmp_path / "file", tmp_path / "file" / "home"):
        with pytest.raises(ResourceError, match="a file is in the way"):
            data_home({"FLOORCLOCK_HOME": str(wish)})
    with pytest.raises(ResourceError):
        data_home({"FLOORCLOCK_HOME": "~nobody-of-this-name/home"})
    (tmp_path / "classes").write_text("")
    with pytest.raises(ResourceError):
        classes_folder(tmp_path)


def test_a_new_class_never_gets_the_place_of_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = iter(["0001", "0001", "0002"])
    monkeypatch.setattr("floorclock.journal.home.secrets.token_hex", lambda length: next(drawn))
    first = new_journal_path(tmp_path, WALL)
    first.touch()
    assert [first.name, new_journal_path(tmp_path, WALL).name] == ["20261125-1831-0001.jsonl", "20261125-1831-0002.jsonl"]


def test_a_beat_is_for_its_owner_only(tmp_path: Path) -> None:
    path = beat_path(tmp_path / "20261125-1831-7f3a.jsonl")
    path.touch(mode=0o644)
    assert write_beat(path, Beat(1, WALL))
    assert rights(path) == 0o600


def test_the_room_is_entered_without_screen_server_store_or_sound() -> None:
    rooms = "writer, shelf, home, reading, beat, lock"
    code = f"import sys\nfrom floorclock.journal import {rooms}\nprint(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert "floorclock.journal.writer" in loaded
    for heavy in ("textual", "rich", "starlette", "sqlalchemy", "miniaudio", "pydantic", "yaml", "platformdirs"):
        assert heavy not in loaded
