"""What the athlete sheet is told, and what it answers: plain values on both sides.

Invariant: facts carry final words next to the values that an action needs; an action says what the coach wants, for the
athlete that the sheet was opened for.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from floorclock.plan.work import Target
from floorclock.tui.floor.dialogs.reading import Result, ResultKind

SplitStatus = Literal["done", "untapped", "not finished", "now"]


@dataclass(frozen=True, slots=True)
class SplitRow:
    """One interval of this part so far. `split` is words, empty where there is none.

    `interval` counts from 0 in its part; `longest_ms` is the interval's length, the longest split there can be.
    """

    interval: int
    round: int
    station: str
    split: str = ""
    status: SplitStatus = "done"
    longest_ms: int | None = None
    part: int | None = None


@dataclass(frozen=True, slots=True)
class OptionLine:
    """An option of the move, or an alternative to the whole work. An empty name is the plan as written."""

    name: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class MoveLine:
    """One station of the part for this athlete: the move as written, and what they do there.

    `target` is that of `round`, their next one there (a ladder's step already in it). `when` marks the move of now and the
    one after it.
    """

    station: int
    written: str
    move: str
    target: Target | None = None
    round: int = 1
    option: str = ""
    options: tuple[OptionLine, ...] = ()
    when: Literal["", "now", "next"] = ""


@dataclass(frozen=True, slots=True)
class AheadLine:
    """One round still to come at a move, in words: the split with its interval, and how sure the margin is kept."""

    round: int
    move: str
    split: str
    chance: str
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class GatedMove:
    """A guarded move that this athlete needs the coach's yes for."""

    move: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class GroupLine:
    """A start group, and who or how many are in it."""

    number: int
    words: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class AthleteFacts:
    """Everything the sheet shows of one athlete, at the instant it was opened.

    `move`, `target` and `option` are those the coach was called for, or of now: they are under the cursor among `moves`.
    `advice` says what would help in words, empty where nothing is advised; `drift` how the pace changes. `tap_keys` are
    everybody's: a number that is somebody's tap key chooses nothing. `result_kind` is None in parts without a result.
    """

    name: str
    key: str = ""
    group: int = 1
    groups: tuple[GroupLine, ...] = ()
    move: str = ""
    target: Target | None = None
    option: str = ""
    moves: tuple[MoveLine, ...] = ()
    station: int | None = None
    choice: str = ""
    choices: tuple[OptionLine, ...] = ()
    splits: tuple[SplitRow, ...] = ()
    flags: tuple[str, ...] = ()
    quiet: bool = False
    advice: str = ""
    drift: str = ""
    ahead: tuple[AheadLine, ...] = ()
    gated: tuple[GatedMove, ...] = ()
    result_kind: ResultKind | None = None
    result: Result | None = None
    margin_ms: int = 0
    tap_keys: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class GiveTarget:
    """Another target for the move at a station, in the unit it has, from a round on."""

    amount: Fraction
    station: int
    round: int = 1


@dataclass(frozen=True, slots=True)
class ChooseOption:
    """An option of the move at a station; empty is the move as written."""

    name: str
    station: int


@dataclass(frozen=True, slots=True)
class TakeAdvice:
    """What would help is given."""


@dataclass(frozen=True, slots=True)
class SetQuiet:
    """The athlete's flags call nobody any more, or do again."""

    quiet: bool


@dataclass(frozen=True, slots=True)
class TakeChoice:
    """An alternative to the part's whole work; empty is the work as written."""

    name: str


@dataclass(frozen=True, slots=True)
class Correct:
    """Another split for an interval; None makes it untapped. `part` is what the row said."""

    interval: int
    split_ms: int | None
    part: int | None = None


@dataclass(frozen=True, slots=True)
class MarkNotFinished:
    """The athlete did not finish the work of an interval."""

    interval: int
    part: int | None = None


@dataclass(frozen=True, slots=True)
class EnterResult:
    """What the athlete reached in the part; all None takes the result away."""

    rounds: int | None = None
    reps: int | None = None
    time_ms: int | None = None


@dataclass(frozen=True, slots=True)
class SetGroup:
    """Another start group."""

    group: int


@dataclass(frozen=True, slots=True)
class Allow:
    """The coach's yes to a guarded move."""

    move: str


@dataclass(frozen=True, slots=True)
class TakeBack:
    """The athlete's last tap is taken back."""


@dataclass(frozen=True, slots=True)
class SetMargin:
    """The athlete's own rest margin."""

    margin_ms: int


@dataclass(frozen=True, slots=True)
class SendHome:
    """The athlete goes home."""


TargetAction = GiveTarget | ChooseOption | TakeChoice | TakeAdvice | Allow
RecordAction = Correct | MarkNotFinished | EnterResult | TakeBack
PlaceAction = SetGroup | SetMargin | SetQuiet | SendHome
AthleteAction = TargetAction | RecordAction | PlaceAction
