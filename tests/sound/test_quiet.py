"""What C libraries print stays off the screen, and the screen can still be drawn."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

APP = """
import ctypes, os, sys
from pathlib import Path
from floorclock.sound.quiet import quiet_stderr
from textual.app import App
from textual.widgets import Label

class Floor(App):
    def compose(self):
        yield Label("the screen is drawn")
    def on_mount(self):
        os.write(2, b"ALSA lib is unhappy")
        sys.stderr.write("so is Python")
        self.set_timer(0.3, self.exit)

with quiet_stderr(Path(sys.argv[1])):
    Floor().run()
os.write(2, b"after the class")
"""


def test_noise_goes_to_the_log_and_the_screen_to_the_terminal(tmp_path: Path) -> None:
    main_fd, terminal_fd = pty.openpty()
    log = tmp_path / "sound.log"
    process = subprocess.Popen(
        [sys.executable, "-c", APP, str(log)],
        stdin=terminal_fd,
        stdout=terminal_fd,
        stderr=terminal_fd,
        env={**os.environ, "TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"},
    )
    os.close(terminal_fd)
    seen = b""
    try:
        while piece := os.read(main_fd, 65_536):
            seen += piece
    except OSError:
        # Linux says it so when the other end of a terminal is closed.
        pass
    finally:
        os.close(main_fd)
    assert process.wait(20) == 0
    assert b"the screen is drawn" in seen
    assert b"unhappy" not in seen
    assert b"so is Python" not in seen
    assert seen.rstrip().endswith(b"after the class")
    assert b"ALSA lib is unhappy" in log.read_bytes()


PLAIN = """
import os, sys
from pathlib import Path
from floorclock.sound.quiet import quiet_stderr
before = sys.__stderr__
try:
    with quiet_stderr(Path(sys.argv[1])) as screen:
        assert sys.__stderr__ is screen
        screen.write("drawn ")
        screen.flush()
        os.write(2, b"noise")
        raise KeyError
except KeyError:
    pass
assert sys.__stderr__ is before
os.write(2, b"restored")
"""


def test_everything_is_put_back_even_after_an_error(tmp_path: Path) -> None:
    log = tmp_path / "sound.log"
    log.write_text("before ")
    run = subprocess.run([sys.executable, "-c", PLAIN, str(log)], capture_output=True, text=True, check=True)
    assert run.stderr == "drawn restored"
    assert log.read_text() == "before noise"
