"""A stage and nothing else, for the tests of the whole floor and for the pictures."""

from __future__ import annotations

from pathlib import Path

from textual.app import App, ComposeResult

from floorclock.tui.floor import floor_panel as stage_module
from floorclock.tui.floor.board import Board
from floorclock.tui.floor.floor_panel import FloorPanel
from floorclock.tui.floor.view import FloorView


class StageApp(App[None]):
    """Shows one view."""

    CSS_PATH = Path(stage_module.__file__).with_name("floor.tcss")
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, view: FloorView) -> None:
        super().__init__()
        self.first_view = view
        self.stage = FloorPanel()
        self.pressed: list[Board.RowPressed] = []
        self.last_event_time: float | None = None

    def compose(self) -> ComposeResult:
        yield self.stage

    def on_mount(self) -> None:
        self.stage.show(self.first_view)

    def on_board_row_pressed(self, message: Board.RowPressed) -> None:
        self.pressed.append(message)
