"""Lines on their way to a disk that fails: nothing is lost, doubled, out of order or told too early. Under a given time."""

from __future__ import annotations

import errno
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.events import Event
from floorclock.journal.disk import Disk
from floorclock.journal.files import KeptFile
from floorclock.journal.reading import event_line, header_line, read_bytes
from floorclock.journal.writer import NO_ANSWER, QueuedLine, Saver
from tests.journal.failing_disk import FailingDisk, Fate, RefusingDisk
from tests.journal.sample_class import WALL, event_numbered, events_through, journal_bytes, sample_header

HEADER = QueuedLine(0, None, b"")
"""Nothing to add to a journal that begins with its header."""


def line(seq: int) -> QueuedLine:
    event = event_numbered(seq)
    return QueuedLine(seq, event, event_line(seq, event, WALL))


class Told:
    """A saver and everything it said."""

    def __init__(self, path: Path, disk: Disk) -> None:
        self.acks: list[tuple[int, bool]] = []
        self.events: list[Event] = []
        self.troubles: list[str | None] = []
        self.saver = Saver(KeptFile(path, disk, header_line(sample_header())), self._written, self.troubles.append, retry_s=1.0)
        self.path = path

    def _written(self, seq: int, event: Event, durable: bool) -> None:
        self.acks.append((seq, durable))
        self.events.append(event)

    def on_disk(self) -> tuple[Event, ...]:
        reading = read_bytes(self.path.read_bytes())
        assert reading.damage == ()
        assert not reading.torn
        return reading.events


batches = st.lists(st.integers(0, 3), min_size=1, max_size=8)
fates = st.lists(st.sampled_from(get_args(Fate)), max_size=30)


@given(batches, fates, st.lists(st.sampled_from([0.0, 0.4, 1.0]), min_size=8, max_size=8))
def test_whatever_the_disk_does_each_event_is_told_once_in_order_and_durable_means_durable(
    sizes: Sequence[int], script: Sequence[Fate], pauses_s: Sequence[float]
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        disk = FailingDisk(iter(script))
        told = Told(Path(folder) / "a.jsonl", disk)
        now_s, seq, fresh = 100.0, 0, [HEADER]
        for size, pause_s in zip(sizes, pauses_s, strict=False):
            for _ in range(size):
                seq += 1
                fresh.append(line(seq))
            told.saver.save(fresh, now_s)
            safe = read_bytes(bytes(disk.durable)).events
            assert all(told.events[number - 1] in safe for number, durable in told.acks if durable)
            now_s, fresh = now_s + pause_s, []
        for _ in range(len(script) + 1):
            now_s += 1.0
            told.saver.save((), now_s)
        assert [number for number, _ in told.acks] == list(range(1, seq + 1))
        assert tuple(told.events) == told.on_disk() == read_bytes(bytes(disk.durable)).events == events_through(seq)
        assert told.saver.unsaved == ()
        assert told.saver.trouble is None
        assert told.troubles[-1:] in ([], [None])
        told.saver.close()


def test_a_refusing_disk_is_tried_again_after_its_time_and_not_before(path: Path) -> None:
    disk = RefusingDisk(errno.ENOSPC)
    told = Told(path, disk)
    told.saver.save([HEADER, line(1)], 10.0)
    assert (told.acks, told.troubles) == ([(1, False)], ["disk full"])
    disk.error = None
    assert told.saver.wait_s(10.3) == pytest.approx(0.7)
    told.saver.save([line(2)], 10.9)
    assert (told.acks[-1], told.troubles) == ((2, False), ["disk full"])
    told.saver.save([line(3)], 11.0)
    assert (told.acks[-1], told.troubles) == ((3, True), ["disk full", None])
    assert told.on_disk() == events_through(3)
    assert told.saver.wait_s(11.0) is None


def test_each_trouble_is_told_in_words_before_the_events_it_troubles(path: Path) -> None:
    order: list[object] = []
    disk = RefusingDisk()
    file = KeptFile(path, disk, header_line(sample_header()))
    saver = Saver(file, lambda *told: order.append(told[2]), order.append, retry_s=0.0)
    numbers = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EIO, errno.ENOENT, errno.EBUSY)
    for seq, disk.error in enumerate(numbers, start=1):
        saver.save([line(seq)], float(seq))
    assert order[::2] == [
        "disk full",
        "disk quota used up",
        "the disk is read-only",
        "no right to write there",
        "the disk does not work",
        "the journal was taken away",
        "device or resource busy",
    ]
    assert order[1::2] == [False] * len(numbers)


