"""Beside the coach's own editor: findings, times, groups and what can be read, new with every save.

Invariant: it reads the files and never writes them; while one can't be read, what was there last stays, and the finding says so.
A look costs one question to the system for each file; one that was replaced, cut, or is gone has changed as well.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import ClassVar, Final

from rich.text import Text
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Grid, VerticalScroll
from textual.driver import Driver
from textual.widgets import Static

from floorclock.digest.draft import Draft, draft_of
from floorclock.errors import InputProblems, Problem
from floorclock.live.plan_files import read_files
from floorclock.plan.names import counted
from floorclock.tui.base.keys_line import KeysLine

LOOK_S: Final = 0.02
WALL: Final = (160, 45)
"""The terminal on the wall, where nobody says: common practice, no source."""
STYLES: Final = {"error": "bold #E69F00", "warning": "bold"}
MARKS: Final = {"error": "x", "warning": "!"}
TITLES: Final = {"timeline": "the hour", "groups": "who starts where", "legibility": "from the back"}

Stamp = tuple[int, int, int, int]


def _stamp(path: Path) -> Stamp | None:
    """What changes with every save; None where there is no such file."""
    try:
        there = path.stat()
    except OSError:
        return None
    return there.st_dev, there.st_ino, there.st_size, there.st_mtime_ns


class EditApp(App[None]):
    """Watches a session, and a roster where there is one."""

    CSS = """
    Screen { background: #0A0C0F; color: #F4F3EE; }
    Grid { grid-size: 2 3; grid-rows: 1fr 1fr 1fr; grid-gutter: 0 1; }
    VerticalScroll { border-top: solid #A3A9B0; border-title-color: #F4F3EE; border-title-style: bold; padding: 0 1; }
    VerticalScroll:focus { border-top: heavy #F4F3EE; }
    #findings { column-span: 2; }
    #timeline { row-span: 2; }
    KeysLine { height: 1; dock: bottom; }
    """
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,q,ctrl+c", "quit", show=False)]

    def __init__(
        self, session: Path, roster: Path | None, wall: tuple[int, int] = WALL, driver: type[Driver] | None = None
    ) -> None:
        super().__init__(driver_class=driver)
        self._session, self._roster, self._wall = session, roster, wall
        self._stamps: list[Stamp | None] = []
        self._timer: asyncio.TimerHandle | None = None
        self.looks = 0
        """How often what is shown was worked out."""
        self._shown = {name: Static("", markup=False) for name in ("findings", "timeline", "groups", "legibility")}
        self._keys = KeysLine()

    def compose(self) -> ComposeResult:
        with Grid():
            for name, shown in self._shown.items():
                with VerticalScroll(id=name):
                    yield shown
        yield self._keys

    def on_mount(self) -> None:
        for name in self._shown:
            self.query_one(f"#{name}").border_title = TITLES.get(name, name)
        self._keys.show((("Tab", "next pane"), ("↑↓", "scroll"), ("Esc", "leave")))
        self._look()

    def on_unmount(self) -> None:
        if self._timer is not None:
            self._timer.cancel()

    def _look(self) -> None:
        self._timer = asyncio.get_running_loop().call_later(LOOK_S, self._look)
        stamps = [_stamp(path) for path in (self._session, self._roster) if path is not None]
        if stamps == self._stamps:
            return
        self._stamps = stamps
        self.looks += 1
        try:
            session, roster = read_files(self._session, self._roster)
            draft = draft_of(session, self._session.name, roster, self._roster.name if self._roster else None, self._wall)
        except InputProblems as error:
            draft = Draft(title="", findings=error.problems)
        self._show(draft)

    def _show(self, draft: Draft) -> None:
        errors = sum(problem.severity == "error" for problem in draft.findings)
        said = [counted(errors, "problem")] if errors else []
        said += [f"{len(draft.findings) - errors} to think about"] if len(draft.findings) > errors else []
        pane = self.query_one("#findings")
        pane.border_title = Text(f"{draft.title or self._session.name}: {', '.join(said) or 'nothing to mend'}")
        self._shown["findings"].update(Text("\n").join(map(_finding, draft.findings)))
        if not draft.title:
            return  # The last plan that could be read stays.
        for name in ("timeline", "groups", "legibility"):
            self._shown[name].update(Text("\n".join(getattr(draft, name)) or "a roster tells who starts where (--roster)"))


def _finding(problem: Problem) -> Text:
    """`! 12: the ladder has nothing left after round 5; begin higher`: the line first, which is what an editor is told."""
    line = Text(f"{MARKS.get(problem.severity, '·')} ", style=STYLES.get(problem.severity, ""))
    line.append(f"{problem.line or '-'}: ", style="bold")
    line.append(problem.message)
    if problem.hint:
        line.append(f" ({problem.hint})", style="dim")
    return line


def edit_on_screen(session: Path, roster: Path | None, wall: tuple[int, int]) -> None:
    """Watches until the coach leaves."""
    from floorclock.tui.base.safe_driver import SafeDriver

    EditApp(session, roster, wall, SafeDriver).run()
