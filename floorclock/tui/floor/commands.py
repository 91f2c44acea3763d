"""What the keys do: the one table that the floor obeys and the help page shows, and the commands in it.

Invariant: no command is a letter or a digit, so that every one of those can be somebody's tap key. Commands talk to the conductor
and the dialogs; they never change the class themselves. Where something would be lost, they ask first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from floorclock.clock.events import PartEnded, Skipped, Stretched, TapTakenBack, WentBack
from floorclock.clock.taps import too_quick_ms
from floorclock.plan.session import OpenPart, RestPart
from floorclock.tui.floor.advising import Advising
from floorclock.tui.floor.desk import Desk
from floorclock.tui.floor.moment import Phase
from floorclock.tui.floor.outlooks import last_measured
from floorclock.tui.floor.present_board import names_on_board
from floorclock.tui.floor.view import Shows
from floorclock.tui.floor.words import clock_words

if TYPE_CHECKING:
    from floorclock.tui.floor.key_actions import KeyActions

STRETCH_MS = 10_000
AGAIN_MS = 3_000
"""A key that loses something asks to be pressed again within this time."""


@dataclass(frozen=True, slots=True)
class KeyCommand:
    """A key as Textual names it (`key`) or as it is typed (`character`), what it is called, and what it does.

    One that another line speaks for has no words.
    """

    key: str
    shown: str
    group: str
    does: str
    run: Callable[[Commands, int], None] = lambda do, at_ns: None
    """What the key does; it is given when the key was read, in ns of the monotonic clock."""
    character: str = ""
    also: tuple[str, ...] = ()
    """Other names of the key, by the terminal it comes from."""


COMMANDS = (
    KeyCommand("enter", "Enter", "the class", "start; next part", lambda do, _: do.go_on()),
    KeyCommand("space", "space", "the class", "pause; go on after a short count", lambda do, at_ns: do.pause(at_ns)),
    KeyCommand("f9", "F9", "the class", "end this part (asks)", lambda do, _: do.key_actions.end_part()),
    KeyCommand("f10", "F10", "the class", "end the class, then leave (asks)", lambda do, _: do.key_actions.leave()),
    KeyCommand("right", "→", "time", "skip to the next interval (twice)", lambda do, _: do.skip()),
    KeyCommand("left", "←", "time", "this interval again, without its taps (twice)", lambda do, _: do.go_back()),
    KeyCommand("up", "↑", "time", "add 10 s", lambda do, _: do.stretch(STRETCH_MS)),
    KeyCommand("down", "↓", "time", "take off 10 s", lambda do, _: do.stretch(-STRETCH_MS)),
    KeyCommand("f2", "F2", "pace", "give the first number, or the chosen athlete's", lambda do, at_ns: do.give(at_ns)),
    KeyCommand(
        "shift+f2", "Shift+F2", "pace", "undo what F2 gave last", lambda do, _: do.advising.take_back(), also=("f14", "\x1a")
    ),
    KeyCommand("", "rest 18 | 22", "pace", "`|`: here the target changed"),
    KeyCommand("f7", "F7", "pace", "mute the first call, or the chosen; again: unmute", lambda do, at_ns: do.quieten(at_ns)),
    KeyCommand("", "a to z, 0 to 9", "athletes", "done; so is a click on the row"),
    KeyCommand("backspace", "Backspace", "athletes", "undo the last tap, or the chosen athlete's", lambda do, _: do.take_back()),
    KeyCommand(
        "greater_than_sign",
        ">",
        "athletes",
        "wrong key? > and the right one moves the tap",
        lambda do, at_ns: do.key_actions.move_tap(at_ns),
        ">",
    ),
    KeyCommand("tab", "Tab", "athletes", "select the next athlete; with Shift the one before", lambda do, _: do.choose(1)),
    KeyCommand("shift+tab", "Shift+Tab", "athletes", "", lambda do, _: do.choose(-1)),
    KeyCommand("escape", "Esc", "athletes", "deselect", lambda do, _: do.choose_nobody()),
    KeyCommand(
        "f3", "F3", "athletes", "one athlete: correct, target, option, send home ...", lambda do, _: do.key_actions.athlete()
    ),
    KeyCommand(
        "f11",
        "F11",
        "athletes",
        "the chosen athlete did not finish",
        lambda do, _: do.key_actions.not_finished(),
        also=("shift+f9", "f21"),
    ),
    KeyCommand("f4", "F4", "athletes", "add a latecomer", lambda do, _: do.key_actions.latecomer()),
    KeyCommand("f5", "F5", "athletes", "rest margin of the class", lambda do, _: do.key_actions.margin()),
    KeyCommand("f6", "F6", "athletes", "enter results: times, rounds, numbers", lambda do, _: do.key_actions.results()),
    KeyCommand("pagedown", "Page Down", "the screen", "next page; Page Up: the one before", lambda do, _: do.desk.turn_page(1)),
    KeyCommand("pageup", "Page Up", "the screen", "", lambda do, _: do.desk.turn_page(-1)),
    KeyCommand("f12", "F12", "the screen", "class view or coach view", lambda do, _: do.switch_view()),
    KeyCommand("f8", "F8", "the screen", "mute; again: sound", lambda do, _: do.mute()),
    KeyCommand("plus", "+ -", "the screen", "louder, quieter", lambda do, _: do.change_volume(1), "+"),
    KeyCommand("minus", "-", "the screen", "", lambda do, _: do.change_volume(-1), "-"),
    KeyCommand("question_mark", "?", "the screen", "this page", lambda do, _: do.key_actions.help(help_lines()), "?"),
)

_BY_KEY = {key: command for command in COMMANDS for key in (command.key, *command.also) if key}
_BY_CHARACTER = {command.character: command for command in COMMANDS if command.character}


def command_for(key: str, character: str | None) -> KeyCommand | None:
    """The command of a key event; what it prints decides before what it is called."""
    return _BY_CHARACTER.get(character or "") or _BY_KEY.get(key)


def help_lines() -> list[tuple[str, str, str]]:
    """(group, key, what it does) for the help page."""
    return [(command.group, command.shown, command.does) for command in COMMANDS if command.does]


class Commands:
    """The commands of one floor, as the key table calls them."""

    def __init__(self, desk: Desk) -> None:
        self.desk: Desk = desk
        self._conductor = desk.conductor
        self._asked: tuple[str, int] = ("", 0)
        self._muted = False
        self.advising: Advising = Advising(desk, self._again, lambda found, then: self.key_actions.ask_for_a_yes(found, then))

    @cached_property
    def key_actions(self) -> KeyActions:
        """The commands that ask something; with all their dialogs, so only when one is wanted."""
        from floorclock.tui.floor.key_actions import KeyActions

        return KeyActions(self.desk, self.advising)

    def athlete_of_key(self, character: str) -> str:
        """Whose tap key it is; with caps lock on, whose it would be. Empty for nobody's."""
        keys = {athlete.key: athlete.name for athlete in self._conductor.state.present if athlete.key}
        return keys.get(character) or keys.get(character.swapcase(), "")

    def tap(self, name: str, stamp_ns: int) -> None:
        """That athlete is done. A round of an amrap that comes seconds after the last one is asked about first."""
        soon_ms = too_quick_ms(self._conductor.state, name, self._conductor.class_ms(stamp_ns))
        if soon_ms is None or self._again(f"tap {name}", f"{name}: another round after {soon_ms // 1000} s? press again"):
            self._conductor.tap(name, stamp_ns)

    def go_on(self) -> None:
        """Starts the class or the next part; ends an open part that nothing follows."""
        state, here = self._conductor.state, self.desk.here
        if state.over:
            self.key_actions.leave()
            return
        if state.paused:
            self.desk.say("paused: space goes on", warning=True)
            return
        if isinstance(here.part, RestPart):
            self.desk.send_now(PartEnded(at_ms=0))
            return
        if here.phase not in (Phase.READY, Phase.BETWEEN, Phase.OPEN):
            self.desk.say("still running: F9 ends this part", warning=True)
            return
        least = here.part.min_ms if isinstance(here.part, OpenPart) else None
        if (
            least is not None
            and here.position_ms < least
            and not self._again(
                "go_on", f"{clock_words(least - here.position_ms)} short of the planned minimum: Enter again goes on"
            )
        ):
            return
        if state.next_part is None:
            self.desk.send_now(PartEnded(at_ms=0))
        else:
            self._conductor.begin(state.next_part)

    def pause(self, stamp_ns: int) -> None:
        """Stops the clock, or lets it go on."""
        state = self._conductor.state
        if state.paused:
            self._conductor.resume(state.session.resume_count_in_ms)
        elif state.runs and not state.over:
            self._conductor.pause(stamp_ns)

    def give(self, stamp_ns: int) -> None:
        """Targets from earlier classes, where some are offered; else the first advice, or that of the chosen athlete."""
        self.desk.paint()
        if not self._calls_in_sight():
            return
        if self.desk.offers.standing:
            self.key_actions.offers()
        else:
            self.advising.give(stamp_ns)

    def quieten(self, stamp_ns: int) -> None:
        """No more calls of the first, or of the chosen athlete; or calls again."""
        if self._calls_in_sight():
            self.advising.quieten(stamp_ns)

    def _calls_in_sight(self) -> bool:
        """Nobody can mean a call that is not shown."""
        if self.desk.presenter.shows == "class":
            self.desk.say("calls are in the coach view: F12", warning=True)
        return self.desk.presenter.shows == "coach"

    def switch_view(self) -> None:
        """What the class may see, or all that the coach wants to."""
        shows: Shows = "coach" if self.desk.presenter.shows == "class" else "class"
        self.desk.presenter.shows = self.desk.settings.shows = shows
        self.desk.paint()

    def skip(self) -> None:
        """To the next interval."""
        if self._again("skip", "skip? press → again"):
            self.desk.send_now(Skipped(at_ms=0))

    def go_back(self) -> None:
        """This interval again."""
        if self._again("go_back", "clears its taps: press ← again"):
            self.desk.send_now(WentBack(at_ms=0))

    def take_back(self) -> None:
        """The last tap, or the chosen athlete's."""
        self.desk.send_now(TapTakenBack(at_ms=0, athlete=self.desk.selected))

    def choose_nobody(self) -> None:
        """No athlete is chosen."""
        self.desk.selected = ""

    def choose(self, step: int) -> None:
        state = self._conductor.state
        names = names_on_board(state, last_measured(state))
        if names:
            at = names.index(self.desk.selected) if self.desk.selected in names else -1 if step > 0 else 0
            self.desk.selected = names[(at + step) % len(names)]

    def mute(self) -> None:
        """Sound off and on."""
        self._muted = not self._muted
        self.desk.settings.mute(self._muted)
        self.desk.say("muted; F8 again for sound" if self._muted else "sound on", warning=self._muted)

    def change_volume(self, steps: int) -> None:
        volume = self.desk.settings.change_volume(steps)
        self.desk.say(f"volume {volume} %" + (", but muted: F8" if self._muted else ""), warning=self._muted)

    def stretch(self, delta_ms: int) -> None:
        self.desk.send_now(Stretched(at_ms=0, delta_ms=delta_ms))

    def _again(self, action: str, words: str) -> bool:
        """True the second time within a moment; the first time it says what the second would do."""
        now = self._conductor.clock.monotonic_ns() // 1_000_000
        asked, at = self._asked
        if asked == action and now - at <= AGAIN_MS:
            self._asked = ("", 0)
            return True
        self._asked = (action, now)
        self.desk.say(words, warning=True, for_ticks=AGAIN_MS // 100)
        return False
