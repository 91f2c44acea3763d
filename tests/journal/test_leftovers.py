"""What dead classes left: gone where it is nothing, kept where it is something."""

from __future__ import annotations

from pathlib import Path

from floorclock.journal.beat import Beat, beat_path, write_beat
from floorclock.journal.lock import ClassLock, is_open, tidy
from floorclock.journal.reading import read_journal
from floorclock.journal.writer import JournalWriter
from tests.journal.sample_class import WALL, events_through, journal_at, journal_bytes


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_the_first_instant_of_a_class_that_never_came_to_be_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.lock").write_bytes(b"1\n")
    (tmp_path / "b.new").write_bytes(journal_bytes(0))
    (tmp_path / "b.lock").write_bytes(b"")
    (tmp_path / "c.new").write_bytes(journal_bytes(0)[:70])
    write_beat(tmp_path / "d.beat", Beat(5, WALL))
    tidy(tmp_path)
    assert names(tmp_path) == []


def test_what_belongs_to_a_journal_or_holds_events_or_is_something_else_stays(tmp_path: Path) -> None:
    journal = journal_at(tmp_path / "a.jsonl", 3)
    write_beat(beat_path(journal), Beat(5, WALL))
    (tmp_path / "a.torn").write_bytes(b"half\n")
    (tmp_path / "b.new").write_bytes(journal_bytes(3))
    (tmp_path / "c.torn").write_bytes(b"half\n")
    (tmp_path / "notes.txt").write_bytes(b"mine")
    before = names(tmp_path)
    tidy(tmp_path)
    assert names(tmp_path) == before
    assert read_journal(tmp_path / "b.new").events == events_through(3)


def test_a_class_that_is_about_to_have_its_journal_keeps_its_lock(tmp_path: Path) -> None:
    journal = tmp_path / "a.jsonl"
    lock = ClassLock.take(journal)
    (tmp_path / "a.new").write_bytes(journal_bytes(0)[:70])
    tidy(tmp_path)
    assert names(tmp_path) == ["a.lock", "a.new"]
    assert is_open(journal)
    lock.release()


def test_every_class_tidies_when_it_is_over(tmp_path: Path) -> None:
    (tmp_path / "dead.new").write_bytes(journal_bytes(0))
    journal = journal_at(tmp_path / "a.jsonl", 3)
    JournalWriter.reopen(journal, on_written=lambda *told: None).close()
    assert names(tmp_path) == ["a.jsonl"]


def test_a_folder_that_is_gone_is_no_trouble(tmp_path: Path) -> None:
    tidy(tmp_path / "gone")
