"""The journal of a running class: its thread, its end, and going on after an interruption."""

from __future__ import annotations

import errno
import os
import shutil
import threading
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded, Event
from floorclock.errors import NotFound, WrongUsage
from floorclock.journal.beat import Beat, beat_path, read_beat
from floorclock.journal.disk import Disk
from floorclock.journal.lock import ClassInUse, ClassLock, is_open
from floorclock.journal.reading import read_journal
from floorclock.journal.writer import NO_ANSWER, JournalWriter
from tests.journal.failing_disk import HeldDisk, RefusingDisk, refusal
from tests.journal.sample_class import WALL, event_numbered, events_through, journal_bytes, sample_header

PATIENCE_S = 20.0
"""How long a test waits for another thread before it fails."""


class Listener:
    """Hears a writer, and can be waited for."""

    def __init__(self) -> None:
        self.acks: list[tuple[int, bool]] = []
        self.events: list[Event] = []
        self.troubles: list[str | None] = []
        self._changed = threading.Condition()

    def written(self, seq: int, event: Event, durable: bool) -> None:
        with self._changed:
            self.acks.append((seq, durable))
            self.events.append(event)
            self._changed.notify_all()

    def trouble(self, words: str | None) -> None:
        with self._changed:
            self.troubles.append(words)
            self._changed.notify_all()

    def _wait_for(self, done: Callable[[], bool]) -> None:
        with self._changed:
            assert self._changed.wait_for(done, PATIENCE_S), (self.acks, self.troubles)

    def wait_for_acks(self, count: int) -> None:
        self._wait_for(lambda: len(self.acks) >= count)

    def wait_for_troubles(self, *words: str | None) -> None:
        self._wait_for(lambda: self.troubles == list(words))

    def wait_for_last_trouble(self, words: str | None) -> None:
        self._wait_for(lambda: self.troubles[-1:] == [words])


def begun(path: Path, disk: Disk | None = None) -> tuple[JournalWriter, Listener]:
    heard = Listener()
    header = sample_header(path.stem)
    return JournalWriter(path, header, on_written=heard.written, on_trouble=heard.trouble, disk=disk, retry_s=0.01), heard


def reopened(path: Path) -> tuple[JournalWriter, Listener]:
    heard = Listener()
    return JournalWriter.reopen(path, on_written=heard.written, on_trouble=heard.trouble), heard


def append_through(writer: JournalWriter, first: int, last: int) -> None:
    for seq in range(first, last + 1):
        writer.append(event_numbered(seq), WALL + timedelta(seconds=seq))


def test_a_class_is_on_the_disk_line_by_line_as_it_was_appended(path: Path) -> None:
    writer, listener = begun(path)
    append_through(writer, 1, 40)
    assert writer.close() == 0
    assert path.read_bytes() == journal_bytes(40, sample_header(path.stem))
    assert listener.acks == [(seq, True) for seq in range(1, 41)]
    assert tuple(listener.events) == events_through(40)
    assert listener.troubles == []


def test_what_came_while_the_disk_was_busy_goes_in_one_write_and_one_sync(path: Path) -> None:
    disk = HeldDisk()
    writer, listener = begun(path, disk)
    assert disk.busy.wait(PATIENCE_S)
    append_through(writer, 1, 30)
    assert listener.acks == []
    disk.go_on.set()
    assert writer.close() == 0
    assert disk.writes == [1, 30]


def test_an_event_is_told_only_after_the_disk_said_that_it_has_it(path: Path) -> None:
    order: list[object] = []

    class TellingDisk(Disk):
        def write(self, descriptor: int, data: memoryview) -> int:
            order.append("write")
            return super().write(descriptor, data)

        def sync(self, descriptor: int) -> None:
            super().sync(descriptor)
            order.append("sync")

        def sync_folder(self, folder: Path) -> None:
            super().sync_folder(folder)
            order.append("folder")

    told = threading.Event()

    def written(seq: int, event: Event, durable: bool) -> None:
        order.append(seq)
        told.set()

    writer = JournalWriter(path, sample_header(), on_written=written, disk=TellingDisk())
    for seq in (1, 2):
        told.clear()
        writer.append(event_numbered(seq), WALL)
        assert told.wait(PATIENCE_S)
    writer.close()
    # The header, its place in the folder, then one event after the other.
    assert order == ["write", "sync", "folder", "write", "sync", 1, "write", "sync", 2]


def test_an_interrupted_class_goes_on_with_the_next_number(path: Path) -> None:
    first, _ = begun(path)
    append_through(first, 1, 5)
    first.close()
    writer, listener = reopened(path)
    assert writer.reading is not None
    assert writer.reading.events == events_through(5)
    append_through(writer, 6, 9)
    writer.close()
    assert listener.acks == [(seq, True) for seq in range(6, 10)]
    assert path.read_bytes() == journal_bytes(9, sample_header(path.stem))


