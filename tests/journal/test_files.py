"""Files that come whole or not at all, whenever the disk dies, and never over something that is no ordinary file."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.files import new_file, new_folder, replace_whole, write_atomically
from tests.journal.failing_disk import DyingDisk, refusal
from tests.journal.sample_class import names_in, rights

OLD, NEW = b"old\n" * 50, b"new\n" * 70
MAKES = """
import pathlib, sys
from floorclock.journal.files import new_file, new_folder
make = {"file": new_file, "folder": new_folder}[sys.argv[1]]
with make(pathlib.Path(sys.argv[2])) as made:
    (made / "people.csv").write_text("Ilka") if sys.argv[1] == "folder" else made.write(b"Ilka")
    print("made", flush=True)
    sys.stdin.readline()
"""


def test_whenever_the_disk_dies_the_file_is_the_old_one_or_the_new_one(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.with_suffix(".new").write_bytes(b"what an earlier death left")
    refused = 0
    for deeds in range(60):
        path.write_bytes(OLD)
        disk = DyingDisk(path, deeds)
        try:
            replace_whole(path, NEW, disk)
        except OSError:
            refused += 1
        assert {path.read_bytes(), *disk.seen} <= {OLD, NEW}
        assert names_in(tmp_path) == [path.name]
        if disk.deeds >= 0:
            break
    assert (path.read_bytes(), rights(path)) == (NEW, 0o600)
    assert refused > 5


def test_a_new_report_is_for_its_owners_eyes_and_an_older_one_keeps_its_rights(tmp_path: Path) -> None:
    path = tmp_path / "out.html"
    for before, after in ((None, 0o600), (0o644, 0o644)):
        if before is not None:
            path.write_bytes(b"a longer old page")
            path.chmod(before)
        write_atomically(path, b"page")
        assert (path.read_bytes(), rights(path), names_in(tmp_path)) == (b"page", after, ["out.html"])


def test_a_link_stays_a_link_and_what_it_names_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "real.html").write_bytes(b"old")
    (tmp_path / "link.html").symlink_to("real.html")
    write_atomically(tmp_path / "link.html", b"page")
    assert (tmp_path / "link.html").is_symlink()
    assert (tmp_path / "real.html").read_bytes() == b"page"


def test_a_place_where_nothing_can_be_written_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    os.mkfifo(tmp_path / "pipe")
    before = names_in(tmp_path)
    for path, kind, words in (
        (tmp_path / "nowhere" / "out.html", WrongUsage, "there is no folder .*nowhere"),
        (tmp_path / "file" / "out.html", WrongUsage, "there is no folder"),
        (tmp_path, WrongUsage, "that is a folder"),
        (tmp_path / "pipe", WrongUsage, "device or a pipe"),
        (Path("/dev/null"), WrongUsage, "device or a pipe"),
        (tmp_path / "a", (ResourceError, WrongUsage), "cannot be written"),
        (tmp_path / ("x" * 300), ResourceError, "too long"),
    ):
        with pytest.raises(kind, match=words):
            write_atomically(path, b"page")
    assert names_in(tmp_path) == before
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


def test_a_full_disk_leaves_the_old_file_and_nothing_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = tmp_path / "out.html"
    old.write_bytes(b"old")

    def full(descriptor: int) -> None:
        raise refusal(errno.ENOSPC)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ResourceError, match="disk full"):
        write_atomically(old, b"page")
    assert (old.read_bytes(), names_in(tmp_path)) == (b"old", ["out.html"])


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_a_folder_without_the_right_to_write_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(ResourceError, match="no right to write there"):
        write_atomically(tmp_path / "out.html", b"page")


@pytest.mark.parametrize("kind", ["file", "folder"])
def test_what_a_killed_command_left_is_swept_and_what_a_running_one_makes_is_not(kind: str, tmp_path: Path) -> None:
    command = [sys.executable, "-c", MAKES, kind, str(tmp_path / "out")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as maker:
        assert maker.stdout is not None
        assert maker.stdout.readline() == "made\n"
        (beside,) = names_in(tmp_path)
        write_atomically(tmp_path / "page.html", b"x")
        assert names_in(tmp_path) == [beside, "page.html"]
        maker.kill()
    with new_file(tmp_path / "all.tar.gz") as file:
        file.write(b"x")
    assert names_in(tmp_path) == ["all.tar.gz", "page.html"]


def test_what_looks_like_a_left_over_and_is_not_ours_stays(tmp_path: Path) -> None:
    for name in (".out.abcdefgh.new", "out.floorclock-abcdefgh.new", ".out.floorclock-abcdefgh.old"):
        (tmp_path / name).write_bytes(b"x")
    with new_folder(tmp_path / "out") as made:
        (made / "a.csv").write_bytes(b"x")
    assert len(names_in(tmp_path)) == 4
    assert names_in(tmp_path / "out") == ["a.csv"]