def test_a_disk_that_does_not_answer_is_told_once_and_its_events_go_on(path: Path) -> None:
    class SlowDisk(Disk):
        def sync(self, descriptor: int) -> None:
            if not path.exists():
                # The header, before the class began.
                return super().sync(descriptor)
            told.saver.notice_silence([line(3)], 11.9)
            assert told.acks == []
            told.saver.notice_silence([line(3)], 12.0)
            told.saver.notice_silence([line(3), line(4)], 12.5)
            assert told.acks == [(1, False), (2, False), (3, False), (4, False)]
            return super().sync(descriptor)

    told = Told(path, SlowDisk())
    told.saver.save([HEADER, line(1), line(2)], 10.0)
    assert told.troubles == [NO_ANSWER, None]
    told.saver.notice_silence([line(3)], 99.0)
    assert len(told.acks) == 4
    assert told.on_disk() == events_through(2)


def test_a_journal_taken_away_during_the_class_is_made_again_whole(path: Path) -> None:
    told = Told(path, Disk())
    told.saver.save([HEADER, line(1)], 0.0)
    path.unlink()
    told.saver.save([line(2)], 1.0)
    assert (told.acks[-1], told.troubles) == ((2, False), ["the journal was taken away"])
    told.saver.save([line(3)], 2.0)
    assert (told.acks[-1], told.troubles[-1]) == ((3, True), None)
    assert told.on_disk() == events_through(3)
    assert path.stat().st_mode & 0o777 == 0o600
    assert list(path.parent.iterdir()) == [path]


def test_a_data_folder_that_is_gone_altogether_is_waited_for(tmp_path: Path) -> None:
    """As when the stick with it was pulled out: nothing is written to whatever lies below."""
    folder = tmp_path / "home" / "classes"
    folder.mkdir(parents=True)
    told = Told(folder / "a.jsonl", Disk())
    told.saver.save([HEADER, line(1)], 0.0)
    shutil.rmtree(folder.parent)
    for seq in (2, 3):
        told.saver.save([line(seq)], float(seq))
    assert [durable for _, durable in told.acks] == [True, False, False]
    assert not folder.parent.exists()
    folder.mkdir(parents=True)
    told.saver.save([line(4)], 4.0)
    assert told.acks[-1] == (4, True)
    assert told.on_disk() == events_through(4)


def test_a_journal_cut_short_by_somebody_else_is_made_again_whole_when_it_is_opened_next(path: Path) -> None:
    good = journal_bytes(3)
    path.write_bytes(good[:50])
    file = KeptFile(path, Disk(), good)
    file.append(line(4).data)
    assert path.read_bytes() == journal_bytes(3) + line(4).data
    file.close()


def test_a_new_journal_is_never_there_without_its_header(path: Path) -> None:
    """Whichever step of its making fails, there is no journal or one with a whole first line."""
    works: list[Fate] = ["works"]
    full: list[Fate] = ["full"]
    for failing in range(6):
        told = Told(path, FailingDisk(iter(works * failing + full)))
        told.saver.save([HEADER, line(1)], 0.0)
        assert not path.exists() or read_bytes(path.read_bytes()).header == sample_header()
        assert not path.with_suffix(".new").exists()
        told.saver.save((), 1.0)
        assert told.on_disk() == events_through(1)
        told.saver.close()
        path.unlink()
