"""What the floor shows, as plain values: everything a widget needs and nothing it has to work out.

Invariant: widgets draw these and only these; `present.py` makes them from the state of the class.
Words are final (names cleaned, numbers formatted); widgets cut and place them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from floorclock.plan.legibility import USUAL_ROOM
from floorclock.plan.session import Room
from floorclock.tui.base.palette import Mood

Shows = Literal["class", "coach"]
"""Who a screen is for: the class (clock, work, names, who is done) or the coach (everything)."""
RowStatus = Literal["work", "done", "missed", "rest", "idle", "home"]
Flag = Literal["", "tight", "fading", "runs out", "not finished"]

FLAG_SYMBOL: dict[Flag, str] = {"": "", "tight": "!", "fading": "v", "runs out": "x", "not finished": "/"}


@dataclass(frozen=True, slots=True)
class HeadView:
    """The line at the top. Texts may be empty; the widget drops the least important first when the room is narrow."""

    session: str
    part: str
    round: str
    minute: str
    wall: str
    badge: str = ""
    """A short standing notice: `rehearsal x10`, `no sound`, `NOT SAVED: disk full`."""


@dataclass(frozen=True, slots=True)
class ClockView:
    """The big digits and the words around them.

    `text` is digits with `:`; it may be empty. `label` says what the digits are (`this minute`), `mood_word` what kind of time
    it is (`WORK`, `REST`, `PAUSED`, `GET READY`).
    """

    text: str
    label: str
    mood: Mood
    mood_word: str


@dataclass(frozen=True, slots=True)
class BarView:
    """The bar of the interval: `done` and `margin` are fractions 0..1 of its length.

    `margin` is where the wanted rest begins: finish left of it and you keep the rest; None where there is none.
    `left_words` and `right_words` stand after the bar (`done with 15 left`, `class 31:20 left   part 9:00`).
    """

    done: float
    margin: float | None
    mood: Mood
    left_words: str
    right_words: str


@dataclass(frozen=True, slots=True)
class PersonView:
    """Somebody in a lane, or a team; `own` is their own target or option where it differs (`10 lighter`), else empty.

    `athlete` is whom a press on a team means; empty where it is who is named.
    """

    name: str
    own: str = ""
    done: bool = False
    athlete: str = ""


@dataclass(frozen=True, slots=True)
class LaneView:
    """One station now: the move, the target as a coach says it, and who is there."""

    move: str
    target: str
    people: tuple[PersonView, ...]
    is_rest: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class LanesView:
    """All stations in use now, and one line of what comes next (`next: box step-up 10`).

    `names` is everybody, for the class, where the lanes do not say who is where.
    """

    lanes: tuple[LaneView, ...]
    next: str
    title: str = "now"
    names: tuple[PersonView, ...] = ()


@dataclass(frozen=True, slots=True)
class RestBar:
    """One past round in the small picture: the rest as a fraction of the interval, and whether it was under the margin.

    `rest` None is an untapped round (a hole); `not_finished` is drawn as its own shape.
    """

    rest: float | None
    under: bool = False
    not_finished: bool = False


@dataclass(frozen=True, slots=True)
class RowView:
    """One athlete on the board.

    `status` is `work` (at work, untapped), `done` (tapped in this interval), `missed` (not finished), `rest`, `idle` (nothing to
    tap now) or `home`. `split` and `left` are words (`31.4`, `28 left`); `detail` replaces them in parts without rest
    (`3 rounds`). `quiet` is somebody of whom the coach knows: their flag calls nobody. `people` are more than one where a row is
    a team.
    """

    athlete: str
    key: str
    name: str
    status: RowStatus
    split: str = ""
    left: str = ""
    detail: str = ""
    past: tuple[RestBar, ...] = ()
    flag: Flag = ""
    selected: bool = False
    quiet: bool = False
    people: int = 1


@dataclass(frozen=True, slots=True)
class CallLine:
    """Somebody who needs the coach, in words; `hint` is what F2 would do about it, empty where it would do nothing.

    `shorter` are other wordings for lines with less room, each shorter than the one before.
    A `chance` is somebody who could do more, an `offer` something to give before the start: neither is an alarm.
    """

    words: str
    hint: str = ""
    shorter: tuple[str, ...] = ()
    kind: Literal["call", "chance", "offer"] = "call"


@dataclass(frozen=True, slots=True)
class OfferView:
    """A target that could be given before the start: whose, of which move, as planned, as suggested, and why."""

    athlete: str
    move: str
    planned: str
    suggested: str
    because: str = ""


@dataclass(frozen=True, slots=True)
class CoachView:
    """The lines for the coach: `notice` answers what was just done; `calls` are who needs the coach now, at most three."""

    notice: str = ""
    notice_kind: Literal["info", "warning"] = "info"
    calls: tuple[CallLine, ...] = ()
    caution: str = ""


BriefLine = tuple[Literal["heading", "text", "caution", "small", "hint"], str]
"""One line of a brief: what kind it is, and its words. What is `small` is for who stands near."""


@dataclass(frozen=True, slots=True)
class BriefView:
    """A part explained on the floor, before it starts; or what the class came to, after it. The title may be empty."""

    title: str
    lines: tuple[BriefLine, ...]


@dataclass(frozen=True, slots=True)
class FloorView:
    """The whole floor at one instant. `brief` stands in place of the lanes where a part is still to come.

    To the class the lanes name everybody who is in `rows`.
    """

    head: HeadView
    clock: ClockView
    bar: BarView
    lanes: LanesView
    brief: BriefView | None
    rows: tuple[RowView, ...]
    coach: CoachView
    keys: tuple[tuple[str, str], ...]
    shows: Shows = "coach"
    room: Room = USUAL_ROOM
