"""What is said after a class: it is on the disk, or it is refused in words; the class itself stays as it was."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded, EffortRated, Event, PartBegun, SplitCorrected, Tapped
from floorclock.clock.tally import splits
from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.journal.lock import ClassInUse, is_open
from floorclock.journal.reading import read_journal
from floorclock.journal.shelf import Shelf
from floorclock.live.afterwards import add_event
from floorclock.pace.load import session_loads
from tests.journal.failing_disk import RefusingDisk
from tests.opened_classes import folded, plan_at, some_of_everything, started


def effort(name: str = "Ilka", value: float | None = 6.5) -> EffortRated:
    return EffortRated(at_ms=0, athlete=name, effort=value)


@pytest.fixture
def journal(tmp_path: Path, home: Path) -> Path:
    """A class that is over."""
    live = started(plan_at(tmp_path), home)
    some_of_everything(live)
    live.send(ClassEnded)
    live.opened.close()
    return live.opened.path


def test_an_effort_is_in_the_class_that_is_read_again(journal: Path) -> None:
    before = folded(journal)
    add_event(journal, effort())
    after = folded(journal)
    assert after.efforts == {"Ilka": 6.5}
    assert (splits(after), after.now_ms) == (splits(before), before.now_ms)
    ended_ms = after.runs[-1].ended_ms
    assert ended_ms is not None
    assert {session.name: session.load for session in session_loads(after)}["Ilka"] == pytest.approx(6.5 * ended_ms / 60_000)
    assert read_journal(journal).damage == ()
    assert not is_open(journal)
    assert Shelf(journal.parent.parent).classes()[0].ended


def test_an_effort_can_be_rated_again_and_taken_back(journal: Path) -> None:
    add_event(journal, effort(value=8))
    add_event(journal, effort(value=3))
    assert folded(journal).efforts == {"Ilka": 3}
    add_event(journal, effort(value=None))
    assert folded(journal).efforts == {}


def test_corrections_after_class_count_like_those_in_it(journal: Path) -> None:
    add_event(journal, SplitCorrected(at_ms=0, athlete="Ilka", part=1, interval=0, split_ms=41_200))
    mine = next(split for split in splits(folded(journal)) if (split.athlete, split.interval) == ("Ilka", 0))
    assert (mine.split_ms, mine.corrected) == (41_200, True)


def test_a_disk_that_refuses_says_why_and_the_journal_stays_whole(journal: Path) -> None:
    # What a dying machine tore off is saved aside.
    journal.write_bytes(journal.read_bytes() + b'{"v":1,"seq":99')
    with pytest.raises(ResourceError, match="it was not kept: disk full"):
        add_event(journal, effort(), disk=RefusingDisk(errno.ENOSPC))
    assert folded(journal).efforts == {}
    add_event(journal, effort())
    assert folded(journal).efforts == {"Ilka": 6.5}
    assert journal.with_suffix(".torn").read_bytes().endswith(b'{"v":1,"seq":99\n')


@pytest.mark.parametrize(
    ("dies", "kind", "words"),
    [(False, ClassInUse, "is open in another floor"), (True, WrongUsage, "has not ended: carry it on .floorclock resume 20")],
    ids=["one that runs", "one that was interrupted"],
)
def test_a_class_has_to_end_first(tmp_path: Path, home: Path, dies: bool, kind: type[Exception], words: str) -> None:
    live = started(plan_at(tmp_path), home)
    some_of_everything(live)
    if dies:
        live.die()
    before = live.opened.path.read_bytes()
    with pytest.raises(kind, match=words):
        add_event(live.opened.path, effort())
    assert live.opened.path.read_bytes() == before
    assert is_open(live.opened.path) is not dies
    live.opened.close()


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (effort("Nobody"), "nobody called Nobody was in the class"),
        (effort(value=10.5), "an effort lies between 0 and 10"),
        (SplitCorrected(at_ms=0, athlete="Ilka", part=1, interval=0, split_ms=61_000), "a split lies between 0 and 60 s"),
        (SplitCorrected(at_ms=0, athlete="Ilka", part=2, interval=0, split_ms=9_000), "that part has not begun"),
        (Tapped(at_ms=0, athlete="Ilka"), "`tap` cannot be said of a class that is over"),
        (PartBegun(at_ms=0, part=2), "`part begun` cannot be said of a class that is over"),
    ],
)
def test_what_would_change_nothing_is_refused_in_words_and_not_written(journal: Path, event: Event, words: str) -> None:
    before = journal.read_bytes()
    with pytest.raises(WrongUsage) as refused:
        add_event(journal, event)
    assert words in str(refused.value)
    assert journal.read_bytes() == before
    assert not is_open(journal)


def test_there_has_to_be_a_class(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="there is no journal"):
        add_event(tmp_path / "20261125-1831-7f3a.jsonl", effort())
    (tmp_path / "20261125-1831-7f3a.jsonl").write_bytes(b"\n")
    with pytest.raises(NotFound, match="does not say what the class started from"):
        add_event(tmp_path / "20261125-1831-7f3a.jsonl", effort())
