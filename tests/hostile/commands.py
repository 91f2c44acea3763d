"""Commands typed at the real entry, in this process, and judged from outside: by status, by what they print, by what they leave.

Invariant: nothing here knows the inside of floorclock; a journal is read by `told`, which trusts only its checks.
"""

from __future__ import annotations

import io
import json
import os
import sys
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any
from unittest import mock
from zlib import crc32

import miniaudio

from floorclock.cli import app
from tests.commands import Answer
from tests.floorclock_command import no_device

SEAL = len(',"check":"00000000"}')
Line = dict[str, Any]


class Broken(AssertionError):
    """Something from outside did more harm than it may."""


def sealed(values: Mapping[str, Any]) -> bytes:
    """A line of a journal with the right check, whatever its values are."""
    body = json.dumps(values, ensure_ascii=True, separators=(",", ":")).encode()
    return body[:-1] + b',"check":"%08x"}\n' % crc32(body)


def told(journal: bytes) -> list[Line]:
    """The whole lines of a journal, in their order: the independent reader."""
    lines = []
    for line in journal.splitlines():
        body, seal = line[:-SEAL] + b"}", line[-SEAL:]
        if seal[:-10] == b',"check":"' and seal[-10:-2] == b"%08x" % crc32(body):
            lines.append(json.loads(body))
    return lines


@contextmanager
def no_speaker() -> Iterator[None]:
    """No command of this process opens a sound device."""
    with mock.patch.object(miniaudio.PlaybackDevice, "__init__", no_device):
        yield


def typed(home: Path, *arguments: str, allowed: tuple[int, ...] = (0, 1, 2, 3), **more: str) -> Answer:
    """Types a command; a defect, a wild status or a character that steers a terminal is harm done."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", "replace", newline="") for _ in range(2))
    status: object = 0
    environment = {"FLOORCLOCK_HOME": str(home), "FLOORCLOCK_TRACE": "1", "COLUMNS": "120", **more}
    with (
        mock.patch.dict(os.environ, environment),
        mock.patch.object(sys, "argv", ["floorclock", *arguments]),
        mock.patch.object(sys, "stdin", io.StringIO()),
        redirect_stdout(out),
        redirect_stderr(err),
        no_speaker(),
    ):
        try:
            app.main()
        except SystemExit as leaving:
            status = leaving.code or 0
    answer = Answer(int(str(status)), _text(out), _text(err))
    judge(arguments, answer, allowed)
    return answer


def _text(stream: io.TextIOWrapper) -> str:
    stream.seek(0)
    return stream.read()


def judge(arguments: tuple[str, ...], answer: Answer, allowed: tuple[int, ...]) -> None:
    """Raises `Broken` where a command did what none may do."""
    shown = " ".join(arguments)
    if answer.status not in allowed:
        raise Broken(f"`{shown}` ended with {answer.status}, not one of {allowed}: {answer.err[:600]!r}")
    if "Traceback" in answer.err or "defect of floorclock" in answer.err:
        raise Broken(f"`{shown}` is a defect: {answer.err[-600:]!r}")
    if answer.status == 1 and not answer.err.strip() and not answer.out.strip():
        raise Broken(f"`{shown}` ended with 1 and said nothing")
    for letter in {*answer.out, *answer.err} - set("\n\r\t\a"):
        if unicodedata.category(letter) == "Cc" or letter in "\u202a\u202b\u202d\u202e\u2066\u2067\u2068":
            raise Broken(f"`{shown}` printed {letter!r}")
