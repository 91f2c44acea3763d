"""Who needs the coach now, in words: at most three, each with what would help.

Invariant: a call keeps its place while it stands. New ones take free places; by urgency all are ordered only when the
class has been fitted anew, once an interval. Who was made quiet is never called.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from floorclock.clock.state import ClassState
from floorclock.floor.advice_words import call_words, chance_words, given_words
from floorclock.floor.outlooks import Outlooks
from floorclock.floor.part_looks import Look
from floorclock.floor.view import CallView
from floorclock.pace.flags import Flag

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

MOST_CALLS = 3
SEVERITY = {flag: place for place, flag in enumerate(Flag)}
FAR = 1_000_000


@dataclass(frozen=True, slots=True)
class Call:
    """One athlete who needs the coach, or (`chance`) who could do more.

    `short` are the words without the why. `advice` is what would help, None for nothing; `given` is it in a word or two.
    """

    athlete: str
    words: str
    short: str
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
        self.now: tuple[Call, ...] = ()
        self.first: Call | None = None
        """The call whose advice a key would give: that of the chosen athlete, else the first that has one."""

    def make(self, selected: str) -> tuple[CallView, ...]:
        """The calls, in their places; one for the chosen athlete is always among them, where there is anything to say."""
        looks = {one.name: self._outlooks.of(one.name) for one in self._state.present}
        self._place({name: look for name, look in looks.items() if look.standing.flag and name not in self._state.quiet})
        calls = [_call(name, looks[name]) for name in self._order]
        spare = self._spare_one(looks) if len(calls) < MOST_CALLS else ""
        if spare:
            calls.append(_call(spare, looks[spare]))
        look = looks.get(selected)
        if look is not None and selected not in {call.athlete for call in calls} and (look.standing.flag or look.advice):
            calls = [*calls[: MOST_CALLS - 1], _call(selected, look)]
        self.now = tuple(calls)
        able = (call for call in calls if call.advice and selected in ("", call.athlete))
        self.first = next(able, None)
        return tuple(_view(call, first=call is self.first) for call in calls)

    @property
    def most_urgent(self) -> str:
        """Whose flag is called first; empty where nobody needs the coach."""
        return next((call.athlete for call in self.now if not call.chance), "")

    def _place(self, needing: Mapping[str, Look]) -> None:
        if self._fits != self._outlooks.fits:
            self._fits, self._order = self._outlooks.fits, []
        self._order = [name for name in self._order if name in needing]
        others = sorted((name for name in needing if name not in self._order), key=lambda name: _urgency(needing[name]))
        self._order += others[: MOST_CALLS - len(self._order)]

    def _spare_one(self, looks: Mapping[str, Look]) -> str:
        """Somebody with so much rest that more is wanted: one at a time, the same as long as it is so."""
        able = [name for name, look in looks.items() if _could_do_more(look) and name not in self._state.quiet]
        if self._spare not in able:
            self._spare = max(able, key=lambda name: looks[name].advice[0].chance, default="")
        return self._spare


def _could_do_more(look: Look) -> bool:
    return not look.standing.flag and bool(look.advice) and look.advice[0].way == "more"


def _urgency(look: Look) -> tuple[int, int]:
    """The worse flag first; of two of a kind the one whose margin goes sooner."""
    assert look.standing.flag is not None
    ends = look.outlook.runs_out if look.outlook is not None else None
    return SEVERITY[look.standing.flag], ends.slot.interval if ends is not None else FAR


def _call(name: str, look: Look) -> Call:
    advice = look.advice[0] if look.advice else None
    given = given_words(advice) if advice is not None else ""
    if look.standing.flag is None and advice is not None:
        return Call(name, *chance_words(name, advice), advice, given, chance=True)
    return Call(name, *call_words(name, look), advice, given)


def _view(call: Call, *, first: bool) -> CallView:
    hint = f"give {call.given}" if first else ""
    return CallView(call.words, hint, call.short if call.short != call.words else "", "chance" if call.chance else "call")
