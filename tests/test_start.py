"""The way into floorclock: on a terminal `run` goes a short way, and ends as the ordinary way does."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.plan.shipped import SESSIONS

HARBOUR = str(SESSIONS / "harbour.yaml")
ROSTER = str(SESSIONS / "full-house.csv")


class OnTerminal:
    """`floorclock` by one of its ways in, on a terminal of its own."""

    def __init__(self, way: str, home: Path, *arguments: str) -> None:
        code = f"import sys; sys.argv[0] = 'floorclock'; from floorclock.{way} import main; main()"
        self._terminal, theirs = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-c", code, *arguments],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            env={**os.environ, "FLOORCLOCK_HOME": str(home), "TERM": "xterm-256color", "COLUMNS": "120", "LINES": "40"},
        )
        os.close(theirs)

    def read_until(self, words: str) -> str:
        """Everything up to and with these words; all there is if they never come."""
        seen = b""
        while words.encode() not in seen:
            try:
                data = os.read(self._terminal, 1 << 16)
            except OSError:
                break
            seen += data
        return seen.decode("utf-8", "replace")

    def end(self) -> tuple[str, int]:
        """What is said until it ends, and its exit status."""
        said = self.read_until("\0 never said")
        os.close(self._terminal)
        return said, self.process.wait(timeout=20)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("run", HARBOUR, "--sped", "2"), "--sped"),
        (("run",), "SESSION"),
        (("run", HARBOUR, "--margin", "soon"), "--margin"),
        (("run", HARBOUR, "--cues", "count=loud"), "--cues"),
        (("run", "nowhere.yaml", "-r", "nobody.csv"), "nobody.csv"),
        (("run", ROSTER), "full-house.csv:1"),
        (("run", "--help"), "Run the class on the wall"),
        (("--version",), "floorclock"),
    ],
)
def test_what_leads_to_no_floor_is_told_as_on_the_ordinary_way(tmp_path: Path, arguments: tuple[str, ...], told: str) -> None:
    short = OnTerminal("start", tmp_path, *arguments).end()
    assert short == OnTerminal("cli", tmp_path, *arguments).end()
    assert told in short[0]


def test_the_short_way_leads_to_the_floor_and_says_goodbye(tmp_path: Path) -> None:
    floor = OnTerminal("start", tmp_path, "run", HARBOUR, "-r", ROSTER, "--speed", "2", "--sound", "none")
    drawn = floor.read_until("rehearsal x2")
    assert "Five trips round the harbour" in drawn
    floor.process.send_signal(signal.SIGTERM)
    said, status = floor.end()
    assert "the class had not begun; there is nothing to keep" in said
    assert status == 0


def test_trouble_on_the_short_way_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "classes").write_text("in the way", encoding="utf-8")
    said, status = OnTerminal("start", tmp_path, "run", HARBOUR, "-r", ROSTER).end()
    assert status == 3
    assert said.startswith("floorclock: the data folder")
    assert "Traceback" not in said


def test_the_floor_is_reached_without_the_readers_of_plans_and_command_lines(tmp_path: Path) -> None:
    code = "import sys; from floorclock.start import main; from floorclock.wall import import_floor; import_floor(); "
    code += "print(*({'typer', 'pydantic', 'yaml'} & sys.modules.keys()))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert ran.stdout.strip() == ""
