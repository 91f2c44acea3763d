"""The floor on a real terminal: taps, kills, closed windows and broken bytes, judged by the journal on the disk."""

from __future__ import annotations

import json
import signal
from pathlib import Path

import pytest

from floorclock.clock.events import CarriedOn, ClassEnded, PartBegun, Paused, Resumed, Tapped
from floorclock.journal.lock import is_open
from floorclock.journal.reading import read_journal
from tests.clock.classes import FORTY
from tests.commands import typed
from tests.end_to_end.terminal import TIMED, Terminal, terminal, until
from tests.opened_classes import plan_at

PEOPLE = "roster: x\nathletes: [{name: Ilka, key: i}, {name: Bram, key: b}, {name: Noor, key: n}]\n"
Files = tuple[str, str]


@pytest.fixture
def files(tmp_path: Path) -> Files:
    """A session that starts with work at once, and a roster."""
    plan_at(tmp_path, TIMED, PEOPLE)
    return str(tmp_path / "plan.yaml"), str(tmp_path / "who.yaml")


def start(one: Terminal) -> None:
    """Starts the class that is on the terminal."""
    one.sees("Ilka", "Noor")
    one.press("enter")
    one.kept(PartBegun)


def leave(one: Terminal) -> None:
    """Ends the class and leaves the floor."""
    one.press("f10")
    one.sees("End the class now?")
    one.press("enter")
    one.kept(ClassEnded)

    def asks() -> bool:
        # A key other than a tap that comes in the instant in which a dialog closes is nobody's.
        one.press("f10")
        return "Leave?" in one.text

    until(asks, "the question whether to leave")
    one.press("enter")
    assert one.ends() == 0


def whole(path: Path) -> bool:
    """Whether a journal ends with a whole line, holds no damage, and no floor has it."""
    reading = read_journal(path)
    return not reading.torn and not reading.damage and not reading.ends_open and not is_open(path)


