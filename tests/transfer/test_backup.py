"""Backups: whole, checked by other programs too, restored over nothing, refused when anything is wrong."""

from __future__ import annotations

import errno
import gzip
import hashlib
import io
import shutil
import subprocess
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.journal.lines import encode
from floorclock.journal.lock import ClassLock
from floorclock.people.register import canonical_names, keep_apart, merge, people_path
from floorclock.transfer import back_up, restore
from floorclock.transfer import backup as packing
from floorclock.transfer.backup import LARGEST_JOURNAL, BadBackup
from tests.journal.failing_disk import RefusingDisk
from tests.journal.sample_class import WALL, journal_bytes
from tests.transfer.records import DAMAGED, PLAIN, TORN, journals

needs_tar = pytest.mark.skipif(shutil.which("tar") is None or shutil.which("sha256sum") is None, reason="no tar or sha256sum")


@pytest.fixture
def backup(records: Path, tmp_path: Path) -> Path:
    back_up(records, tmp_path / "all.tar.gz", wall=WALL)
    return tmp_path / "all.tar.gz"


def test_everything_comes_back_to_the_byte(records: Path, backup: Path, home: Path) -> None:
    done = restore(home, backup)
    assert journals(home) == journals(records)
    assert (home / "settings.json").read_bytes() == (records / "settings.json").read_bytes()
    assert canonical_names(home) == {"Ilca": "Ilka"}
    assert set(done.taken) == set(journals(records))
    assert all(path.stat().st_mode & 0o077 == 0 for path in home.rglob("*"))
    assert "made 2026-11-25T18:31:04.120+01:00: 6 classes restored, 0 were here already." in done.words
    again = restore(home, backup)
    assert (again.taken, again.settings, again.decisions.taken) == ((), "the same", 0)


