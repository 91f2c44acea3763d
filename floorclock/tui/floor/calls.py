"""Who needs the coach now, in words: at most three, each with what would help.

Invariant: a call keeps its place while it stands. New ones take free places; by urgency all are ordered only when the
class has been fitted anew, once an interval, or when the coach has given one of them a number: who was given one stands below
those who were not until the next fit. Who was made quiet is never called.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.cells import cell_len

from floorclock.clock.state import ClassState
from floorclock.pace.flags import URGENCY, Flag
from floorclock.tui.floor.advice import call_words, chance_words, given_words
from floorclock.tui.floor.outlooks import Look, Outlooks
from floorclock.tui.floor.view import CallLine

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

MOST_CALLS = 3
FAR = 1_000_000
LONGEST_NAME = 12
"""A longer name is not said beside the key, where the words have the room."""


@dataclass(frozen=True, slots=True)
class CoachCall:
    """One athlete who needs the coach, or (`chance`) who could do more.

    `forms` are the words, each wording shorter than the one before, `keyed` the same beside the key. `advice` is what would
    help, None for nothing; `given` is it in a word or two.
    """

    athlete: str
    forms: tuple[str, ...]
    keyed: tuple[str, ...]
    advice: Advice | None = None
    given: str = ""
    chance: bool = False


class Calls:
    """The calls of one class. `make` says them as they stand now."""

    def __init__(self, state: ClassState, outlooks: Outlooks) -> None:
        self._state, self._outlooks = state, outlooks
        self._order: list[str] = []
        self._spare = ""
        self._fits = -1
        self._given: dict[str, Look] = {}
        """Who was given a number since the last fit, with what was said of them before it."""
        self._ordered_with: set[str] = set()
        self.now: tuple[CoachCall, ...] = ()
        self.first: CoachCall | None = None
        """The call whose advice a key would give: that of the chosen athlete, else the first that has one."""

    def was_given(self, name: str) -> None:
        """An athlete has another number: the next in need comes first as soon as they have been looked at again."""
        self._given[name] = self._outlooks.of(name)

    def make(self, selected: str) -> tuple[CallLine, ...]:
        """The calls, in their places; one for the chosen athlete is always among them, where there is anything to say."""
        looks = {one.name: self._outlooks.of(one.name) for one in self._state.present}
        self._place({name: look for name, look in looks.items() if look.standing.flag and name not in self._state.quiet})
        calls = [self._call(name, looks[name]) for name in self._order]
        spare = self._spare_one(looks) if len(calls) < MOST_CALLS and self._outlooks.advising else ""
        if spare:
            calls.append(self._call(spare, looks[spare]))
        look = looks.get(selected)
        if (
            look is not None
            and selected not in {call.athlete for call in calls}
            and (look.standing.flag or (look.advice and self._outlooks.advising))
        ):
            calls = [*calls[: MOST_CALLS - 1], self._call(selected, look)]
        self.now = tuple(calls)
        able = (call for call in calls if call.advice and selected in ("", call.athlete))
        self.first = next(able, None)
        return tuple(_view(call, place, keyed=call is self.first) for place, call in enumerate(calls))

    @property
    def most_urgent(self) -> str:
        """Whose flag is called first; empty where nobody needs the coach."""
        return next((call.athlete for call in self.now if not call.chance), "")

    def _place(self, needing: Mapping[str, Look]) -> None:
        if self._fits != self._outlooks.fits:
            self._fits, self._order = self._outlooks.fits, []
            self._given.clear()
        given = {name for name, before in self._given.items() if self._outlooks.of(name) is not before}
        if given - self._ordered_with:
            self._order = []
        self._ordered_with = given
        self._order = [name for name in self._order if name in needing]
        others = sorted(
            (name for name in needing if name not in self._order), key=lambda name: (name in given, *_urgency(needing[name]))
        )
        self._order += others[: MOST_CALLS - len(self._order)]

    def _call(self, name: str, look: Look) -> CoachCall:
        advice = look.best if self._outlooks.advising else None
        given = given_words(advice) if advice is not None else ""
        if look.standing.flag is None and advice is not None:
            forms, keyed = chance_words(name, advice), chance_words(name, advice, keyed=True)
            return CoachCall(name, forms, keyed, advice, given, chance=True)
        own = self._state.athletes[name].rest_margin_ms is not None
        forms, keyed = (call_words(name, look, advice, keyed=keyed, own_margin=own) for keyed in (False, True))
        return CoachCall(name, forms, keyed, advice, given)

    def _spare_one(self, looks: Mapping[str, Look]) -> str:
        """Somebody with so much rest that more is wanted: one at a time, the same as long as it is so."""
        able = [name for name, look in looks.items() if _could_do_more(look) and name not in self._state.quiet]
        if self._spare not in able:
            self._spare = max(able, key=lambda name: looks[name].advice[0].chance, default="")
        return self._spare


def _could_do_more(look: Look) -> bool:
    return not look.standing.flag and bool(look.advice) and look.advice[0].way == "more"


def _urgency(look: Look) -> tuple[bool, int, int, bool]:
    """By when the margin goes: of two that are tight the one with less rest, of two that run out the one in the earlier round.

    Among equals whom a key can help comes first; whom the coach has dealt with comes last.
    """
    stands = look.standing
    assert stands.flag is not None
    ends = look.outlook.runs_out if look.outlook is not None else None
    soon = 0
    if stands.flag is Flag.TIGHT and stands.latest_rest_ms is not None:
        soon = stands.latest_rest_ms // 1000
    elif stands.flag is Flag.RUNS_OUT:
        soon = ends.slot.round if ends is not None else FAR
    return stands.dealt_with, URGENCY[stands.flag], soon, not look.advice


def _view(call: CoachCall, place: int, *, keyed: bool) -> CallLine:
    if not keyed:
        return CallLine(call.forms[0], "", call.forms[1:], "chance" if call.chance else "call")
    # Under other lines the key says whose it is: it must not be taken for that of the first.
    whose = f"{call.athlete} " if place and cell_len(call.athlete) <= LONGEST_NAME else ""
    return CallLine(call.keyed[0], f"give {whose}{call.given}", call.keyed[1:], "chance" if call.chance else "call")