def test_opening_again_without_an_event_changes_nothing(path: Path) -> None:
    path.write_bytes(journal_bytes(3) + b'{"v":1')
    before = path.read_bytes()
    assert reopened(path)[0].close() == 0
    assert path.read_bytes() == before


@pytest.mark.parametrize("cut", [0, 1, 60, 126])
def test_a_torn_end_is_set_aside_and_the_class_goes_on_after_the_last_whole_line(path: Path, cut: int) -> None:
    whole = journal_bytes(4)
    torn = whole[:-1] if cut == 0 else whole[:-cut]
    path.write_bytes(torn)
    writer, _ = reopened(path)
    assert writer.reading is not None
    next_seq = writer.reading.next_seq
    append_through(writer, next_seq, next_seq + 2)
    writer.close()
    reading = read_journal(path)
    assert (reading.events, reading.damage, reading.torn) == (events_through(next_seq + 2), (), False)
    left_over = torn[writer.reading.good_length :]
    aside = path.with_suffix(".torn")
    assert (aside.read_bytes() if aside.exists() else b"") == (left_over + b"\n" if left_over else b"")


def test_a_class_with_a_damaged_line_goes_on_and_keeps_the_line(path: Path) -> None:
    path.write_bytes(journal_bytes(6).replace(b'"seq":6', b'"seq":9'))
    writer, _ = reopened(path)
    assert writer.reading is not None
    assert [damage.line for damage in writer.reading.damage] == [7]
    append_through(writer, 7, 8)
    writer.close()
    assert read_journal(path).seqs == (1, 2, 3, 4, 5, 7, 8)
    assert b'"seq":9' in path.read_bytes()


def test_there_is_nothing_to_go_on_with_without_a_journal_or_its_header(path: Path) -> None:
    with pytest.raises(NotFound):
        reopened(path)
    for content in (b"", b"rubbish\n", journal_bytes(2)[:40]):
        path.write_bytes(content)
        with pytest.raises(NotFound):
            reopened(path)
        assert path.read_bytes() == content
    assert not path.with_suffix(".lock").exists()


def test_a_second_floor_is_refused_and_told_which_process_has_the_class(path: Path) -> None:
    for first in (begun, reopened):
        writer, _ = first(path)
        for second in (begun, reopened):
            with pytest.raises(ClassInUse, match=f"class {path.stem} is open in another floor \\(process {os.getpid()}\\)"):
                second(path)
        writer.close()


def test_a_new_class_never_takes_the_journal_of_an_old_one(path: Path) -> None:
    path.write_bytes(journal_bytes(2))
    with pytest.raises(WrongUsage):
        begun(path)
    assert path.read_bytes() == journal_bytes(2)
    assert list(path.parent.iterdir()) == [path]


def test_a_refusing_disk_stops_no_class_and_gets_everything_once_in_order_when_it_works_again(path: Path) -> None:
    disk = RefusingDisk()
    writer, listener = begun(path, disk)
    append_through(writer, 1, 3)
    listener.wait_for_acks(3)
    disk.error = errno.ENOSPC
    append_through(writer, 4, 20)
    listener.wait_for_acks(20)
    assert writer.trouble == "disk full"
    assert [durable for _, durable in listener.acks] == [True] * 3 + [False] * 17
    disk.error = None
    listener.wait_for_troubles("disk full", None)
    append_through(writer, 21, 25)
    assert writer.close() == 0
    assert [seq for seq, _ in listener.acks] == list(range(1, 26))
    assert path.read_bytes() == journal_bytes(25, sample_header(path.stem))


def test_closing_on_a_refusing_disk_tells_how_much_was_never_saved_and_leaves_whole_lines(path: Path) -> None:
    disk = RefusingDisk()
    writer, listener = begun(path, disk)
    append_through(writer, 1, 2)
    listener.wait_for_acks(2)
    disk.error = errno.ENOSPC
    append_through(writer, 3, 7)
    assert writer.close() == 5
    assert path.read_bytes() == journal_bytes(2, sample_header(path.stem))


def test_closing_takes_a_last_chance_without_waiting_for_its_time(path: Path) -> None:
    listener, disk = Listener(), RefusingDisk(errno.ENOSPC)
    writer = JournalWriter(path, sample_header(path.stem), on_written=listener.written, disk=disk, retry_s=3_600)
    append_through(writer, 1, 2)
    listener.wait_for_acks(2)
    disk.error = None
    assert writer.close() == 0
    assert read_journal(path).events == events_through(2)


