"""Commands as a coach types them: in this process for speed, in one of their own where pipes and signals matter."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from floorclock.cli import app as cli

CHECKOUT = Path(__file__).resolve().parents[1]
SESSIONS = CHECKOUT / "sessions"
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


class Shell:
    """Types commands in this process."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self._monkeypatch, self._capsys = monkeypatch, capsys

    def __call__(self, *arguments: str) -> Answer:
        self._monkeypatch.setattr(sys, "argv", ["floorclock", *arguments])
        self._capsys.readouterr()
        status: object = 0
        try:
            cli.main()
        except SystemExit as leaving:
            status = leaving.code
        out, err = self._capsys.readouterr()
        assert status is None or isinstance(status, int)
        return Answer(status or 0, out, err)


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
