"""Commands as a coach types them: in this process for speed, in one of their own where pipes and signals matter."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from floorclock.cli import app as cli
from tests.plan.shipped import CHECKOUT, SESSIONS

HARBOUR, HARBOUR_ROSTER = str(SESSIONS / "harbour.yaml"), str(SESSIONS / "harbour-roster.yaml")


@dataclass(frozen=True)
class Answer:
    """What a command came to."""

    status: int
    out: str
    err: str

    @property
    def err_lines(self) -> list[str]:
        """The lines on standard error."""
        return self.err.splitlines()


def typed_here(*arguments: str) -> Answer:
    """Types a command in this process."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", "replace", newline="") for _ in range(2))
    status: object = 0
    with mock.patch.object(sys, "argv", ["floorclock", *arguments]), redirect_stdout(out), redirect_stderr(err):
        try:
            cli.main()
        except SystemExit as leaving:
            status = leaving.code or 0
    assert isinstance(status, int)
    for stream in (out, err):
        stream.seek(0)
    return Answer(status, out.read(), err.read())


Shell = Callable[..., Answer]
"""`typed_here`, as the fixture `shell` gives it."""


def command(*arguments: str) -> list[str]:
    """A command for a process of its own."""
    return [sys.executable, "-m", "tests.floorclock_command", *arguments]


def environment(home: Path, **more: str) -> Mapping[str, str]:
    """What such a process is given: a data folder of its own, no device to open, and its terminal's own size."""
    inherited = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES")}
    return {**inherited, "FLOORCLOCK_HOME": str(home), "PYTHONPATH": str(CHECKOUT), **more}


def typed(
    *arguments: str, home: Path, cwd: Path | None = None, script: str = "", **more: str
) -> subprocess.CompletedProcess[bytes]:
    """Runs a command in a process of its own without any input; with `script`, in a shell where `$@` is the command."""
    words = command(*arguments)
    if script:
        words = ["bash", "-c", script, "bash", *words]
    return subprocess.run(
        words, stdin=subprocess.DEVNULL, capture_output=True, cwd=cwd, env=environment(home, **more), timeout=60, check=False
    )