def test_a_new_class_that_could_not_be_locked_at_first_is_locked_later(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    take = ClassLock.take

    def refuses_once(journal: Path) -> ClassLock:
        monkeypatch.setattr(ClassLock, "take", take)
        raise refusal(errno.ENOSPC)

    monkeypatch.setattr(ClassLock, "take", refuses_once)
    writer, listener = begun(path)
    append_through(writer, 1, 1)
    listener.wait_for_acks(1)
    assert is_open(path)
    writer.close()
    assert not is_open(path)


def test_a_folder_taken_away_during_the_class_comes_back_with_all_of_it_and_with_its_lock(tmp_path: Path) -> None:
    folder = tmp_path / "home" / "classes"
    folder.mkdir(parents=True)
    writer, listener = begun(folder / "a.jsonl")
    append_through(writer, 1, 3)
    listener.wait_for_acks(3)
    shutil.rmtree(folder)
    append_through(writer, 4, 5)
    listener.wait_for_troubles("the journal was taken away", None)
    writer.beat(Beat(5, WALL))
    append_through(writer, 6, 6)
    listener.wait_for_acks(6)
    writer.beat(Beat(6, WALL))
    append_through(writer, 7, 7)
    listener.wait_for_acks(7)
    assert is_open(writer.path)
    assert read_journal(writer.path).events == events_through(7)
    assert writer.close() == 0


def test_a_disk_that_hangs_stops_no_class(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floorclock.journal.writer.PATIENCE_S", 0.0)
    disk = HeldDisk()
    writer, listener = begun(path, disk)
    assert disk.busy.wait(PATIENCE_S)
    append_through(writer, 1, 2)
    writer.beat(Beat(5, WALL))
    assert listener.acks == [(1, False), (2, False)]
    append_through(writer, 3, 3)
    assert listener.acks == [(1, False), (2, False), (3, False)]
    assert listener.troubles == [NO_ANSWER]
    assert writer.close(timeout_s=0.01) == 3
    disk.go_on.set()
    assert writer.close() == 0
    assert (len(listener.acks), listener.troubles) == (3, [NO_ANSWER, None])
    assert read_journal(path).events == events_through(3)


def test_a_disk_that_hangs_at_a_heartbeat_stops_no_class_and_is_trouble_until_it_answers(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("floorclock.journal.writer.PATIENCE_S", 0.0)
    in_beat, go_on = threading.Event(), threading.Event()

    def hangs(*told: object, **how: object) -> None:
        in_beat.set()
        assert go_on.wait(PATIENCE_S)

    writer, listener = begun(path)
    append_through(writer, 1, 1)
    listener.wait_for_acks(1)
    monkeypatch.setattr("floorclock.journal.writer.write_beat", hangs)
    writer.beat(Beat(5, WALL))
    assert in_beat.wait(PATIENCE_S)
    append_through(writer, 2, 3)
    writer.beat(Beat(6, WALL))
    assert listener.acks == [(1, True), (2, False), (3, False)]
    assert listener.troubles == [NO_ANSWER]
    go_on.set()
    listener.wait_for_troubles(NO_ANSWER, None)
    assert writer.close() == 0
    assert read_journal(path).events == events_through(3)


def test_a_heartbeat_is_forced_to_the_disk_now_and_then(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[bool] = []
    now_s = [100.0]
    monkeypatch.setattr("floorclock.journal.writer.time.monotonic", lambda: now_s[0])
    written = threading.Semaphore(0)

    def notes(*told: object, sync: bool) -> None:
        synced.append(sync)
        written.release()

    monkeypatch.setattr("floorclock.journal.writer.write_beat", notes)
    writer, _ = begun(path)
    for second in (100.0, 101.0, 109.9, 110.0, 111.0, 120.5):
        now_s[0] = second
        writer.beat(Beat(round(second), WALL))
        assert written.acquire(timeout=PATIENCE_S)
    writer.close()
    assert synced == [True, False, False, True, False, True]


def test_what_a_listener_raised_comes_out_at_the_end_when_all_is_saved(path: Path) -> None:
    def fails(seq: int, event: Event, durable: bool) -> None:
        raise RuntimeError("the loop is closed")

    writer = JournalWriter(path, sample_header(), on_written=fails)
    append_through(writer, 1, 4)
    with pytest.raises(RuntimeError, match="the loop is closed"):
        writer.close()
    assert read_journal(path).events == events_through(4)
    assert not path.with_suffix(".lock").exists()


def test_the_heartbeat_stays_with_an_interrupted_class_and_goes_with_an_ended_one(path: Path) -> None:
    writer, _ = begun(path)
    writer.beat(Beat(1_000, WALL))
    writer.beat(Beat(2_000, WALL))
    writer.close()
    assert read_beat(beat_path(path)) == Beat(2_000, WALL)
    writer, _ = reopened(path)
    writer.append(ClassEnded(at_ms=3_000), WALL)
    writer.close()
    assert list(path.parent.iterdir()) == [path]


def test_taps_from_many_threads_get_a_number_each_and_are_all_kept(path: Path) -> None:
    writer, listener = begun(path)

    def tap() -> None:
        for _ in range(50):
            writer.append(event_numbered(1), WALL)

    threads = [threading.Thread(target=tap) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (writer.close(), writer.close()) == (0, 0)
    with pytest.raises(WrongUsage):
        writer.append(event_numbered(1), WALL)
    assert [seq for seq, _ in listener.acks] == list(range(1, 401))
    assert read_journal(path).seqs == tuple(range(1, 401))
