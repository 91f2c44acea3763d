"""Bad bytes cost themselves and nothing else; a closed terminal is noticed."""

from __future__ import annotations

import os
import pty
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from textual import events

from floorclock.tui.base.safe_driver import LONGEST_PASTE_S, MOST_PASTED, READ_BYTES, InputReader

DEADLINE_S = 20.0

BAD_INPUT = {
    "an invalid byte": b"\xff",
    "half a character": b"\xe2\x82",
    "a lone continuation byte": b"\x80\xbf",
    "an overlong slash": b"\xc0\xaf",
    "a key code beyond Unicode": b"\x1b[99999999999u",
    "a key code with text beyond Unicode": b"\x1b[97;1;99999999999u",
    "a surrogate as a key": b"\x1b[55296u",
    "a mouse report of signs": b"\x1b[<-;-;-M",
    "a mouse report of nothing": b"\x1b[<;;M",
    "a size report of letters": b"\x1b[48;x;y;z;wt",
    "NUL": b"\x00",
}


def keys(messages: Iterable[object]) -> list[str]:
    return [message.key for message in messages if isinstance(message, events.Key)]


@pytest.mark.parametrize("bad", BAD_INPUT.values(), ids=BAD_INPUT.keys())
def test_the_key_behind_bad_input_is_heard(bad: bytes) -> None:
    reader = InputReader()
    assert keys(reader.take(b"a" + bad + b"\x1bOP" + b"q", now_s=0.0))[-1] == "q"
    assert keys(reader.take(b"b", now_s=0.1)) == ["b"]


def test_half_a_character_is_no_key() -> None:
    assert keys(InputReader().take(b"\x1b[55296u" + b"x", now_s=0.0)) == ["x"]


def test_a_character_may_arrive_in_two_reads() -> None:
    reader = InputReader()
    assert keys(reader.take("é".encode()[:1], now_s=0.0)) == []
    assert keys(reader.take("é".encode()[1:], now_s=0.1)) == ["é"]


def test_a_paste_without_an_end_swallows_keys_for_a_moment_only() -> None:
    reader = InputReader()
    assert keys(reader.take(b"\x1b[200~abc", now_s=0.0)) == []
    assert keys(reader.take(b"d", now_s=1.0)) == []
    assert keys(reader.tick(LONGEST_PASTE_S + 0.1)) == []
    assert keys(reader.take(b"e", now_s=LONGEST_PASTE_S + 0.2)) == ["e"]


def test_a_paste_with_an_end_is_one_message_however_it_is_cut() -> None:
    reader = InputReader()
    messages = [*reader.take(b"\x1b[20", now_s=0.0), *reader.take(b"0~ab\x1b[2", now_s=0.0), *reader.take(b"01~x", now_s=0.0)]
    assert [message.text for message in messages if isinstance(message, events.Paste)] == ["ab"]
    assert keys(reader.tick(LONGEST_PASTE_S + 1)) == []
    assert keys(reader.take(b"y", now_s=LONGEST_PASTE_S + 2)) == ["y"]


def read_in_pieces(reader: InputReader, data: bytes) -> list[object]:
    """The messages in some bytes that arrive in reads of the usual size."""
    pieces = (data[at : at + READ_BYTES] for at in range(0, len(data), READ_BYTES))
    return [message for piece in pieces for message in reader.take(piece, now_s=0.0)]


@pytest.mark.parametrize("more", range(8))
def test_of_an_enormous_paste_the_beginning_is_kept_and_the_key_behind_it_heard(more: int) -> None:
    """However the end of the paste is cut by the reads."""
    reader = InputReader()
    messages = read_in_pieces(reader, b"\x1b[200~" + b"x" * (1_000_000 + more) + b"\x1b[201~q")
    pasted = [message.text for message in messages if isinstance(message, events.Paste)]
    assert [set(text) for text in pasted] == [{"x"}]
    assert MOST_PASTED <= len(pasted[0]) <= MOST_PASTED + 2 * READ_BYTES
    assert keys(messages) == ["q"]


@pytest.mark.parametrize("length", range(READ_BYTES - 12, READ_BYTES + 12))
def test_the_end_of_a_paste_is_found_across_two_reads(length: int) -> None:
    reader = InputReader()
    messages = read_in_pieces(reader, b"\x1b[200~" + b"x" * (length + READ_BYTES) + b"\x1b[201~q")
    assert len([message for message in messages if isinstance(message, events.Paste)]) == 1
    assert keys(messages) == ["q"]


@pytest.mark.parametrize("report", [b"\x1b[48;999999;999999;0;0t", b"\x1b[48;501;80;0;0t", b"\x1b[48;0;0;0;0t"])
def test_a_size_that_no_terminal_has_is_not_believed(report: bytes) -> None:
    messages = list(InputReader().take(report + b"q", now_s=0.0))
    assert not [message for message in messages if isinstance(message, events.Resize)]
    assert keys(messages) == ["q"]


def test_a_size_that_a_terminal_has_is_taken() -> None:
    (report,) = InputReader().take(b"\x1b[48;67;240;0;0t", now_s=0.0)
    assert isinstance(report, events.Resize)
    assert report.size == (240, 67)


