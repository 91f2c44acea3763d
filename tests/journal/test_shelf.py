"""Finding recorded classes again."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded
from floorclock.errors import NotFound, WrongUsage
from floorclock.journal.lock import ClassLock
from floorclock.journal.reading import event_line
from floorclock.journal.shelf import ClassEntry, Shelf
from floorclock.plan.roster import Athlete, Roster
from tests.journal.sample_class import NAMES, WALL, event_numbered, journal_at


def add(home: Path, class_id: str, events: int = 3, *, ended_at: int | None = None, **header: object) -> Path:
    """A class on the shelf; `ended_at` is the number of its end, before the rest of its events."""
    path = journal_at(home / "classes" / f"{class_id}.jsonl", ended_at - 1 if ended_at else events, **header)
    if ended_at:
        with path.open("ab") as file:
            file.write(event_line(ended_at, ClassEnded(at_ms=ended_at * 2_000), WALL))
            file.writelines(event_line(seq, event_numbered(seq), WALL) for seq in range(ended_at + 1, events + 1))
    return path


def ids(entries: tuple[ClassEntry, ...]) -> list[str]:
    return [entry.id for entry in entries]


def whole_journal_read(path: Path) -> bytes:
    raise AssertionError("the whole journal was read")


class TestTheList:
    def test_tells_of_each_class_what_the_coach_looks_for(self, home: Path) -> None:
        path = add(home, "20261125-1831-7f3a", ended_at=3, rehearsal=True)
        (entry,) = Shelf(home).classes()
        assert entry == ClassEntry(
            path=path, started=WALL, session='Quay "nine"', athletes=len(NAMES), rehearsal=True, ended=True, damage=0
        )
        assert entry.id == "20261125-1831-7f3a"

    def test_has_the_newest_first_and_within_a_minute_the_one_that_started_last(self, home: Path) -> None:
        add(home, "20261125-1831-aaaa", started=WALL + timedelta(seconds=2))
        add(home, "20261125-1831-ffff", started=WALL + timedelta(seconds=1))
        add(home, "20251125-1831-0000")
        add(home, "20261126-0600-0000", started=WALL + timedelta(hours=12))
        order = ["20261126-0600-0000", "20261125-1831-aaaa", "20261125-1831-ffff", "20251125-1831-0000"]
        assert ids(Shelf(home).classes()) == order
        assert Shelf(home).latest().stem == order[0]
        (home / "classes" / f"{order[0]}.jsonl").unlink()
        assert Shelf(home).latest().stem == order[1]

    def test_is_empty_where_nothing_was_recorded_and_makes_nothing(self, home: Path) -> None:
        assert Shelf(home).classes() == ()
        assert not home.exists()

    def test_leaves_out_a_journal_that_holds_nothing_and_keeps_one_that_cannot_be_read(self, home: Path) -> None:
        add(home, "20261125-1831-0001").write_bytes(b"")
        add(home, "20261125-1831-0000").write_bytes(b'{"v":1,"seq":0,"event":"open')
        add(home, "20261125-1831-0002").write_bytes(b"\0" * 100 + b"\n")
        (entry,) = Shelf(home).classes()
        assert (entry.id, entry.started, entry.session, entry.athletes, entry.damage) == ("20261125-1831-0002", None, "", 0, 1)
        assert Shelf(home).interrupted() == ()

    def test_skips_a_journal_that_is_gone_and_names_what_is_none(self, home: Path) -> None:
        add(home, "20261125-1831-0001")
        (home / "classes" / "20261125-1831-0002.jsonl").mkdir()
        os.mkfifo(home / "classes" / "20261125-1831-0003.jsonl")
        (home / "classes" / "20261125-1831-0004.jsonl").symlink_to(home / "nowhere")
        unread = {entry.id[-1]: entry.unread for entry in Shelf(home).classes()}
        assert unread == {"1": "", "2": "that is a folder", "3": "that is a device or a pipe"}
        assert Shelf(home).latest().stem == "20261125-1831-0001"
        assert ids(Shelf(home).interrupted()) == ["20261125-1831-0001"]

    def test_counts_damaged_lines_and_not_a_torn_end(self, home: Path) -> None:
        path = add(home, "20261125-1831-0001", 6)
        path.write_bytes(path.read_bytes().replace(b'"seq":3', b'"seq":5')[:-4])
        assert Shelf(home).classes()[0].damage == 1

    @pytest.mark.parametrize("after", [0, 3, 3_000])
    def test_knows_an_ended_class_however_much_was_corrected_afterwards(self, home: Path, after: int) -> None:
        add(home, "20261125-1831-0001", 5 + after, ended_at=5)
        assert Shelf(home).classes()[0].ended

    def test_is_not_fooled_by_a_title_or_name_that_says_the_class_ended(self, home: Path) -> None:
        trap = '"event":"class ended"'
        add(home, "20261125-1831-0001", session=trap, roster=Roster(title=trap, athletes=(Athlete(name=trap),)))
        unchecked = add(home, "20261125-1831-0002", session=trap)
        unchecked.write_bytes(unchecked.read_bytes() + b'{"event":"class ended"}\n')
        assert [entry.ended for entry in Shelf(home).classes()] == [False, False]

    def test_reads_the_ends_of_long_journals_only(self, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        path = add(home, "20261125-1831-0001", 6_000, ended_at=6_000)
        assert path.stat().st_size > 500_000
        monkeypatch.setattr(Path, "read_bytes", whole_journal_read)
        assert Shelf(home).classes()[0].ended


class TestFinding:
    @pytest.fixture(autouse=True)
    def classes(self, home: Path) -> None:
        for class_id in ("20261125-1831-7f3a", "20261125-1831-7f00", "20261124-0600-1234"):
            add(home, class_id)

    @pytest.mark.parametrize("prefix", ["20261124", "20261124-0600-1234", " 20261124-06 ", "20261124-0600-1234".upper()])
    def test_a_class_by_the_start_of_its_id(self, home: Path, prefix: str) -> None:
        assert Shelf(home).find(prefix).stem == "20261124-0600-1234"

    def test_a_class_whose_whole_id_begins_that_of_another(self, home: Path) -> None:
        add(home, "20261125-1831-7f")
        assert Shelf(home).find("20261125-1831-7f").stem == "20261125-1831-7f"

    def test_several_is_wrong_usage_and_names_them(self, home: Path) -> None:
        with pytest.raises(WrongUsage, match="20261125-1831-7f3a, 20261125-1831-7f00"):
            Shelf(home).find("20261125")

    def test_none_is_nothing_to_do_and_names_the_nearest(self, home: Path) -> None:
        with pytest.raises(NotFound, match="nearest are 20261125-1831-7f3a"):
            Shelf(home).find("20261125-1831-7e3a")
        for odd in ("zz", "../../etc/passwd", "*", "[", "\0"):
            with pytest.raises(NotFound, match="20261124-0600-1234"):
                Shelf(home).find(odd)

    def test_many_are_not_all_named(self, home: Path) -> None:
        for number in range(9):
            add(home, f"20270101-0600-000{number}", 0)
        with pytest.raises(WrongUsage, match=r"0008, .*0004 and 4 more$"):
            Shelf(home).find("2027")

    def test_on_an_empty_shelf_says_so(self, tmp_path: Path) -> None:
        with pytest.raises(NotFound, match="no class has been recorded yet"):
            Shelf(tmp_path).find("2026")
        with pytest.raises(NotFound, match="no class has been recorded yet"):
            Shelf(tmp_path).latest()

    def test_the_latest_passes_over_journals_that_hold_nothing(self, home: Path) -> None:
        add(home, "20270101-0600-0000").write_bytes(b"")
        assert Shelf(home).latest() == Shelf(home).classes()[0].path


class TestInterruptedClasses:
    def test_are_those_that_neither_ended_nor_are_open_the_newest_first(self, home: Path) -> None:
        add(home, "20261125-0600-0001")
        add(home, "20261125-0700-0002")
        add(home, "20261125-0800-0003", ended_at=3)
        with ClassLock.take(add(home, "20261125-0900-0004")):
            assert [entry.running for entry in Shelf(home).classes()] == [True, False, False, False]
            assert ids(Shelf(home).interrupted()) == ["20261125-0700-0002", "20261125-0600-0001"]
        assert ids(Shelf(home).interrupted())[0] == "20261125-0900-0004"

    @pytest.mark.parametrize(("ended_at", "cut", "interrupted"), [(None, 5, True), (3, 5, True), (3, 1, False)])
    def test_are_those_whose_end_was_torn(self, home: Path, ended_at: int | None, cut: int, interrupted: bool) -> None:
        """What lacks nothing but its line end is whole."""
        path = add(home, "20261125-0600-0001", ended_at=ended_at)
        os.truncate(path, path.stat().st_size - cut)
        assert ids(Shelf(home).interrupted()) == ["20261125-0600-0001"] * interrupted
