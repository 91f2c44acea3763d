"""The floor as it stands on a screen, read back from a terminal multiplexer: at three sizes, killed, and resumed."""

from __future__ import annotations

import os
import shlex
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from floorclock.clock.events import CarriedOn, OptionChosen, PartBegun, Quietened, Tapped, TargetChanged
from floorclock.journal.reading import read_journal
from tests.commands import command, environment
from tests.end_to_end.terminal import TIMED, until
from tests.opened_classes import plan_at

TMUX = shutil.which("tmux")
pytestmark = pytest.mark.skipif(TMUX is None, reason="tmux is not installed here; test_real_terminal.py does without it")

PEOPLE = "roster: x\nathletes: [{name: Ilka, key: i}, {name: '[b]Bo[/]', key: b, group: 2}, {name: 山田, key: y, group: 3}]\n"


class Window:
    """One window of a multiplexer of our own."""

    def __init__(self, folder: Path, home: Path) -> None:
        self._socket, self.home, self._pid_file = folder / "tmux.sock", home, folder / "pid"

    def tmux(self, *words: str) -> str:
        """A command to the multiplexer."""
        assert TMUX is not None
        done = subprocess.run(
            [TMUX, "-S", str(self._socket), "-f", os.devnull, *words], capture_output=True, timeout=20, check=True
        )
        return done.stdout.decode("utf-8", "replace")

    def open(self, size: tuple[int, int], *arguments: str) -> None:
        """A floor in a new window."""
        given = {key: value for key, value in environment(self.home).items() if key in ("FLOORCLOCK_HOME", "PYTHONPATH", "PATH")}
        words = ["env", *(f"{key}={value}" for key, value in given.items()), "LC_ALL=C.UTF-8", *command(*arguments)]
        script = f"echo $$ > {shlex.quote(str(self._pid_file))}; exec {shlex.join(words)}"
        self._pid_file.unlink(missing_ok=True)
        self.tmux("-u", "new-session", "-d", "-x", str(size[0]), "-y", str(size[1]), script)

    def press(self, *keys: str) -> None:
        """Keys by the multiplexer's names."""
        for key in keys:
            self.tmux("send-keys", key)

    @property
    def screen(self) -> str:
        """What stands on the screen now."""
        return self.tmux("capture-pane", "-p")

    def kill_floor(self) -> None:
        """The floor dies at once, as with a dead battery."""
        os.kill(int(self._pid_file.read_text()), signal.SIGKILL)
        until(lambda: not self.alive, "the window is gone")

    @property
    def alive(self) -> bool:
        """Whether the multiplexer still has the window."""
        assert TMUX is not None
        listed = subprocess.run([TMUX, "-S", str(self._socket), "list-sessions"], capture_output=True, timeout=20, check=False)
        return listed.returncode == 0

    def count(self, kind: type) -> int:
        """How many events of a kind are on the disk."""
        paths = list((self.home / "classes").glob("*.jsonl"))
        return sum(isinstance(event, kind) for event in read_journal(paths[0]).events) if paths else 0


@pytest.fixture
def window(tmp_path: Path, home: Path) -> Iterator[Window]:
    """A window, gone at the end."""
    plan_at(tmp_path, TIMED, PEOPLE)
    one = Window(tmp_path, home)
    yield one
    if one.alive:
        one.tmux("kill-server")


@pytest.mark.parametrize("size", [(80, 24), (160, 45), (240, 67)])
def test_a_class_is_started_tapped_killed_and_resumed_on_a_screen(window: Window, tmp_path: Path, size: tuple[int, int]) -> None:
    window.open(size, "run", str(tmp_path / "plan.yaml"), "--roster", str(tmp_path / "who.yaml"))
    until(lambda: "Ilka" in window.screen and "Enter" in window.screen, "the floor")
    assert "[b]Bo[/]" in window.screen
    assert "山田" in window.screen
    window.press("Enter")
    until(lambda: window.count(PartBegun) == 1 and "1 of 9" in window.screen, "the class")
    window.press("i", "b")
    until(lambda: window.count(Tapped) == 2 and "✓ b" in window.screen, "two taps")
    lines = window.screen.splitlines()
    assert len(lines) <= size[1]
    assert any("✓ i  Ilka" in line for line in lines), window.screen
    window.kill_floor()
    window.open(size, "resume")
    until(lambda: "Carry on from where" in window.screen, "the question")
    assert "The class was away for" in window.screen
    window.press("Enter")
    until(lambda: window.count(CarriedOn) == 1, "the class goes on")
    until(lambda: "Carry on from where" not in window.screen, "the question is gone")
    shown = window.screen
    assert all(any(done in line for line in shown.splitlines()) for done in ("✓ i  Ilka", "✓ b  [b]Bo[/]")), shown
    assert window.count(Tapped) == 2


def test_f2_gives_the_advice_on_the_screen_and_shift_f2_takes_it_back(window: Window) -> None:
    window.open((160, 45), "demo", "--speed", "80")
    until(lambda: "F2 give" in window.screen, "somebody who needs the coach", longest_s=60)

    def changes() -> list[tuple[str, str]]:
        paths = list((window.home / "classes").glob("*.jsonl"))
        events = read_journal(paths[0]).events
        return [(one.athlete, one.move) for one in events if isinstance(one, TargetChanged | OptionChosen)]

    def given() -> bool:
        window.press("F2")
        time.sleep(0.5)  # What has just come to be first wants a second press, and the terminal takes its time.
        return bool(changes())

    until(given, "the advice is given")
    before = changes()
    window.press("S-F2")
    until(lambda: len(changes()) > len(before), "it is taken back")
    assert changes()[len(before)] == before[-1]

    def quiet() -> bool:
        window.press("Tab", "F7")
        time.sleep(0.3)
        return window.count(Quietened) > 0

    until(quiet, "somebody is quiet")
    until(lambda: " muted" in window.screen, "the row says so")
