"""A follower beside a class: at every moment the state that the floor has, whatever befalls the files between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded
from floorclock.clock.state import ClassState
from floorclock.errors import InputProblems
from floorclock.journal.beat import Beat, beat_path, is_held, write_beat
from floorclock.journal.reading import event_line, header_line, read_bytes, read_journal
from floorclock.live.follower import Follower, FollowStatus
from tests.clock.classes import WALL
from tests.opened_classes import MovingWallClock, plan_at, some_of_everything, started

S_NS = 1_000_000_000


@pytest.fixture
def recorded(tmp_path: Path) -> Path:
    """The journal of a class with a little of everything."""
    one = started(plan_at(tmp_path), tmp_path / "home")
    some_of_everything(one)
    one.send(ClassEnded)
    one.opened.close()
    return one.opened.path


@dataclass
class Played:
    """A recorded class played again: its lines are appended one by one, beside a follower."""

    path: Path
    lines: list[bytes]
    at_ms: list[int]
    clock: MovingWallClock
    follower: Follower

    def append(self, number: int) -> None:
        """The line of an event, from 1; 0 is the header."""
        with self.path.open("ab") as file:
            file.write(self.lines[number])

    def append_through(self, last: int) -> None:
        """Every line up to an event."""
        for number in range(last + 1):
            self.append(number)

    def beat(self, class_ms: int, rate: float = 0.0) -> None:
        """The floor notes where its clock stands now."""
        write_beat(beat_path(self.path), Beat(class_ms, WALL, self.clock.monotonic_ns(), rate))

    def look(self, after_ms: int = 0) -> int:
        """What a second screen does when it paints; where the class then stands."""
        self.clock.move_ms(after_ms)
        self.follower.look()
        self.follower.bring_to_now()
        return self.follower.state.now_ms if self.follower.state else -1

    def truth(self, last: int) -> ClassState:
        """What the journal up to an event comes to, read from scratch."""
        whole = self.path.with_name("truth.jsonl")
        whole.write_bytes(b"".join(self.lines[: last + 1]))
        other = Follower(whole, self.clock)
        other.look()
        assert other.state is not None
        return other.state


@pytest.fixture
def played(recorded: Path) -> Iterator[Played]:
    reading = read_journal(recorded)
    assert reading.header is not None
    lines = [header_line(reading.header)]
    lines += [event_line(seq, event, WALL) for seq, event in zip(reading.seqs, reading.events, strict=True)]
    path = recorded.with_name("played.jsonl")
    clock = MovingWallClock()
    clock.move_ms(1_000_000)
    follower = Follower(path, clock)
    yield Played(path, lines, [0, *(event.at_ms for event in reading.events)], clock, follower)
    follower.close()


def test_a_class_played_event_by_event_is_at_each_of_them_the_state_that_its_journal_folds_to(played: Played) -> None:
    for number in range(len(played.lines)):
        played.append(number)
        played.beat(played.at_ms[number])
        played.look()
        assert played.follower.state == played.truth(number)
    assert played.follower.status is FollowStatus.ENDED
    assert played.follower.version == len(played.lines)  # the first fold, and one for each event: nothing was folded anew


def test_between_events_the_clock_runs_on_at_its_rate(played: Played) -> None:
    played.append_through(2)
    played.beat(played.at_ms[2], rate=4.0)
    assert [played.look(ms) - played.at_ms[2] for ms in (0, 10, 500, 2_000)] == [0, 40, 2_040, 10_040]


def test_a_follower_that_ran_past_an_event_that_moves_time_folds_anew(played: Played) -> None:
    pause = next(n for n, line in enumerate(played.lines) if b'"pause' in line)
    played.append_through(pause - 1)
    played.beat(played.at_ms[pause - 1], rate=1.0)
    assert played.look(played.at_ms[pause] - played.at_ms[pause - 1] + 40) == played.at_ms[pause] + 40
    played.append(pause)
    played.beat(played.at_ms[pause])
    played.look()
    assert played.follower.state == played.truth(pause)


def test_a_tap_that_comes_late_is_judged_by_its_stamp_and_costs_one_event(played: Played) -> None:
    tap = next(n for n, line in enumerate(played.lines) if b'"tap"' in line)
    played.append_through(tap - 1)
    played.beat(played.at_ms[tap] + 8, rate=1.0)
    played.look()
    before = played.follower.version
    played.append(tap)
    played.look()
    truth = played.truth(tap)
    truth.advance(played.at_ms[tap] + 8)
    assert played.follower.state == truth
    assert played.follower.version == before + 1


def test_a_clock_that_stopped_before_its_event_came_takes_the_state_back(played: Played) -> None:
    played.append_through(2)
    played.beat(played.at_ms[2], rate=1.0)
    played.look(2_000)
    played.beat(played.at_ms[2] + 1_900)
    assert played.look() == played.at_ms[2] + 1_900


def test_a_dead_floor_freezes_the_class_where_its_last_heartbeat_was(played: Played) -> None:
    played.append_through(2)
    stopped_ms = played.at_ms[2] + 500
    played.beat(stopped_ms, rate=1.0)
    for passed_ms, status, now_ms in (
        (3_400, FollowStatus.RUNNING, stopped_ms + 3_400),
        (200, FollowStatus.SILENT, stopped_ms),
        (60_000, FollowStatus.SILENT, stopped_ms),
    ):
        assert (played.look(passed_ms), played.follower.status) == (now_ms, status)
    played.beat(stopped_ms)
    played.look()
    assert played.follower.status is FollowStatus.RUNNING


def test_a_heartbeat_of_before_the_machine_was_started_again_drives_nothing(played: Played) -> None:
    played.append_through(2)
    write_beat(beat_path(played.path), Beat(played.at_ms[2], WALL, played.clock.monotonic_ns() + S_NS, 1.0))
    played.look()
    played.look(500)
    assert played.follower.status is FollowStatus.SILENT


def _torn(played: Played) -> None:
    with played.path.open("ab") as file:
        file.write(played.lines[7][:30])
    played.look()
    with played.path.open("r+b") as file:
        file.truncate(sum(map(len, played.lines[:7])))


def _rolled_back(played: Played) -> None:
    played.append(7)
    played.append(8)
    played.look()
    with played.path.open("r+b") as file:
        file.truncate(sum(map(len, played.lines[:7])))
    played.look()


def _replaced(played: Played) -> None:
    fresh = played.path.with_suffix(".new")
    fresh.write_bytes(played.path.read_bytes())
    fresh.replace(played.path)


def _made_again(played: Played) -> None:
    data = played.path.read_bytes()
    played.path.unlink()
    played.look()
    assert played.follower.status is FollowStatus.GONE
    played.path.write_bytes(data)


def _damaged(played: Played) -> None:
    with played.path.open("ab") as file:
        file.write(b'{"v":1,"seq":7,"event":"tap","athlete":"Ilko","check":"00000000"}\n')


def _twice(played: Played) -> None:
    played.append(6)


@pytest.mark.parametrize("befalls", [_torn, _rolled_back, _replaced, _made_again, _damaged, _twice])
def test_whatever_befalls_the_journal_the_state_is_that_of_its_whole_lines(
    played: Played, befalls: Callable[[Played], None]
) -> None:
    played.append_through(6)
    played.look()
    befalls(played)
    for number in range(7, len(played.lines)):
        played.append(number)
        played.look()
        assert played.follower.state == played.truth(number)


def test_a_plan_that_cannot_be_read_is_told_and_no_journal_is_no_class(played: Played) -> None:
    played.look()
    assert (played.follower.state, played.follower.status) == (None, FollowStatus.GONE)
    header = read_bytes(played.lines[0]).header
    assert header is not None
    played.path.write_bytes(header_line(replace(header, session_text="session: Nothing\n")))
    with pytest.raises(InputProblems):
        played.look()


def test_the_floor_knows_that_somebody_follows_and_nothing_is_written(tmp_path: Path) -> None:
    one = started(plan_at(tmp_path), tmp_path / "home")
    one.begin()
    beat = beat_path(one.opened.path)
    write_beat(beat, Beat(0, WALL))
    follower = Follower(one.opened.path, one.clock)
    before = one.opened.path.read_bytes()
    follower.look()
    assert is_held(beat)
    assert one.opened.path.read_bytes() == before
    one.opened.beat()
    one.die()
    assert one.opened.writer.followed
    follower.close()
    assert not is_held(beat)
