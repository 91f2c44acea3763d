"""What the keys do. The one table that the floor obeys and the help page shows.

Invariant: no command is a letter or a digit, so that every one of those can be somebody's tap key.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Command:
    """A key as Textual names it (`key`) or as it is typed (`character`), what it is called, and what it does."""

    key: str
    shown: str
    group: str
    does: str
    action: str
    character: str = ""
    also: tuple[str, ...] = ()
    """Other names of the key, by the terminal it comes from."""


COMMANDS = (
    Command("enter", "Enter", "the class", "start the class, or go on to the next part", "go_on"),
    Command("space", "space", "the class", "pause, and go on after a short count", "pause"),
    Command("f9", "F9", "the class", "end this part (asks first)", "end_part"),
    Command("f10", "F10", "the class", "end the class; leave once it is over (asks first)", "leave"),
    Command("right", "→", "time", "skip to the next interval (twice)", "skip"),
    Command("left", "←", "time", "begin this interval again, its taps void (twice)", "go_back"),
    Command("up", "↑", "time", "10 s more in this interval", "longer"),
    Command("down", "↓", "time", "10 s less in this interval", "shorter"),
    Command("f2", "F2", "pace", "give the first advice, or the chosen athlete's", "give"),
    Command("shift+f2", "Shift+F2", "pace", "take back what F2 gave last", "give_back", also=("f14", "\x1a")),
    Command("", "rest 18 | 22", "pace", "in a row of rests `|` stands where the target changed", ""),
    Command("f7", "F7", "pace", "no more calls of the first, or the chosen; again: do", "quieten"),
    Command("", "a to z, 0 to 9", "athletes", "that athlete is done; a click on the row does the same", ""),
    Command("backspace", "Backspace", "athletes", "take back the last tap, or the chosen athlete's", "take_back"),
    Command("tab", "Tab", "athletes", "choose the next athlete on the board", "choose_next"),
    Command("shift+tab", "Shift+Tab", "athletes", "choose the one before", "choose_previous"),
    Command("escape", "Esc", "athletes", "choose nobody", "choose_nobody"),
    Command("f3", "F3", "athletes", "one athlete: correct, not finished, target, option ...", "athlete"),
    Command("f4", "F4", "athletes", "add a latecomer", "latecomer"),
    Command("f5", "F5", "athletes", "change the rest margin of the class", "margin"),
    Command("f6", "F6", "athletes", "enter results: times, rounds, reps", "results"),
    Command("pagedown", "Page Down", "the screen", "turn the board's page", "next_page"),
    Command("pageup", "Page Up", "the screen", "turn it back", "previous_page"),
    Command("f8", "F8", "the screen", "sound off and on", "mute"),
    Command("question_mark", "?", "the screen", "this page", "help", "?"),
)

_BY_KEY = {key: command for command in COMMANDS for key in (command.key, *command.also) if key}
_BY_CHARACTER = {command.character: command for command in COMMANDS if command.character}


def command_for(key: str, character: str | None) -> Command | None:
    """The command of a key event; what it prints decides before what it is called."""
    return _BY_CHARACTER.get(character or "") or _BY_KEY.get(key)


def help_lines() -> list[tuple[str, str, str]]:
    """(group, key, what it does) for the help page."""
    return [(command.group, command.shown, command.does) for command in COMMANDS]