@needs_tar
def test_the_usual_programs_unpack_it_and_find_every_sum_right(records: Path, backup: Path, tmp_path: Path) -> None:
    """GNU or BSD tar, and sha256sum, know nothing of floorclock."""
    folder = tmp_path / "unpacked"
    folder.mkdir()
    subprocess.run(["tar", "-xzf", str(backup), "-C", str(folder)], check=True, timeout=60)
    done = subprocess.run(["sha256sum", "--strict", "-c", "SHA256SUMS"], cwd=folder, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count(": OK\n") == len(journals(records)) + 3
    assert journals(folder) == journals(records)
    assert subprocess.run(["gzip", "-t", str(backup)], timeout=60).returncode == 0


def test_the_file_is_its_owners_alone_and_never_put_over_another(records: Path, backup: Path) -> None:
    assert backup.stat().st_mode & 0o777 == 0o600
    before = backup.read_bytes()
    with pytest.raises(WrongUsage, match="is there already"):
        back_up(records, backup)
    assert backup.read_bytes() == before
    with pytest.raises(WrongUsage, match="there is no folder"):
        back_up(records, backup.parent / "a" / "b.tar.gz")
    assert [path.name for path in backup.parent.iterdir() if ".new" in path.name] == []
    with pytest.raises(NotFound):
        back_up(backup.parent / "nowhere", backup.parent / "b.tar.gz")


def test_a_class_that_runs_is_copied_up_to_its_last_whole_line(records: Path, tmp_path: Path, home: Path) -> None:
    path = records / "classes" / f"{TORN}.jsonl"
    lock = ClassLock.take(path)
    done = back_up(records, tmp_path / "b.tar.gz")
    lock.release()
    assert f"Still running, so as far as it was: {TORN}." in done
    restore(home, tmp_path / "b.tar.gz")
    whole = path.read_bytes()
    assert journals(home)[TORN] == whole[: whole.rfind(b"\n") + 1]


def test_what_is_here_stays_and_is_said(records: Path, backup: Path, home: Path) -> None:
    (home / "classes").mkdir(parents=True)
    more = journals(records)[PLAIN] + b"one line more\n"
    (home / "classes" / f"{PLAIN}.jsonl").write_bytes(more)
    (home / "classes" / f"{DAMAGED}.jsonl").write_bytes(journal_bytes(2))
    (home / "settings.json").write_text("{}")
    done = restore(home, backup)
    assert (done.older, done.different) == ((PLAIN,), (DAMAGED,))
    assert journals(home)[PLAIN] == more
    assert journals(home)[DAMAGED] == journal_bytes(2)
    assert (home / "settings.json").read_text() == "{}"
    assert "this machine has its own, which were left" in done.words
    assert f"with more in them, so left: {PLAIN}" in done.words


@pytest.mark.parametrize("cut", [0, 20])
def test_what_begins_with_what_is_here_goes_on_with_it(records: Path, backup: Path, home: Path, cut: int) -> None:
    """An earlier backup of a class, or one that a death cut short, and then the whole class with its later ratings."""
    here = home / "classes" / f"{PLAIN}.jsonl"
    here.parent.mkdir(parents=True)
    lines = journals(records)[PLAIN].splitlines(keepends=True)
    here.write_bytes(b"".join(lines[:9])[: -cut or None])
    done = restore(home, backup)
    assert done.longer == (PLAIN,)
    assert journals(home) == journals(records)
    assert f"Here with less in them, so gone on with: {PLAIN}." in done.words
    assert restore(home, backup).longer == ()


def test_a_class_that_is_open_or_cannot_be_read_here_costs_itself(records: Path, backup: Path, home: Path) -> None:
    (home / "classes" / f"{DAMAGED}.jsonl").mkdir(parents=True)
    here = home / "classes" / f"{PLAIN}.jsonl"
    here.write_bytes(journals(records)[PLAIN][:2000])
    lock = ClassLock.take(here)
    done = restore(home, backup)
    lock.release()
    assert set(done.taken) == set(journals(records)) - {PLAIN, DAMAGED}
    assert len(done.unread) == 2
    assert f"class {DAMAGED}: that is a folder" in done.words
    assert here.read_bytes() == journals(records)[PLAIN][:2000]


def test_decisions_here_are_not_overruled(backup: Path, home: Path) -> None:
    keep_apart(home, "Ilca", "Ilka")
    done = restore(home, backup)
    assert (done.decisions.taken, done.decisions.left) == (0, 1)
    assert canonical_names(home) == {}
    merge(home, "Ilca", "Oda")
    assert restore(home, backup).decisions.left == 1
    assert canonical_names(home) == {"Ilca": "Oda"}


def test_a_full_disk_leaves_each_class_whole_or_not_there(records: Path, backup: Path, home: Path) -> None:
    with pytest.raises(ResourceError, match="disk full"):
        restore(home, backup, disk=RefusingDisk(errno.ENOSPC))
    assert journals(home) == {}
    assert list((home / "classes").iterdir()) == []
    restore(home, backup)
    assert journals(home) == journals(records)


def test_who_was_forgotten_after_the_backup_may_be_back_and_it_says_so(backup: Path, home: Path) -> None:
    home.mkdir()
    people_path(home).write_bytes(
        encode({"at": "2026-11-24T00:00:00Z", "event": "forgotten"})
        + encode({"at": "2026-11-26T00:00:00Z", "event": "forgotten"})
    )
    done = restore(home, backup)
    assert done.forgotten_since == 1
    assert "1 person was forgotten here since it was made" in done.words


def test_a_backup_cut_anywhere_is_refused_whole(backup: Path, home: Path) -> None:
    data = backup.read_bytes()
    for length in [0, 1, 9, 10, 11, *range(30, len(data), max(1, len(data) // 60)), len(data) - 9, len(data) - 1]:
        backup.write_bytes(data[:length])
        with pytest.raises(BadBackup, match="nothing was restored"):
            restore(home, backup)
    assert journals(home) == {}


def test_a_backup_with_any_byte_changed_is_refused_whole_or_restores_the_same(records: Path, backup: Path, home: Path) -> None:
    """Some bytes of a gzip file mean nothing (its date, its flags of speed); whatever else changes is found."""
    data = backup.read_bytes()
    refused = 0
    for place in range(0, len(data), max(1, len(data) // 150)):
        backup.write_bytes(data[:place] + bytes([data[place] ^ 0x41]) + data[place + 1 :])
        try:
            restore(home, backup)
        except BadBackup:
            refused += 1
            assert journals(home) == {}
        else:
            assert journals(home) == journals(records)
            shutil.rmtree(home)
    assert refused > 140


def archive(path: Path, fill: Callable[[tarfile.TarFile], None], *, sums: bool = True) -> Path:
    """A backup made by hand, with sums that fit."""
    raw = io.BytesIO()
    with tarfile.open(fileobj=raw, mode="w") as tar:
        put(tar, "backup.json", b'{"format":1,"made":"2026-11-25T18:31:04Z"}')
        fill(tar)
    if sums:
        raw.seek(0)
        with tarfile.open(fileobj=raw) as tar:
            plain = [(entry.name, tar.extractfile(entry)) for entry in tar if entry.isreg()]
            lines = [f"{hashlib.sha256(file.read()).hexdigest()}  {name}\n" for name, file in plain if file is not None]
        raw.seek(0)
        with tarfile.open(fileobj=raw, mode="a") as tar:
            put(tar, "SHA256SUMS", "".join(lines).encode())
    path.write_bytes(gzip.compress(raw.getvalue()))
    return path


def put(tar: tarfile.TarFile, name: str, data: bytes) -> None:
    entry = tarfile.TarInfo(name)
    entry.size = len(data)
    tar.addfile(entry, io.BytesIO(data))


def put_twice(tar: tarfile.TarFile) -> None:
    put(tar, CLASS, b"x")
    put(tar, CLASS, b"y")


def link(tar: tarfile.TarFile, name: str, kind: bytes, target: str) -> None:
    entry = tarfile.TarInfo(name)
    entry.type, entry.linkname = kind, target
    tar.addfile(entry)


CLASS = f"classes/{PLAIN}.jsonl"


def test_a_backup_made_by_hand_is_taken_where_all_is_right(tmp_path: Path, home: Path) -> None:
    restore(home, archive(tmp_path / "b.tar.gz", lambda tar: put(tar, CLASS, journal_bytes(3))))
    assert journals(home) == {PLAIN: journal_bytes(3)}


@pytest.mark.parametrize(
    ("fill", "words"),
    [
        (lambda tar: put(tar, "../evil.jsonl", b"x"), "no backup has"),
        (lambda tar: put(tar, "classes/../../evil.jsonl", b"x"), "no backup has"),
        (lambda tar: put(tar, "/etc/evil.jsonl", b"x"), "no backup has"),
        (lambda tar: put(tar, "classes/a/b.jsonl", b"x"), "no backup has"),
        (lambda tar: put(tar, "classes/.lock", b"x"), "no backup has"),
        (lambda tar: put(tar, "store.sqlite3", b"x"), "no backup has"),
        (lambda tar: link(tar, CLASS, tarfile.SYMTYPE, "/etc/passwd"), "no plain file"),
        (lambda tar: link(tar, CLASS, tarfile.LNKTYPE, "backup.json"), "no plain file"),
        (lambda tar: link(tar, CLASS, tarfile.FIFOTYPE, ""), "no plain file"),
        (lambda tar: link(tar, "classes", tarfile.DIRTYPE, ""), "no plain file"),
        (put_twice, "in it twice"),
        (lambda tar: put(tar, "settings.json", bytes(packing.LARGEST_SETTINGS + 1)), "too large"),
        (lambda tar: put(tar, CLASS, bytes(LARGEST_JOURNAL + 1)), "too large"),
    ],
)
def test_what_no_backup_holds_is_refused_whole(
    tmp_path: Path, home: Path, fill: Callable[[tarfile.TarFile], None], words: str
) -> None:
    with pytest.raises(BadBackup, match=words):
        restore(home, archive(tmp_path / "b.tar.gz", fill))
    assert journals(home) == {}
    assert list(tmp_path.rglob("*evil*")) == []


def test_a_backup_that_unpacks_to_far_too_much_is_refused_early(
    tmp_path: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fill(tar: tarfile.TarFile) -> None:
        for number in range(20):
            put(tar, f"classes/20261125-1831-{number:04}.jsonl", bytes(1 << 20))

    file = archive(tmp_path / "b.tar.gz", fill)
    assert file.stat().st_size < 40_000
    monkeypatch.setattr(packing, "FREE_BYTES", 1 << 20)
    with pytest.raises(BadBackup, match="far more than any records would"):
        restore(home, file)
    assert journals(home) == {}


def test_a_backup_without_its_sums_or_its_date_or_of_another_version_is_refused(tmp_path: Path, home: Path) -> None:
    file = tmp_path / "b.tar.gz"
    with pytest.raises(BadBackup, match="its sums are missing"):
        restore(home, archive(file, lambda tar: put(tar, CLASS, b"x\n"), sums=False))
    file.write_bytes(gzip.compress(b"just text"))
    with pytest.raises(BadBackup, match="no whole backup"):
        restore(home, file)
    file.write_bytes(b"just text")
    with pytest.raises(BadBackup, match="no whole backup"):
        restore(home, file)
    with pytest.raises(NotFound, match="there is no file"):
        restore(home, tmp_path / "nowhere")
    assert journals(home) == {}