class Terminal:
    """A pseudo-terminal with the tiny app on it."""

    def __init__(self, heard: Path) -> None:
        self.heard = heard
        self.seen = 0
        self.ours, theirs = pty.openpty()
        command = [sys.executable, "-m", "tests.tui.floor.driven_app", str(heard)]
        environment = {**os.environ, "TERM": "xterm-256color"}
        self.app = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True, env=environment)
        os.close(theirs)

    def lines(self) -> list[str]:
        return self.heard.read_text(encoding="utf-8").splitlines() if self.heard.exists() else []

    def type(self, data: bytes) -> None:
        os.write(self.ours, data)

    def wait_for(self, line: str, *, drain: bool = True) -> None:
        """Reads what the app draws until it has written `line`."""
        end = time.monotonic() + DEADLINE_S
        while line not in self.lines():
            assert time.monotonic() < end, f"{line!r} not in {self.lines()}"
            if drain and select.select([self.ours], [], [], 0.02)[0]:
                os.read(self.ours, 65536)
            elif not drain:
                select.select([], [], [], 0.02)

    def type_until(self, data: bytes, line: str) -> None:
        """Types again and again until the app has written `line`."""
        end = time.monotonic() + DEADLINE_S
        while not any(heard.startswith(line.partition(",")[0]) for heard in self.lines()[self.seen :]):
            assert time.monotonic() < end, f"{line!r} not in {self.lines()}"
            self.type(data)
            if select.select([self.ours], [], [], 0.1)[0]:
                os.read(self.ours, 65536)
        self.seen = len(self.lines())

    @contextmanager
    def drained(self) -> Iterator[None]:
        """What the app draws is read all the while, in a thread."""
        thread = threading.Thread(target=self._drain, daemon=True)
        thread.start()
        yield

    def _drain(self) -> None:
        while self.app.poll() is None:
            try:
                if select.select([self.ours], [], [], 0.02)[0]:
                    os.read(self.ours, 65536)
            except OSError:
                return

    def ends(self) -> int:
        """The exit status of an app that is on its way out."""
        with self.drained():
            return self.app.wait(timeout=DEADLINE_S)

    def close(self) -> None:
        self.app.kill()
        self.app.wait()


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    opened = Terminal(tmp_path / "heard.txt")
    opened.wait_for("ready")
    yield opened
    opened.close()


def test_an_app_in_a_terminal_still_answers_after_every_kind_of_bad_input(terminal: Terminal) -> None:
    answers = "abcdefghijklmnop"[: len(BAD_INPUT)]
    for bad, answer in zip(BAD_INPUT.values(), answers, strict=True):
        terminal.type(bad + answer.encode())
        terminal.wait_for(answer)
    terminal.type(b"Q")
    terminal.wait_for("Q")
    assert terminal.ends() == 0


def test_a_stop_that_was_not_announced_leaves_one_reader_and_the_app_still_ends(terminal: Terminal) -> None:
    for at in range(3):
        os.kill(terminal.app.pid, signal.SIGSTOP)
        os.kill(terminal.app.pid, signal.SIGCONT)
        # A key that comes while the terminal changes hands is flushed with all else that was typed at the shell.
        terminal.type_until(b"T", f"readers 1, stop {at}")
    terminal.type_until(b"Q", "Q")
    assert terminal.ends() == 0


def test_signals_that_come_in_the_middle_of_a_write_wait_for_its_end(terminal: Terminal) -> None:
    for _ in range(20):
        for _ in range(20):
            os.kill(terminal.app.pid, signal.SIGCONT)
            time.sleep(0.001)
        terminal.type_until(b"T", "readers 1")
    terminal.type_until(b"Q", "Q")
    assert terminal.ends() == 0


def test_an_app_that_is_told_to_go_on_while_it_ends_still_ends(terminal: Terminal) -> None:
    terminal.type(b"Q")
    with terminal.drained():
        ends = time.monotonic() + DEADLINE_S
        while terminal.app.poll() is None and time.monotonic() < ends:
            terminal.app.send_signal(signal.SIGCONT)
            time.sleep(0.0005)
    assert terminal.app.poll() == 0


FLOODS = {
    "a paste of a megabyte": b"\x1b[200~" + b"x" * 1_000_000 + b"\x1b[201~",
    "escapes that mean nothing": b"\x1b[1;2;3;4;5;6;7;8;9z" * 5_000,
    "one escape without an end": b"\x1b[" + b"9;" * 50_000,
    "a screen of a million rows": b"\x1b[48;999999;999999;0;0t",
}


@pytest.mark.parametrize("flood", FLOODS.values(), ids=FLOODS.keys())
def test_a_flood_of_input_keeps_no_signal_waiting(terminal: Terminal, flood: bytes) -> None:
    with terminal.drained():
        terminal.type(flood)
        terminal.app.send_signal(signal.SIGTERM)
        assert terminal.app.wait(timeout=DEADLINE_S) == 0


def test_a_terminal_that_is_closed_is_noticed_and_the_class_can_be_saved(terminal: Terminal) -> None:
    os.close(terminal.ours)
    terminal.wait_for("terminal gone", drain=False)
    assert terminal.app.wait(timeout=DEADLINE_S) == 0