def test_a_class_from_the_first_key_to_its_review(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        start(floor)
        floor.press("i", "b")
        until(lambda: len(floor.taps) == 2, "two taps")
        leave(floor)
        assert f"saved as {floor.journal.stem}" in floor.text
        assert whole(floor.journal)
        assert floor.taps == ["Ilka", "Bram"]
    review = json.loads(typed("review", "--json", home=home).stdout)
    done = [one["name"] for one in review["parts"][0]["athletes"] if one["splits"] and one["splits"][0]["status"] == "done"]
    assert done == ["Ilka", "Bram"]
    assert review["class"]["rehearsal"] is False


def test_after_kill_9_resume_shows_every_tap_and_asks(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        start(floor)
        floor.press("i", "n")
        until(lambda: len(floor.taps) == 2, "two taps")
        splits = {event.athlete: event.at_ms for event in floor.events if hasattr(event, "athlete")}
        floor.kill()
        floor.ends()
    with terminal(home, "resume") as floor:
        floor.sees("The class was away for", "Carry on from where", "it stopped", "it would be now")
        floor.sees("this minute")
        floor.press("b")
        until(lambda: floor.taps[-1] == "Bram", "a tap while it asks")
        floor.press("enter")
        floor.kept(CarriedOn)
        floor.kept(Resumed)
        floor.sees("Ilka", "Noor")
        assert {event.athlete: event.at_ms for event in floor.events if hasattr(event, "athlete")}.items() >= splits.items()
        leave(floor)
        assert whole(floor.journal)
    assert typed("resume", home=home).returncode == 1


def test_a_class_killed_while_the_floor_asks_can_be_resumed_again(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        start(floor)
        floor.press("i")
        until(lambda: floor.taps == ["Ilka"], "a tap")
        floor.kill()
        floor.ends()
    for _ in range(2):
        with terminal(home, "resume") as floor:
            floor.sees("Carry on from where")
            floor.kept(Paused)
            floor.kill()
            floor.ends()
            assert floor.taps == ["Ilka"]
            assert sum(isinstance(event, Paused) for event in floor.events) == 1


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_the_floor_and_leaves_the_journal_whole(home: Path, files: Files, number: int) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        start(floor)
        floor.press("i", "b", "n")
        until(lambda: len(floor.taps) == 3, "three taps")
        floor.kill(number)
        assert floor.ends() == 0
        assert whole(floor.journal)
        assert floor.taps == ["Ilka", "Bram", "Noor"]
        assert f"floorclock resume {floor.journal.stem}" in floor.text


def test_a_closed_terminal_ends_the_floor_and_leaves_the_journal_whole(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        start(floor)
        floor.press("i", "b", "n")
        until(lambda: len(floor.taps) == 3, "three taps")
        floor.hang_up()
        # Whether the signal or the watch on the terminal comes first decides the status, which nobody is there to read.
        assert floor.ends() >= 0, "ended by itself, not killed"
        assert whole(floor.journal)
        assert len(floor.taps) == 3


def test_a_floor_that_is_left_before_the_start_leaves_no_record(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        floor.sees("Ilka")
        floor.press("i", "f10")
        floor.sees("has not begun")
        floor.press("enter")
        assert floor.ends() == 0
        assert "nothing to keep" in floor.text
    assert list((home / "classes").iterdir()) == []


BROKEN = {
    "a byte that is no UTF-8": b"\xff\xfe",
    "half a character": b"\xe2\x82",
    "an endless sequence": b"\x1b[999;999;999;999",
    "a mouse report of nonsense": b"\x1b[<999999999999999999999;x;yM",
    "a surrogate": b"\xed\xa0\x80",
    "an open paste": b"\x1b[200~zzz",
    "zero bytes": b"\x00" * 50,
}


def test_broken_bytes_from_the_terminal_do_not_deafen_the_floor(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        start(floor)
        for what, data in BROKEN.items():
            before = len(floor.taps)
            floor.send(data)

            def heard(before: int = before) -> bool:
                floor.press("i")
                return len(floor.taps) > before

            until(heard, f"a tap after {what}")
        assert floor.process.poll() is None
        assert set(floor.taps) == {"Ilka"}


def test_forty_taps_in_one_breath_are_all_kept_in_order(home: Path, tmp_path: Path, files: Files) -> None:
    people = "\n".join(f"  - {{name: {athlete.name}, key: {json.dumps(athlete.key)}}}" for athlete in FORTY)
    (tmp_path / "who.yaml").write_text(f"roster: x\nathletes:\n{people}\n", encoding="utf-8")
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        floor.sees("Athlete 1")
        floor.press("enter")
        floor.kept(PartBegun)
        floor.sees("minute 1 of 9")
        floor.send("".join(athlete.key for athlete in FORTY).encode())
        until(lambda: len(floor.taps) >= 40, "forty taps")
        assert floor.taps == [athlete.name for athlete in FORTY]


def test_a_second_floor_cannot_open_the_class(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1]) as floor:
        start(floor)
        name = floor.journal.stem
        with terminal(home, "resume") as other:
            assert other.ends() == 1
            assert "no class was interrupted" in other.text
        with terminal(home, "resume", name) as other:
            assert other.ends() == 3
            assert "open in another floor" in other.text
        floor.press("i")
        until(lambda: floor.taps == ["Ilka"], "the first floor goes on")


def test_a_window_of_any_size_keeps_the_class_running(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1], size=(80, 24)) as floor:
        start(floor)
        for size in [(20, 6), (400, 100), (1, 1), (80, 24), (160, 45)]:
            before = len(floor.taps)
            floor.resize(*size)
            floor.press("i")
            floor.kept(Tapped, before + 1)
        floor.forget()
        floor.resize(120, 40)
        floor.sees("minute 1 of 9", "Ilka")


def test_speed_runs_the_class_clock_and_marks_a_rehearsal(home: Path, files: Files) -> None:
    with terminal(home, "run", files[0], "--roster", files[1], "--speed", "200") as floor:
        start(floor)
        floor.sees("rehearsal x200", "part 2 of 2")
        floor.kill(signal.SIGTERM)
        assert floor.ends() == 0
        header = read_journal(floor.journal).header
    assert header is not None
    assert (header.rehearsal, header.speed) == (True, 200)


def test_the_demo_on_a_terminal_starts_by_itself_and_its_athletes_tap(home: Path) -> None:
    with terminal(home, "demo", "--speed", "300") as floor:
        floor.sees("demo x300")
        until(lambda: len(set(floor.taps)) > 10, "invented athletes who tap")
        floor.kill(signal.SIGTERM)
        assert floor.ends() == 0
        assert whole(floor.journal)


def test_the_brief_on_a_terminal_turns_its_pages_and_leaves_no_record(home: Path, files: Files) -> None:
    with terminal(home, "brief", files[0], size=(60, 13)) as wall:
        wall.sees("every minute on the minute")
        wall.press("enter")
        wall.sees("as long as the coach wants")
        wall.press("q")
        assert wall.ends() == 0
    assert not (home / "classes").exists()


def test_a_plan_with_problems_never_takes_the_screen(home: Path, tmp_path: Path) -> None:
    (tmp_path / "plan.yaml").write_text("session: x\nparts: 3\n", encoding="utf-8")
    with terminal(home, "run", str(tmp_path / "plan.yaml")) as floor:
        assert floor.ends() == 1
        assert "plan.yaml:2:" in floor.text
        assert b"\x1b[?1049h" not in bytes(floor._drawn)


def test_a_second_screen_opened_in_the_middle_shows_a_tap_and_its_closing_costs_nothing(tmp_path: Path, files: Files) -> None:
    home = tmp_path / "home"
    with terminal(home, "run", files[0], "--roster", files[1], "--sound", "none") as one:
        start(one)
        one.press("i")
        one.kept(Tapped)
        # On a small second screen names are no large letters.
        with terminal(home, "wall", size=(70, 12)) as wall:
            wall.sees("Ilka ✓  Bram")
            one.sees("second screen")
            wall.forget()
            one.press("b")
            wall.sees("Bram ✓")
            before = one.journal.read_bytes()
            wall.press("i", "escape")
            assert wall.ends() == 0
        assert one.journal.read_bytes() == before
        one.press("n")
        one.kept(Tapped, 3)
        leave(one)
