"""Reads the journal of a class: what is whole is kept in order, what is not is reported.

Invariant: reading never raises for what is in the file, and one damaged line never costs another one. What is said about
damage holds line numbers and reasons, never a name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from itertools import groupby
from operator import attrgetter
from pathlib import Path
from typing import Any, Self, TypeGuard

from floorclock.clock.events import EVENTS, Event, athlete_from_dict, athlete_to_dict, event_from_dict
from floorclock.errors import NotFound, ResourceError
from floorclock.journal.checks import check_values
from floorclock.journal.disk import read_file, read_words
from floorclock.journal.instants import instant_or_none, instant_text
from floorclock.journal.lines import VERSION, Fragment, decode, encode, good_end, pieces
from floorclock.journal.upgrades import UnknownVersion, upgraded
from floorclock.plan.roster import Roster

OPENED = "opened"
_UNREADABLE = (KeyError, TypeError, ValueError, AttributeError, ArithmeticError)
"""What values of the wrong kind raise while they are read."""
_OTHER_VERSION = "was written by another version of floorclock"


@dataclass(frozen=True, kw_only=True)
class Header:
    """The first line of a journal: everything that the class started from.

    `session` is the title of the plan, `session_text` its whole source, `rest_margin_ms` a margin that overrides the plan's,
    `cues` what was chosen for this run besides it.
    `version` is the floorclock that ran it. `paper`: nobody tapped; it was timed on paper and written down afterwards.
    `forgotten` counts the people who were taken out of the class at their wish.
    """

    id: str
    started: datetime
    session: str
    session_file: str
    session_text: str
    roster: Roster
    rehearsal: bool = False
    speed: float = 1.0
    rest_margin_ms: int | None = None
    cues: str = ""
    version: str = ""
    paper: bool = False
    forgotten: int = 0

    def to_dict(self) -> dict[str, Any]:
        """The header as JSON-ready values."""
        athletes = [athlete_to_dict(athlete) for athlete in self.roster.athletes]
        values = {part.name: getattr(self, part.name) for part in fields(self)}
        values["started"] = instant_text(self.started)
        values["roster"] = {"title": self.roster.title, "athletes": athletes}
        return {"seq": 0, "event": OPENED, **values}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> Self:
        """The header from its JSON-ready values; keys that this version does not know are left alone.

        Raises:
            KeyError, TypeError, ValueError, AttributeError, ArithmeticError: a value is missing or of the wrong kind.
        """
        known = {part.name: values[part.name] for part in fields(cls) if part.name in values}
        known["started"] = instant_or_none(values["started"])
        if known["started"] is None:
            raise ValueError("no time at which it started")
        athletes = tuple(athlete_from_dict(athlete) for athlete in values["roster"]["athletes"])
        known["roster"] = Roster(title=values["roster"]["title"], athletes=athletes)
        header = cls(**known)
        check_values(header)
        return header


@dataclass(frozen=True, slots=True)
class Damage:
    """A line (from 1) that is not what it should be."""

    line: int
    words: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.words}"


@dataclass(frozen=True, kw_only=True)
class JournalReading:
    """What a journal says.

    `events`, `seqs` and `walls` go side by side; `aside` holds, as they are, lines that only a newer floorclock understands.
    `torn`: the last line was not written to its end. `good_length` is where what can be read ends; `ends_open` is true
    when no line end follows there.
    """

    header: Header | None
    events: tuple[Event, ...]
    seqs: tuple[int, ...]
    walls: tuple[datetime | None, ...]
    damage: tuple[Damage, ...]
    aside: tuple[Mapping[str, Any], ...]
    torn: bool
    good_length: int
    ends_open: bool
    next_seq: int


def event_line(seq: int, event: Event, wall: datetime) -> bytes:
    """The line of the journal for one event."""
    return encode({"seq": seq, "wall": instant_text(wall), **event.to_dict()})


def header_line(header: Header) -> bytes:
    """The first line of a journal."""
    return encode(header.to_dict())


def read_journal(path: Path) -> JournalReading:
    """Reads the journal of a class.

    Raises:
        NotFound: there is no such file.
        ResourceError: the disk does not give it.
    """
    try:
        data = read_file(path)
    except FileNotFoundError:
        raise NotFound(f"there is no journal {path}") from None
    except OSError as error:
        raise ResourceError(f"the journal {path} cannot be read: {read_words(error)}") from error
    return read_bytes(data)


def read_bytes(data: bytes) -> JournalReading:
    """What the bytes of a journal say, whatever they are."""
    found = _Found()
    all_pieces = list(pieces(data))
    for number, line in groupby(all_pieces, key=attrgetter("line")):
        found.take_line(number, list(line))
    good_length, ends_open = good_end(all_pieces)
    return JournalReading(
        header=found.header,
        events=tuple(found.events),
        seqs=tuple(found.seqs),
        walls=tuple(found.walls),
        damage=tuple(found.damage),
        aside=tuple(found.aside),
        torn=good_length < len(data),
        good_length=good_length,
        ends_open=ends_open,
        next_seq=max(found.last_seq, found.lines - 1) + 1,
    )


@dataclass
class _Found:
    """What has been read so far."""

    header: Header | None = None
    events: list[Event] = field(default_factory=list)
    seqs: list[int] = field(default_factory=list)
    walls: list[datetime | None] = field(default_factory=list)
    damage: list[Damage] = field(default_factory=list)
    aside: list[Mapping[str, Any]] = field(default_factory=list)
    by_seq: dict[int, set[bytes]] = field(default_factory=dict)
    last_seq: int = -1
    lines: int = 0
    bad_since: int = 0
    """Damaged lines since the last whole one: that many missing numbers are explained."""

    def take_line(self, number: int, line: Sequence[Fragment]) -> None:
        """Takes the pieces of one line. What follows the last line end is torn and not damaged."""
        content = [piece for piece in line if not piece.ends]
        if not content:
            return
        records = [piece.data for piece in content if piece.whole]
        ended = line[-1].ends
        damaged = ended and (len(content) > 1 or not records)
        self.lines += max(len(records), int(ended))
        if damaged:
            self.damage.append(Damage(number, "does not fit its check"))
        for record in records:
            self._take(number, record)
        if damaged and not records:
            self.bad_since += 1
        if damaged and number == 1 and self.header is None:
            self._take_damaged_header(b"".join(piece.data for piece in content))

    def _take(self, number: int, record: bytes) -> None:
        try:
            values = decode(record)
        except ValueError:
            self.damage.append(Damage(number, "is no JSON object"))
            self.bad_since += 1
            return
        version, seq = values.get("v"), values.get("seq")
        if not (_is_count(version) and _is_count(seq)):
            self.damage.append(Damage(number, "has no version or no number"))
            self.bad_since += 1
            return
        if not self._is_new(number, seq, record):
            return
        name = values.get("event")
        if name == OPENED and self.header is None:
            self._take_header(number, values)
        elif not isinstance(name, str) or name not in EVENTS:
            self._put_aside(number, values, _OTHER_VERSION)
        else:
            self._take_event(number, seq, values)

    def _put_aside(self, number: int, values: Mapping[str, Any], words: str) -> None:
        self.aside.append(values)
        self.damage.append(Damage(number, f"{words}; kept aside"))

    def _is_new(self, number: int, seq: int, record: bytes) -> bool:
        """Looks at the number of a whole line; false if the very same line was there before.

        Two different lines with one number are both kept: neither can be told to be the wrong one.
        """
        missing = seq - self.last_seq - 1
        if missing > self.bad_since:
            count = missing - self.bad_since
            what = "a line is" if count == 1 else f"{count} lines are"
            self.damage.append(Damage(number, f"{what} missing before it"))
        elif missing < 0:
            self.damage.append(Damage(number, "comes out of its order"))
        self.bad_since = 0
        self.last_seq = max(self.last_seq, seq)
        known = self.by_seq.setdefault(seq, set())
        if record in known:
            return False
        known.add(record)
        return True

    def _take_header(self, number: int, values: Mapping[str, Any]) -> None:
        """A header that is newer is used where it makes sense: the class hangs on it."""
        try:
            self.header = _header_of(values)
        except _UNREADABLE:
            self.damage.append(Damage(number, "the header cannot be read"))
            return
        if values["v"] != VERSION:
            self.damage.append(Damage(number, f"the header {_OTHER_VERSION}"))

    def _take_damaged_header(self, line: bytes) -> None:
        """A header with a changed byte, if it still makes sense, is worth more than none: the class hangs on it."""
        try:
            self.header = _header_of(decode(line))
        except _UNREADABLE:
            return
        self.last_seq, self.bad_since = 0, 0
        self.damage.append(Damage(1, "the header is used as it is, although it does not fit its check"))

    def _take_event(self, number: int, seq: int, values: Mapping[str, Any]) -> None:
        try:
            event = event_from_dict(upgraded(values))
            check_values(event)
        except UnknownVersion:
            self._put_aside(number, values, _OTHER_VERSION)
            return
        except _UNREADABLE:
            self._put_aside(number, values, "an event with values that cannot be read")
            return
        self.events.append(event)
        self.seqs.append(seq)
        self.walls.append(instant_or_none(values.get("wall")))


def _header_of(values: Mapping[str, Any]) -> Header:
    """The header from the values of its line, whatever version they say they are."""
    return Header.from_dict(upgraded(values) if values.get("v") == VERSION else values)


def _is_count(value: Any) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0
