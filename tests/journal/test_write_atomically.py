"""A report comes whole or not at all, and never over something that is no ordinary file."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.files import write_atomically


def test_a_new_file_is_for_its_owners_eyes_and_nothing_stays_beside_it(tmp_path: Path) -> None:
    write_atomically(tmp_path / "out.html", b"page")
    assert [path.name for path in tmp_path.iterdir()] == ["out.html"]
    assert (tmp_path / "out.html").read_bytes() == b"page"
    assert stat.S_IMODE((tmp_path / "out.html").stat().st_mode) == 0o600


def test_an_older_file_is_replaced_and_keeps_its_rights(tmp_path: Path) -> None:
    old = tmp_path / "out.html"
    old.write_bytes(b"a longer old page")
    old.chmod(0o644)
    write_atomically(old, b"page")
    assert old.read_bytes() == b"page"
    assert stat.S_IMODE(old.stat().st_mode) == 0o644


def test_a_link_stays_a_link_and_what_it_names_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "real.html").write_bytes(b"old")
    (tmp_path / "link.html").symlink_to("real.html")
    write_atomically(tmp_path / "link.html", b"page")
    assert (tmp_path / "link.html").is_symlink()
    assert (tmp_path / "real.html").read_bytes() == b"page"


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match=r"there is no folder .*nowhere"):
        write_atomically(tmp_path / "nowhere" / "out.html", b"page")
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(WrongUsage, match="there is no folder"):
        write_atomically(tmp_path / "file" / "out.html", b"page")


def test_folders_pipes_and_devices_are_left_alone(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path, words in ((tmp_path, "that is a folder"), (pipe, "device or a pipe"), (Path("/dev/null"), "device or a pipe")):
        with pytest.raises(WrongUsage, match=words):
            write_atomically(path, b"page")
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


def test_links_in_a_circle_are_told(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    with pytest.raises((ResourceError, WrongUsage), match="cannot be written"):
        write_atomically(tmp_path / "a", b"page")


def test_a_full_disk_leaves_the_old_file_and_nothing_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = tmp_path / "out.html"
    old.write_bytes(b"old")

    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ResourceError, match="disk full"):
        write_atomically(old, b"page")
    assert old.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["out.html"]


def test_a_name_that_is_too_long_is_told(tmp_path: Path) -> None:
    with pytest.raises(ResourceError, match="too long"):
        write_atomically(tmp_path / ("x" * 300), b"page")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_a_folder_without_the_right_to_write_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(ResourceError, match="no right to write there"):
        write_atomically(tmp_path / "out.html", b"page")
