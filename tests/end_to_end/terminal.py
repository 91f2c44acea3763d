"""A terminal with a floor on it: a real pty, keys as bytes in, and what is drawn as bytes out."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import subprocess
import termios
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from floorclock.clock.events import Event, Tapped
from floorclock.journal.reading import read_journal
from tests.commands import command, environment
from tests.opened_classes import SESSION

TIMED = SESSION.replace("count_in: 0:10", "count_in: 0").replace("  - {kind: open, title: Warm-up, time: 2:00}\n", "")
"""A session that starts with work at once."""
LONGEST_WAIT_S = 60.0
"""A machine with much else to do takes its time."""
KEYS = {"enter": b"\r", "f9": b"\x1b[20~", "f10": b"\x1b[21~", "backspace": b"\x7f", "space": b" ", "escape": b"\x1b"}
_ESCAPES = re.compile(rb"\x1b(\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(\x07|\x1b\\)|P[^\x1b]*\x1b\\|[@-_])")


def soon(true: Callable[[], object], longest_s: float = LONGEST_WAIT_S) -> bool:
    """Whether something comes about."""
    ends = time.monotonic() + longest_s
    while not true():
        if time.monotonic() > ends:
            return False
        time.sleep(0.02)
    return True


def until(true: Callable[[], object], what: str, longest_s: float = LONGEST_WAIT_S) -> None:
    """Waits until something is true."""
    assert soon(true, longest_s), f"it never came about: {what}"


class Terminal:
    """One command on a terminal of its own."""

    def __init__(self, home: Path, *arguments: str, size: tuple[int, int] = (160, 45)) -> None:
        self.home = home
        self._drawn = bytearray()
        self._master, slave = pty.openpty()
        termios.tcsetwinsize(slave, (size[1], size[0]))
        self.process = subprocess.Popen(
            command(*arguments),
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**environment(home), "TERM": "xterm-256color", "COLORTERM": "truecolor"},
            preexec_fn=_own_terminal,
            close_fds=True,
        )
        os.close(slave)
        self._open = True
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    @property
    def text(self) -> str:
        """Everything drawn so far, without the escapes."""
        return _ESCAPES.sub(b"", bytes(self._drawn)).decode("utf-8", "replace")

    def forget(self) -> None:
        """Only what is drawn from here on counts as text."""
        self._drawn.clear()

    def sees(self, *words: str) -> None:
        """Waits until all of this has been drawn. What is drawn in large letters is no text."""
        soon(lambda: all(word in self.text for word in words) or not self._reader.is_alive())
        missing = [word for word in words if word not in self.text]
        assert not missing, f"never drawn: {missing}; last was {self.text[-1500:]!r}"

    def send(self, data: bytes) -> None:
        """Bytes from the keyboard, all of them, however slowly they are read."""
        while data:
            data = data[os.write(self._master, data[:4096]) :]

    def press(self, *keys: str) -> None:
        """Keys, one after the other, each once the one before had time to be read."""
        for key in keys:
            self.send(KEYS.get(key, key.encode()))
            time.sleep(0.15 if key == "escape" else 0.03)

    def resize(self, width: int, height: int) -> None:
        """The window gets another size."""
        termios.tcsetwinsize(self._master, (height, width))

    def kill(self, number: int = signal.SIGKILL) -> None:
        """A signal to the command."""
        self.process.send_signal(number)

    def hang_up(self) -> None:
        """The window is closed."""
        self._open = False
        self._reader.join(2)
        os.close(self._master)

    def ends(self) -> int:
        """Waits for the end; gives the exit status."""
        status = self.process.wait(LONGEST_WAIT_S)
        self._reader.join(2)
        return status

    def close(self) -> None:
        """Nothing of it stays."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        if self._open:
            self.hang_up()

    @property
    def journal(self) -> Path:
        """The journal of the only class."""
        (path,) = (self.home / "classes").glob("*.jsonl")
        return path

    @property
    def events(self) -> tuple[Event, ...]:
        """What is on the disk."""
        with contextlib.suppress(ValueError):
            return read_journal(self.journal).events
        return ()

    @property
    def taps(self) -> list[str]:
        """Who was tapped, in order."""
        return [event.athlete for event in self.events if isinstance(event, Tapped)]

    def kept(self, kind: type[Event], count: int = 1) -> None:
        """Waits until so many events of a kind are on the disk."""
        until(lambda: sum(isinstance(event, kind) for event in self.events) >= count, f"{count} {kind.__name__} in the journal")

    def _read(self) -> None:
        while self._open:
            try:
                ready, _, _ = select.select([self._master], [], [], 0.05)
                if ready:
                    data = os.read(self._master, 65_536)
                    if not data:
                        return
                    self._drawn += data
            except OSError:
                return


def _own_terminal() -> None:
    os.setsid()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


@contextlib.contextmanager
def terminal(home: Path, *arguments: str, size: tuple[int, int] = (160, 45)) -> Iterator[Terminal]:
    """A command on a terminal, gone at the end whatever happens."""
    one = Terminal(home, *arguments, size=size)
    try:
        yield one
    finally:
        one.close()
