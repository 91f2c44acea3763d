"""What the floor costs: CPU of a working interval against a bare Textual app with one label at 10 Hz, in a terminal of 160x45.

The floor is shown a new view ten times a second: whole seconds on the clock, as in most of an interval, and again with tenths,
as in its last seconds. `python -m tests.bench.floor_cost [--seconds 10] [--size 160x45] [--people 24]` exits 1 above `LIMIT`.
"""

from __future__ import annotations

import argparse
import asyncio
import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import tempfile
import termios
import time
from dataclasses import replace
from pathlib import Path

from textual.app import App, ComposeResult
from textual.widgets import Label

LIMIT = 1.0
HZ = 10
WARM_UP_S = 1.5


class Measured(App[None]):
    """Calls `step` ten times a second and writes down the CPU that it took after the warm-up."""

    def __init__(self, seconds: float, out: Path) -> None:
        super().__init__()
        self._seconds = seconds
        self._out = out
        self._ticks = 0
        self._cpu_s = 0.0

    def step(self, tick: int) -> None:
        raise NotImplementedError

    def on_ready(self) -> None:
        self._began_s = asyncio.get_running_loop().time()
        self._tick()

    def _tick(self) -> None:
        if self._ticks == round(WARM_UP_S * HZ):
            self._cpu_s = time.process_time()
        if self._ticks >= (WARM_UP_S + self._seconds) * HZ:
            self._out.write_text(str((time.process_time() - self._cpu_s) / self._seconds * 100), encoding="utf-8")
            self.exit()
            return
        self.step(self._ticks)
        self._ticks += 1
        asyncio.get_running_loop().call_at(self._began_s + self._ticks / HZ, self._tick)


class BareApp(Measured):
    """One label."""

    def compose(self) -> ComposeResult:
        self._label = Label("")
        yield self._label

    def step(self, tick: int) -> None:
        self._label.update(f"{tick / HZ:.1f}")


def floor_app(seconds: float, out: Path, people: int, *, tenths: bool) -> Measured:
    """The floor with its clock, a moving bar, and a tap every two seconds."""
    from floorclock.tui.floor import stage as stage_module
    from floorclock.tui.floor.stage import Stage
    from tests.tui.floor.sample_views import floor_view

    class FloorApp(Measured):
        CSS_PATH = Path(stage_module.__file__).with_name("floor.tcss")

        def compose(self) -> ComposeResult:
            self._stage = Stage()
            self._view = floor_view(people)
            yield self._stage

        def step(self, tick: int) -> None:
            left = 600 - tick % 600
            view = self._view
            rows = list(view.rows)
            if tick % (2 * HZ) == 0:
                at = tick // (2 * HZ) % len(rows)
                rows[at] = replace(rows[at], status="done", split=f"{tick / HZ:.1f}", left="20 left")
            text = f"0:{left // 10:02d}.{left % 10}" if tenths else f"0:{left // 10:02d}"
            clock = replace(view.clock, text=text)
            self._view = replace(view, clock=clock, bar=replace(view.bar, done=1 - left / 600), rows=tuple(rows))
            self._stage.show(self._view)

    return FloorApp(seconds, out)


def cpu_percent(kind: str, seconds: float, width: int, height: int, people: int) -> float:
    """Plays an app in a pseudo-terminal and answers its CPU in percent of one core."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "cpu"
        command = [
            sys.executable,
            "-m",
            __spec__.name,
            "--play",
            kind,
            "--seconds",
            str(seconds),
            "--people",
            str(people),
            "--out",
            str(out),
        ]
        environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor", "TEXTUAL_FPS": "240"}
        app = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True, env=environment)
        os.close(theirs)
        while app.poll() is None:
            if select.select([ours], [], [], 0.1)[0]:
                try:
                    os.read(ours, 1 << 16)
                except OSError:
                    break
        app.wait(timeout=20)
        os.close(ours)
        return float(out.read_text(encoding="utf-8"))


def main() -> None:
    """Measures both, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--size", default="160x45")
    parser.add_argument("--people", type=int, default=24)
    parser.add_argument("--play", choices=("bare", "floor", "tenths"))
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    if options.play == "bare":
        BareApp(options.seconds, options.out).run()
        return
    if options.play is not None:
        floor_app(options.seconds, options.out, options.people, tenths=options.play == "tenths").run()
        return
    width, height = (int(part) for part in options.size.split("x"))
    kinds = ("bare", "floor", "tenths")
    bare, floor, tenths = (cpu_percent(kind, options.seconds, width, height, options.people) for kind in kinds)
    print(f"bare {bare:.2f} %   floor {floor:.2f} %, {floor / bare:.2f} x   with tenths {tenths:.2f} %, {tenths / bare:.2f} x")
    sys.exit(floor > bare * LIMIT)


if __name__ == "__main__":
    main()
