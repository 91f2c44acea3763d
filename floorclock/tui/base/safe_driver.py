"""A terminal driver that bad input cannot deafen, and a watch on the terminal itself.

Invariant: whatever bytes arrive, the keys that come after them are heard: what is broken or far too much costs itself and nothing
else. However often the process is stopped and goes on, one thread reads the terminal.
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
from textual.events import Key, Resize
from textual.message import Message

from floorclock.platform import system

LONGEST_PASTE_S: Final = 2.0
"""A paste that has not ended by then has lost its end; waiting for it would swallow every key."""
MOST_PASTED: Final = 4096
"""Characters of one paste; what is beyond them is left out. Nothing on the floor takes more than a name."""
MANY_IN_A_READ: Final = 50
"""After so many messages of one read the reader waits for the app. Forty people tapping in one breath are fewer."""
MOST_IN_A_READ: Final = 200
MOST_WAITING: Final = 1000
"""Messages that one read may bring, and that may wait for the app. More than that is nobody's typing, and would only keep a
signal waiting."""
MOST_COLUMNS, MOST_ROWS = 1000, 500
"""A terminal that claims to be larger is not believed."""
POLL_S: Final = 0.1
READ_BYTES: Final = 4096

_PASTE_EDGE: Final = re.compile(r"\x1b\[20([01])~")
_PASTE_ENDS: Final = "\x1b[201~"
_EDGE_BEGINS: Final = re.compile(r"\x1b(\[(2(0[01]?)?)?)?$")
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
        self._pasted = 0
        self._dropping = False

    def take(self, data: bytes, now_s: float) -> Iterator[Message]:
        """The messages in some bytes that were read at `now_s` (monotonic seconds), `MOST_IN_A_READ` or a few more of them."""
        text = self._within_bounds(self._decoder.decode(data), now_s)
        # One character at a time: when the parser fails, the characters behind the broken sequence are still ours to give.
        brought = 0
        for character in text:
            for message in self._parsed(partial(self._parser.feed, character)):
                yield message
                brought += 1
            if brought >= MOST_IN_A_READ:
                self._start_over()
                return

    def tick(self, now_s: float) -> Iterator[Message]:
        """The messages that become due because nothing more arrived, such as a lone escape."""
        if self._paste_since_s is not None and now_s - self._paste_since_s > LONGEST_PASTE_S:
            self._paste_since_s, self._dropping = None, False
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
        yield from (message for message in messages if not _is_nonsense(message))

    def _start_over(self) -> None:
        """A new parser that knows what the old one had learnt about the terminal."""
        old, self._parser = self._parser, XTermParser(self._debug)
        for name in _KEPT_BY_PARSER:
            setattr(self._parser, name, getattr(old, name))

    def _within_bounds(self, text: str, now_s: float) -> str:
        """The text without what a paste has too much of; both ends of a paste stay whole, also where they come in two reads."""
        kept, at, before = [], 0, len(self._tail)
        for edge in _PASTE_EDGE.finditer(self._tail + text):
            end = edge.end() - before
            kept.append(self._of_paste(text[at:end]))
            at = end
            if edge[1] == "1":
                kept.append(_PASTE_ENDS if self._dropping else "")
                self._paste_since_s, self._dropping = None, False
            elif self._paste_since_s is None:
                self._paste_since_s, self._pasted = now_s, 0
        kept.append(self._of_paste(text[at:]))
        if self._paste_since_s is not None and self._pasted > MOST_PASTED and not _EDGE_BEGINS.search(text):
            self._dropping = True
        self._tail = (self._tail + text)[-5:]
        return "".join(kept)

    def _of_paste(self, piece: str) -> str:
        if self._dropping:
            return ""
        self._pasted += len(piece)
        return piece


def _is_nonsense(message: Message) -> bool:
    """True for a size that no terminal has, and for half a character (a surrogate) as a key.

    Laying the screen out for such a size would take all time and memory; no file and no terminal can take such a key.
    """
    if isinstance(message, Resize):
        return not (0 < message.size.width <= MOST_COLUMNS and 0 < message.size.height <= MOST_ROWS)
    if isinstance(message, Key):
        return any("\ud800" <= char <= "\udfff" for char in message.key + (message.character or ""))
    return False


class SafeDriver(LinuxDriver):
    """The driver of the floor: reads the terminal in a thread of its own, and goes on reading whatever comes."""

    _entered = False
    """Whether the terminal is ours now."""
    _is_to_stop = False
    """Whether the latest signal of the two was the one to stop."""
    _is_called = False
    """Whether the app's loop is about to do what it said."""

    def start_application_mode(self) -> None:
        """Takes the terminal, once."""
        if not self._entered:
            thread = self._key_thread
            super().start_application_mode()  # type: ignore[no-untyped-call]
            # In the background nothing is taken, and no thread started.
            self._entered = self._key_thread is not thread

    def stop_application_mode(self) -> None:
        """Gives the terminal back, once."""
        if self._entered:
            self._entered = False
            super().stop_application_mode()

    def _sigtstp_application(self, *args: object) -> None:
        self._heard(stop=True)

    def _sigcont_application(self, *args: object) -> None:
        self._heard(stop=False)

    def _heard(self, *, stop: bool) -> None:
        """A signal comes in the middle of anything, and if that is a write, its lock would be waited for for ever: so later."""
        self._is_to_stop = stop
        if not self._is_called and not self._loop.is_closed():
            self._is_called = True
            self._loop.call_soon_threadsafe(self._stop_or_go_on)

    def _stop_or_go_on(self) -> None:
        """After a stop that was not announced the terminal is given back first, for a shell may have changed it.

        An app on its way out takes nothing any more: a thread that reads the terminal again would keep the process for ever.
        """
        self._is_called = False
        if self._entered:
            self.suspend_application_mode()
        if self._is_to_stop:
            self._must_signal_resume = True
            system.halt()
        elif self._app.is_running:
            self.resume_application_mode()

    def _get_terminal_size(self) -> tuple[int, int]:
        width, height = super()._get_terminal_size()
        return min(width, MOST_COLUMNS), min(height, MOST_ROWS)

    def process_message(self, message: Message) -> None:
        """Hands a message on, unless more are waiting than anybody types."""
        if self._app.message_queue_size < MOST_WAITING:
            super().process_message(message)

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
                for count, message in enumerate(reader.take(data, now_s), 1):
                    self.process_message(message)
                    if count % MANY_IN_A_READ == 0:
                        self._let_the_app_catch_up()
            for message in reader.tick(now_s):
                self.process_message(message)

    def _let_the_app_catch_up(self) -> None:
        """Waits until the app's loop has come round.

        What a thread hands to the loop wakes it through the same socket as a signal does (the wakeup descriptor of Python's
        `signal` module): a flood fills that socket, and the signal would be lost.
        """
        caught_up = threading.Event()
        self._loop.call_soon_threadsafe(caught_up.set)
        while not (caught_up.wait(POLL_S) or self.exit_event.is_set()):
            pass

    def _read(self) -> bytes:
        try:
            return os.read(self.fileno, READ_BYTES)
        except OSError:
            return b""


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
        while not system.hung_up(descriptor):
            time.sleep(period_s)
        on_gone()

    thread = threading.Thread(target=watch, daemon=True, name="terminal-watch")
    thread.start()
    return thread
