"""A terminal driver that bad input cannot deafen, and a watch on the terminal itself.

Invariant: whatever bytes arrive, the keys that come after them are heard: what is broken costs itself and nothing else.
"""

from __future__ import annotations

import codecs
import logging
import os
import re
import select
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import Final

from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.events import Key
from textual.message import Message

LONGEST_PASTE_S: Final = 2.0
"""A paste that has not ended by then has lost its end; waiting for it would swallow every key."""
POLL_S: Final = 0.1
READ_BYTES: Final = 4096

_PASTE_EDGE: Final = re.compile(r"\x1b\[20([01])~")
_KEPT_BY_PARSER: Final = ("last_x", "last_y", "mouse_pixels", "terminal_size", "terminal_pixel_size")

logger = logging.getLogger(__name__)


class InputReader:
    """Bytes from a terminal in, messages out. Stays whole on invalid UTF-8, malformed sequences and endless pastes."""

    def __init__(self, *, debug: bool = False) -> None:
        self._debug = debug
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._parser = XTermParser(debug)
        self._tail = ""
        self._paste_since_s: float | None = None

    def take(self, data: bytes, now_s: float) -> Iterator[Message]:
        """The messages in some bytes that were read at `now_s` (monotonic seconds)."""
        text = self._decoder.decode(data)
        self._watch_paste(text, now_s)
        # One character at a time: when the parser fails, the characters behind the broken sequence are still ours to give.
        for character in text:
            yield from self._parsed(partial(self._parser.feed, character))

    def tick(self, now_s: float) -> Iterator[Message]:
        """The messages that become due because nothing more arrived, such as a lone escape."""
        if self._paste_since_s is not None and now_s - self._paste_since_s > LONGEST_PASTE_S:
            self._paste_since_s = None
            self._start_over()
        yield from self._parsed(self._parser.tick)

    def _parsed(self, parse: Callable[[], Iterable[Message]]) -> Iterator[Message]:
        try:
            messages = list(parse())
        except Exception:
            # Guard: the parser raises whatever the broken sequence makes int() or chr() raise, and is of no use afterwards.
            logger.warning("input that cannot be read was left out", exc_info=True)
            self._start_over()
            return
        yield from (message for message in messages if not _is_half_a_character(message))

    def _start_over(self) -> None:
        """A new parser that knows what the old one had learnt about the terminal."""
        old, self._parser = self._parser, XTermParser(self._debug)
        for name in _KEPT_BY_PARSER:
            setattr(self._parser, name, getattr(old, name))

    def _watch_paste(self, text: str, now_s: float) -> None:
        seen = self._tail + text
        for edge in _PASTE_EDGE.finditer(seen):
            self._paste_since_s = now_s if edge[1] == "0" else None
        self._tail = seen[-5:]


def _is_half_a_character(message: Message) -> bool:
    """True for a key that is a surrogate: no file and no terminal can take it, so it must not get further than this."""
    if not isinstance(message, Key):
        return False
    return any("\ud800" <= char <= "\udfff" for char in message.key + (message.character or ""))


class SafeDriver(LinuxDriver):
    """The driver of the floor: reads the terminal in a thread of its own, and goes on reading whatever comes."""

    def _run_input_thread(self) -> None:
        while not self.exit_event.is_set():
            try:
                self.run_input_thread()
            except Exception:
                # Guard: a message that cannot be delivered must not end the reading. A fault that stays must not spin.
                logger.exception("reading the terminal starts again")
                self.exit_event.wait(POLL_S)

    def run_input_thread(self) -> None:
        """Reads until the app ends. A terminal that is gone is waited for; `watch_terminal` decides what becomes of the class."""
        reader = InputReader(debug=self._debug)
        while not self.exit_event.is_set():
            ready, _, _ = select.select([self.fileno], [], [], POLL_S)
            now_s = time.monotonic()
            if ready:
                data = self._read()
                if not data:
                    self.exit_event.wait(POLL_S)
                for message in reader.take(data, now_s):
                    self.process_message(message)
            for message in reader.tick(now_s):
                self.process_message(message)

    def _read(self) -> bytes:
        try:
            return os.read(self.fileno, READ_BYTES)
        except OSError:
            return b""


def hung_up(descriptor: int) -> bool:
    """True when the terminal behind a file descriptor is gone."""
    poll = select.poll()
    poll.register(descriptor, 0)
    gone = select.POLLHUP | select.POLLERR | select.POLLNVAL
    return any(happened & gone for _, happened in poll.poll(0))


def watch_terminal(on_gone: Callable[[], None], *, descriptor: int | None = None, period_s: float = 0.5) -> threading.Thread:
    """Calls `on_gone` once, from a thread of its own, when the terminal is gone.

    The thread works even while the screen's loop is blocked by a terminal that no longer reads, so `on_gone` must not
    need that loop: it saves and ends the process.

    Args:
        on_gone: what to do; runs in the watching thread.
        descriptor: the terminal; standard input where None.
        period_s: how often to look.
    """
    if descriptor is None:
        stdin = sys.__stdin__
        descriptor = stdin.fileno() if stdin is not None else 0

    def watch() -> None:
        while not hung_up(descriptor):
            time.sleep(period_s)
        on_gone()

    thread = threading.Thread(target=watch, daemon=True, name="terminal-watch")
    thread.start()
    return thread
