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
from floorclock.pace.flags import URGENCY, Flag, Standing
from floorclock.tui.floor.advice import full_target
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
    """One athlete who needs the coach, or (`is_chance`) who could do more. `advice` is what would help, None for nothing."""

    athlete: str
    look: Look
    advice: Advice | None

    @property
    def is_chance(self) -> bool:
        """Whether there is only advice, and no flag."""
        return self.look.standing.flag is None

    @property
    def given(self) -> str:
        """What the key would give, as short as can be: `8`, `200 m`, `lighter`; empty for nothing."""
        if self.advice is None:
            return ""
        if self.advice.way == "option":
            return self.advice.option or "as written"
        return self.advice.target.words(self.advice.round) if self.advice.target is not None else ""


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
        looks = {athlete.name: self._outlooks.of(athlete.name) for athlete in self._state.present}
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
        self.first = next((call for call in calls if call.advice and selected in ("", call.athlete)), None)
        return tuple(self._line(call, place) for place, call in enumerate(calls))

    @property
    def most_urgent(self) -> str:
        """Whose flag is called first; empty where nobody needs the coach."""
        return next((call.athlete for call in self.now if not call.is_chance), "")

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
        return CoachCall(name, look, look.best if self._outlooks.advising else None)

    def _line(self, call: CoachCall, place: int) -> CallLine:
        keyed, own = call is self.first, self._state.athletes[call.athlete].rest_margin_ms is not None
        if call.is_chance and call.advice is not None:
            forms = chance_words(call.athlete, call.advice, keyed=keyed)
        else:
            forms = call_words(call.athlete, call.look, call.advice, keyed=keyed, own_margin=own)
        # Under other lines the key says whose it is: it must not be taken for that of the first.
        whose = f"{call.athlete} " if place and cell_len(call.athlete) <= LONGEST_NAME else ""
        hint = f"give {whose}{call.given}" if keyed else ""
        return CallLine(forms[0], hint, forms[1:], "chance" if call.is_chance else "call")

    def _spare_one(self, looks: Mapping[str, Look]) -> str:
        """Somebody with so much rest that more is wanted: one at a time, the same as long as it is so."""
        able = [
            name
            for name, look in looks.items()
            if not look.standing.flag and look.advice and look.advice[0].way == "more" and name not in self._state.quiet
        ]
        if self._spare not in able:
            self._spare = max(able, key=lambda name: looks[name].advice[0].chance, default="")
        return self._spare


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


def call_words(name: str, look: Look, advice: Advice | None, *, keyed: bool = False, own_margin: bool = False) -> tuple[str, ...]:
    """Who needs the coach, why, and what would help, in several wordings, each shorter than the one before.

    A line speaks of one move: where what would help is at another station than the flag, of that one alone.

    Args:
        name: whose.
        look: with a flag that stands.
        advice: what the line gives, if anything.
        keyed: beside the key that gives the number: where there is no room for both, the number stands there only.
        own_margin: the margin is not that of the class; it is among the last things left out.
    """
    if advice is not None and advice.station != look.standing.station:
        return _elsewhere_words(name, advice, keyed=keyed)
    head, rests, tail = _head(name, look), look.standing.rests, _tail(look.standing)
    short = f". {_opened(advice.words)}" if advice is not None else ""
    whole = _joined(head, rests, tail)
    forms = [f"{whole}{short}", f"{whole}{'' if keyed else short}"]
    latest, margin = look.standing.latest_rest_ms, look.standing.margin_ms
    if own_margin and margin is not None and latest is not None:
        forms += [_joined(head, f"rest {latest // 1000} s", _margin(margin)) + ("" if keyed else short)]
        forms += [f"{some}, {_margin(margin)}{'' if keyed else short}" for some in (head, _head(name, look, "round"))]
    else:
        forms += [_joined(head, why, "") + ("" if keyed else short) for why in (rests, rests.removeprefix("rest "))]
    forms += [f"{head}{'' if keyed else short}", head]
    return tuple(dict.fromkeys(forms))


def _elsewhere_words(name: str, advice: Advice, *, keyed: bool) -> tuple[str, ...]:
    head = f"{name} at {advice.move}"
    because = f": {advice.because.replace(';', ',')}" if advice.because else ""
    short = "" if keyed else f". {_opened(advice.words)}"
    return tuple(dict.fromkeys((f"{head}{because}. {_opened(advice.words)}", f"{head}{because}{short}", f"{head}{short}", head)))


def _head(name: str, look: Look, when: str = "in round") -> str:
    """`Sefa runs out in round 5 at step-up`."""
    stands = look.standing
    goes = look.outlook.runs_out if look.outlook is not None and stands.flag == "runs out" else None
    number = goes.slot.round if goes is not None else stands.round
    return f"{name} {stands.flag}" + (f" {when} {number}" if number else "") + (f" at {stands.move}" if stands.move else "")


def _tail(stands: Standing) -> str:
    """What the rests are to be held against."""
    if stands.slope_ms is not None:
        return f"{stands.slope_ms / 1000:.1f} s slower each round"
    return "" if stands.margin_ms is None or stands.flag == "not finished" else _margin(stands.margin_ms)


def _margin(margin_ms: int) -> str:
    return f"margin {margin_ms / 1000:g}"


def _joined(head: str, rests: str, tail: str) -> str:
    why = ", ".join(word for word in (rests, tail) if word)
    return f"{head}: {why}" if why else head


def chance_words(name: str, advice: Advice, *, keyed: bool = False) -> tuple[str, ...]:
    """Who could do more, and how much: a chance, not an alarm; each wording shorter than the one before, as `call_words`."""
    what = f"{name} has rest to spare at {advice.move}"
    because = advice.because.replace(";", ",")
    forms = [f"{what}: {because}. {_opened(advice.words)}"] if because else []
    forms += [f"{what}: {because}"] if because and keyed else []
    number = full_target(advice.target, advice.round)
    forms += [what] if keyed else [f"{what}. {_opened(advice.words)}", *([f"{what}: {number}"] if number else []), what]
    return tuple(forms)


def _opened(words: str) -> str:
    """Words that begin a sentence."""
    return words[:1].upper() + words[1:]
