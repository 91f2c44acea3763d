"""Keeps what audio libraries print off the screen.

Invariant: while it is in force, whatever is written to file descriptor 2 lands in a log file, and `sys.__stderr__` still
reaches the terminal.

ALSA, JACK and PulseAudio print their complaints to file descriptor 2 from C, where no Python redirection sees them. Textual draws
its screen on `sys.__stderr__`, which it looks up when an app starts; that object writes to descriptor 2 as well. So the two have
to be parted: descriptor 2 is pointed at the log, and `sys.__stderr__` becomes a file on a copy of the old descriptor 2. Enter
this before the app is made and leave it after the app has ended. `sys.stderr` is left alone and so goes to the log too, with
Python's own warnings; a traceback after the block reaches the terminal as ever.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

STDERR_FD = 2


@contextmanager
def quiet_stderr(log: Path) -> Iterator[TextIO]:
    """Descriptor 2 goes to the end of `log`; yields the text file that still reaches the terminal (also `sys.__stderr__`).

    Raises:
        OSError: the log cannot be opened.
    """
    log_fd = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    try:
        _flush()
        terminal_fd = os.dup(STDERR_FD)
        os.dup2(log_fd, STDERR_FD)
    finally:
        os.close(log_fd)
    screen = os.fdopen(terminal_fd, "w", encoding="utf-8", errors="replace", closefd=False)
    before = sys.__stderr__
    sys.__stderr__ = screen  # type: ignore[misc]
    try:
        yield screen
    finally:
        sys.__stderr__ = before  # type: ignore[misc]
        _flush()
        screen.close()
        os.dup2(terminal_fd, STDERR_FD)
        os.close(terminal_fd)


def _flush() -> None:
    if sys.stderr is not None:
        sys.stderr.flush()
