"""What happens in a class. A class is its list of events; the state is a fold of them.

Invariant: an event says what somebody did and when (`at_ms` on the class clock), never what follows from it.
Events go to and come from plain dictionaries (`to_dict`, `event_from_dict`), which is how the journal keeps them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import Any, ClassVar, Self

from floorclock.plan.roster import Athlete
from floorclock.plan.work import Load, LoadUnit, Target, Unit

_EXACT = re.compile(r"-?[0-9]{1,12}(?:[/.][0-9]{1,12})?")


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing that happened, at a class time in milliseconds."""

    name: ClassVar[str]
    at_ms: int

    def to_dict(self) -> dict[str, Any]:
        """The event as JSON-ready values, its name under `event`."""
        values = {field.name: _plain(getattr(self, field.name)) for field in fields(self)}
        return {"event": self.name, **values}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> Self:
        """The event from its JSON-ready values; keys that this version does not know are left alone."""
        known = {field.name: _live(field.name, values[field.name]) for field in fields(cls) if field.name in values}
        return cls(**known)


@dataclass(frozen=True, kw_only=True)
class PartBegun(Event):
    """The coach started a part; its count-in, if it has one, starts now.

    `groups` are start groups that were in use then besides those of who is on record: somebody was taken out since.
    """

    name = "part begun"
    part: int
    groups: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Tapped(Event):
    """Somebody said that this athlete is done."""

    name = "tap"
    athlete: str


@dataclass(frozen=True, kw_only=True)
class TapTakenBack(Event):
    """The last tap that counted is taken back: anybody's, or that of `athlete`."""

    name = "take back"
    athlete: str = ""


@dataclass(frozen=True, kw_only=True)
class Paused(Event):
    """The class clock stopped.

    `interrupted` is the wall time (RFC 3339) at which the class had stopped by itself, where it was no pause of the
    coach's but a machine that died; empty otherwise.
    """

    name = "pause"
    interrupted: str = ""


@dataclass(frozen=True, kw_only=True)
class Resumed(Event):
    """The class clock goes on; the part's own clock follows after a count of `count_in_ms`.

    The count begins `lead_ms` later, so that its first pip can sound on its instant: sound needs that notice.
    """

    name = "resume"
    count_in_ms: int = 0
    lead_ms: int = 0


@dataclass(frozen=True, kw_only=True)
class Skipped(Event):
    """To the start of the next interval of the part, at once."""

    name = "skip"


@dataclass(frozen=True, kw_only=True)
class WentBack(Event):
    """To the start of this interval again; what was tapped in it is void."""

    name = "go back"


@dataclass(frozen=True, kw_only=True)
class Stretched(Event):
    """`delta_ms` more (or less) in the interval that runs."""

    name = "stretch"
    delta_ms: int


@dataclass(frozen=True, kw_only=True)
class PartEnded(Event):
    """The coach ended the part that runs."""

    name = "part ended"


@dataclass(frozen=True, kw_only=True)
class ClassEnded(Event):
    """The coach ended the class. `length_ms` is how long it was, where somebody said so; None: as its parts ran."""

    name = "class ended"
    length_ms: int | None = None


@dataclass(frozen=True, kw_only=True)
class NotFinished(Event):
    """The coach said that the athlete did not finish the work of an interval (counted from 0 in its part)."""

    name = "not finished"
    athlete: str
    part: int
    interval: int


@dataclass(frozen=True, kw_only=True)
class SplitCorrected(Event):
    """The coach entered a split in place of the one taken; None makes it untapped."""

    name = "split corrected"
    athlete: str
    part: int
    interval: int
    split_ms: int | None


@dataclass(frozen=True, kw_only=True)
class ResultEntered(Event):
    """The coach entered what an athlete reached in a part: whole rounds, reps beyond them, or the time."""

    name = "result"
    athlete: str
    part: int
    rounds: int | None = None
    reps: int | None = None
    time_ms: int | None = None


@dataclass(frozen=True, kw_only=True)
class ScoreEntered(Event):
    """What an athlete (or the team of which they are the first) counted in a part: in one interval of it, or (-1) in all.

    `amount` is in the unit of the part's score, kg for a load; None takes it back.
    """

    name = "score"
    athlete: str
    part: int
    interval: int
    amount: float | None


@dataclass(frozen=True, kw_only=True)
class TargetChanged(Event):
    """From now on the athlete's target for a move is another one."""

    name = "target"
    athlete: str
    move: str
    target: Target


@dataclass(frozen=True, kw_only=True)
class LoadChanged(Event):
    """From now on the athlete's load for a move is another one."""

    name = "load"
    athlete: str
    move: str
    load: Load


@dataclass(frozen=True, kw_only=True)
class OptionChosen(Event):
    """From now on the athlete takes an option of a move, by name; empty is the move as written."""

    name = "option"
    athlete: str
    move: str
    option: str


@dataclass(frozen=True, kw_only=True)
class ChoiceTaken(Event):
    """The athlete does one of the alternatives to a part's whole work, by name; empty is the work as written."""

    name = "choice"
    athlete: str
    part: int
    choice: str


@dataclass(frozen=True, kw_only=True)
class Allowed(Event):
    """The coach said yes: this athlete may do this guarded move."""

    name = "allowed"
    athlete: str
    move: str


