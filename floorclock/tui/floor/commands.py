"""What the coach's commands do: each sends events, after a question where something would be lost.

Invariant: commands talk to the conductor and the dialogs; they never change the class themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import TYPE_CHECKING

from floorclock.clock.events import Event, PartEnded, Skipped, Stretched, TapTakenBack, WentBack
from floorclock.live.conductor import Conductor
from floorclock.plan.session import OpenPart
from floorclock.tui.floor.advising import Advising
from floorclock.tui.floor.moment import Moment, Phase, moment
from floorclock.tui.floor.words import clock_words

if TYPE_CHECKING:
    from floorclock.tui.floor.floor_screen import FloorScreen
    from floorclock.tui.floor.key_actions import KeyActions

STRETCH_MS = 10_000
AGAIN_MS = 3_000
"""A key that loses something asks to be pressed again within this time."""


class Commands:
    """The commands of one floor. Each method named in the key table is one of them."""

    def __init__(self, screen: FloorScreen, conductor: Conductor) -> None:
        self._screen = screen
        self._conductor = conductor
        self._asked: tuple[str, int] = ("", 0)
        self._quiet = False
        self.advising = Advising(screen, conductor, self._again)

    @cached_property
    def key_actions(self) -> KeyActions:
        """The commands that ask something; with all their dialogs, so only when one is wanted."""
        from floorclock.tui.floor.key_actions import KeyActions

        return KeyActions(self._screen, self._conductor)

    @property
    def _here(self) -> Moment:
        return moment(self._conductor.state, self._conductor.state.now_ms)

    def athlete_of_key(self, character: str) -> str:
        """Whose tap key it is; with caps lock on, whose it would be. Empty for nobody's."""
        keys = {athlete.key: athlete.name for athlete in self._conductor.state.present if athlete.key}
        return keys.get(character) or keys.get(character.swapcase(), "")

    def run(self, action: str, stamp_ns: int) -> None:
        """Runs a command of the key table."""
        commands: Mapping[str, Callable[[], None]] = {
            "pause": lambda: self.pause(stamp_ns),
            "give": lambda: self.advising.give(stamp_ns),
            "give_back": self.advising.take_back,
            "quieten": lambda: self.advising.quieten(stamp_ns),
            "go_on": self.go_on,
            "end_part": lambda: self.key_actions.end_part(),
            "leave": lambda: self.key_actions.leave(),
            "skip": self.skip,
            "go_back": self.go_back,
            "longer": lambda: self._stretch(STRETCH_MS),
            "shorter": lambda: self._stretch(-STRETCH_MS),
            "take_back": self.take_back,
            "choose_next": lambda: self._choose(1),
            "choose_previous": lambda: self._choose(-1),
            "choose_nobody": self.choose_nobody,
            "athlete": lambda: self.key_actions.athlete(),
            "latecomer": lambda: self.key_actions.latecomer(),
            "margin": lambda: self.key_actions.margin(),
            "results": lambda: self.key_actions.results(),
            "next_page": lambda: self._screen.stage.turn_page(1),
            "previous_page": lambda: self._screen.stage.turn_page(-1),
            "mute": self.mute,
            "help": lambda: self.key_actions.help(),
        }
        commands[action]()

    def go_on(self) -> None:
        """Starts the class or the next part; ends an open part that nothing follows."""
        state, here = self._conductor.state, self._here
        if state.over:
            self.key_actions.leave()
            return
        if state.paused:
            self._screen.say("paused: space goes on", warning=True)
            return
        if here.phase not in (Phase.READY, Phase.BETWEEN, Phase.OPEN):
            self._screen.say("this part is running; F9 ends it", warning=True)
            return
        least = here.part.min_ms if isinstance(here.part, OpenPart) else None
        if (
            least is not None
            and here.position_ms < least
            and not self._again("go_on", f"{clock_words(least - here.position_ms)} to its planned minimum; Enter again goes on")
        ):
            return
        if state.next_part is None:
            self._send(PartEnded(at_ms=self._conductor.stamp()))
        else:
            self._conductor.begin(state.next_part)

    def pause(self, stamp_ns: int) -> None:
        """Stops the clock, or lets it go on."""
        state = self._conductor.state
        if state.paused:
            self._conductor.resume(state.session.resume_count_in_ms)
        elif state.runs and not state.over:
            self._conductor.pause(stamp_ns)

    def skip(self) -> None:
        """To the next interval."""
        if self._again("skip", "skip to the next interval? press → again"):
            self._send(Skipped(at_ms=self._conductor.stamp()))

    def go_back(self) -> None:
        """This interval again."""
        if self._again("go_back", "begin this interval again, its taps void? press ← again"):
            self._send(WentBack(at_ms=self._conductor.stamp()))

    def take_back(self) -> None:
        """The last tap, or the chosen athlete's."""
        self._send(TapTakenBack(at_ms=self._conductor.stamp(), athlete=self._screen.selected))

    def choose_nobody(self) -> None:
        """No athlete is chosen."""
        self._screen.selected = ""

    def _choose(self, step: int) -> None:
        names = [athlete.name for athlete in self._conductor.state.present]
        if names:
            at = names.index(self._screen.selected) if self._screen.selected in names else -1 if step > 0 else 0
            self._screen.selected = names[(at + step) % len(names)]

    def mute(self) -> None:
        """Sound off and on."""
        self._quiet = not self._quiet
        self._screen.settings.mute(self._quiet)
        self._screen.say("sound is off; F8 turns it on" if self._quiet else "sound is on", warning=self._quiet)

    def _stretch(self, delta_ms: int) -> None:
        self._send(Stretched(at_ms=self._conductor.stamp(), delta_ms=delta_ms))

    def _again(self, action: str, words: str) -> bool:
        """True the second time within a moment; the first time it says what the second would do."""
        now = self._conductor.clock.monotonic_ns() // 1_000_000
        asked, at = self._asked
        if asked == action and now - at <= AGAIN_MS:
            self._asked = ("", 0)
            return True
        self._asked = (action, now)
        self._screen.say(words, warning=True, for_ticks=AGAIN_MS // 100)
        return False

    def _send(self, event: Event) -> None:
        self._conductor.send(event)