@dataclass(frozen=True, kw_only=True)
class Regrouped(Event):
    """The athlete moves with another start group, from the next interval on."""

    name = "group"
    athlete: str
    group: int


@dataclass(frozen=True, kw_only=True)
class Joined(Event):
    """A latecomer."""

    name = "joined"
    athlete: Athlete


@dataclass(frozen=True, kw_only=True)
class Left(Event):
    """Somebody went home."""

    name = "left"
    athlete: str


@dataclass(frozen=True, kw_only=True)
class MarginChanged(Event):
    """Another rest margin, for one athlete, for one part, or for the class. What was tapped before is judged by it too."""

    name = "margin"
    margin_ms: int
    athlete: str = ""
    part: int | None = None


@dataclass(frozen=True, kw_only=True)
class Quietened(Event):
    """The coach knows about this athlete: their flags call nobody any more (or, with `quiet` false, do again)."""

    name = "quiet"
    athlete: str
    quiet: bool = True


@dataclass(frozen=True, kw_only=True)
class EffortRated(Event):
    """How hard the class was for the athlete, by themselves, from 0 to 10 (Borg CR10); None takes the rating back.

    It may be entered long after the class is over.
    """

    name = "effort"
    athlete: str
    effort: float | None


@dataclass(frozen=True, kw_only=True)
class CarriedOn(Event):
    """The class was away for `away_ms` of wall time (a crash, a sleeping machine) and goes on; the clock jumped by `jump_ms`."""

    name = "carried on"
    away_ms: int
    jump_ms: int = 0


EVENTS: dict[str, type[Event]] = {cls.name: cls for cls in Event.__subclasses__()}
"""Every kind of event by its name in the journal."""


def event_from_dict(values: Mapping[str, Any]) -> Event:
    """The event that `to_dict` wrote.

    Raises:
        KeyError: the name is missing or unknown.
        TypeError: a value that the event needs is missing.
        ValueError: a value cannot be read.
    """
    return EVENTS[values["event"]].from_dict(values)


_OF_ALL = ("name", "key", "level", "options", "targets", "experienced", "group", "rest_margin_ms")
_OF_SOME = ("loads", "best", "avoid", "team", "note")
"""What a journal has of every athlete, and what it has only where there is something to say; the rest is the roster's alone."""


def athlete_to_dict(athlete: Athlete) -> dict[str, Any]:
    """An athlete as JSON-ready values."""
    values = {name: _plain(getattr(athlete, name)) for name in (*_OF_ALL, *_OF_SOME)}
    return {name: value for name, value in values.items() if value or name in _OF_ALL}


def athlete_from_dict(values: Mapping[str, Any]) -> Athlete:
    """The athlete that `athlete_to_dict` wrote."""
    return Athlete(**{name: _live(name, values[name]) for name in (*_OF_ALL, *_OF_SOME) if name in values})


def target_to_dict(target: Target) -> dict[str, Any]:
    """A target as JSON-ready values; amounts as exact text."""
    values: dict[str, Any] = {"amount": str(target.amount), "unit": str(target.unit), "step": str(target.step)}
    if target.amounts:
        values["amounts"] = [str(amount) for amount in target.amounts]
    if target.each_side:
        values["each_side"] = True
    return values


def target_from_dict(values: Mapping[str, Any]) -> Target:
    """The target that `target_to_dict` wrote."""
    return Target(
        _exact(values["amount"]),
        Unit(values["unit"]),
        _exact(values.get("step", "0")),
        amounts=tuple(_exact(amount) for amount in values.get("amounts", ())),
        each_side=bool(values.get("each_side", False)),
    )


def load_to_dict(load: Load) -> dict[str, str]:
    """A load as JSON-ready values, its amount as exact text."""
    return {"amount": str(load.amount), "unit": str(load.unit)}


def load_from_dict(values: Mapping[str, str]) -> Load:
    """The load that `load_to_dict` wrote."""
    return Load(_exact(values["amount"]), LoadUnit(values["unit"]))


def _exact(text: str) -> Fraction:
    """An amount; one with an exponent could be a number that no machine holds."""
    if not _EXACT.fullmatch(text):
        raise ValueError(f"{text[:20]} is no exact amount")
    return Fraction(text)


def _plain(value: Any) -> Any:
    match value:
        case str() | int() | None:
            return value
        case Athlete():
            return athlete_to_dict(value)
        case Target():
            return target_to_dict(value)
        case Load():
            return load_to_dict(value)
        case tuple():
            return list(value)
        case frozenset():
            return sorted(value)
        case Mapping():
            return {move: _plain(own) for move, own in value.items()}
    return value


def _live(name: str, value: Any) -> Any:
    match name:
        case "target":
            return target_from_dict(value)
        case "load":
            return load_from_dict(value)
        case "athlete" if isinstance(value, Mapping):
            return athlete_from_dict(value)
        case "groups":
            return tuple(value)
        case "options":
            return dict(value)
        case "targets":
            return {move: target_from_dict(target) for move, target in value.items()}
        case "loads" | "best":
            return {move: load_from_dict(load) for move, load in value.items()}
        case "experienced" | "avoid":
            return frozenset(value)
    return value
