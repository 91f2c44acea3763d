"""The journal of a class without one person.

Invariant: the fold of the new journal is the fold of the old one with that person taken out: for everybody else the same splits,
results, targets and times. Nothing that named them is left but what the coach wrote in the plan; all other lines, damaged ones
too, stay as they were found, and are numbered on without a gap.

A "take back" without a name goes with the person if it was their tap that it meant. Two things hang on somebody being there, and
are written out: the start groups that were in use when a part began (`groups` of "part begun": they give a part with waves its
length), and the tap key that a latecomer got. Where their line alone had moved the class clock on, a line stays that says only
where it stood.
"""

from __future__ import annotations

import json
import re
from bisect import bisect_left
from collections.abc import Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, fields
from typing import Any

from floorclock.clock.events import CarriedOn, ClassEnded, Event, Joined, PartBegun, Tapped, TapTakenBack
from floorclock.clock.fold import apply
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState, new_state
from floorclock.clock.tally import results, splits
from floorclock.journal.lines import Fragment, decode, encode, pieces
from floorclock.journal.reading import Header, read_bytes
from floorclock.journal.replay import session_or_none
from floorclock.plan.roster import Athlete, give_keys


class Mentions:
    """The spellings of one person, to be looked for: found as a whole value or a whole word, never inside another word."""

    def __init__(self, names: Collection[str]) -> None:
        self.names = frozenset(names)
        written = {json.dumps(name, ensure_ascii=escaped)[1:-1] for name in self.names for escaped in (False, True)}
        self._needles = tuple(form.encode("utf-8", "surrogatepass") for form in sorted(written))
        words = "|".join(re.escape(form) for form in sorted(written | self.names, key=len, reverse=True))
        self._words = re.compile(rf"(?<!\w)(?:{words})(?!\w)")

    def may_stand_in(self, data: bytes) -> bool:
        """A quick look: false where none of the names can stand in these bytes."""
        return any(needle in data for needle in self._needles)

    def are_words_of(self, text: str | bytes) -> bool:
        """Whether one of the names is a word of a text, or of bytes that are no whole record."""
        return bool(self._words.search(text if isinstance(text, str) else text.decode("utf-8", "replace")))

    def stand_in_piece(self, piece: Fragment) -> bool:
        """Whether one of the names is in a piece of a file of lines: as a value of a record that can be read, else as a word."""
        if piece.whole:
            with suppress(ValueError):
                return self.stand_in(decode(piece.data))
        return self.are_words_of(piece.data)

    def are_told_by(self, event: Event) -> bool:
        """Whether an event is about the person."""
        about = getattr(event, "athlete", "")
        return (about.name if isinstance(about, Athlete) else about) in self.names

    def stand_in(self, value: Any) -> bool:
        """Whether one of the names is a value or a key anywhere in JSON values."""
        if isinstance(value, str):
            return value in self.names
        if isinstance(value, Mapping):
            return any(self.stand_in(held) for pair in value.items() for held in pair)
        return isinstance(value, list) and any(self.stand_in(held) for held in value)


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonShare:
    """What a journal holds of one person: so many splits, parts not finished, results, effort ratings, and lines in all.

    `fragments` are pieces of damaged lines that hold the name.
    """

    splits: int = 0
    not_finished: int = 0
    results: int = 0
    efforts: int = 0
    lines: int = 0
    fragments: int = 0

    def __add__(self, other: PersonShare) -> PersonShare:
        return PersonShare(**{part.name: getattr(self, part.name) + getattr(other, part.name) for part in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class RedactedJournal:
    """A journal with one person taken out.

    `share` is None where nothing was recorded of them; `data` is then as it was. `ended`: the class is over for good, or
    cannot go on because it does not say what it started from. `in_plan`: the plan, its title or the roster's holds the name
    as a word; that is the coach's text. `rehearsal`: the athletes' taps were invented.
    """

    data: bytes
    share: PersonShare | None
    ended: bool
    in_plan: bool
    rehearsal: bool = False


def without(data: bytes, names: Collection[str]) -> RedactedJournal:
    """The bytes of a journal without somebody who is called by these names."""
    mentions = Mentions(names)
    if not mentions.may_stand_in(data):
        return RedactedJournal(data=data, share=None, ended=True, in_plan=False)
    return _Redaction(mentions).of(data)


@dataclass(slots=True)
class _Line:
    """A piece on its way: `data` is what it becomes, None once it is taken out. `seq` is the number of a record."""

    piece: Fragment
    data: bytes | None
    seq: int | None = None
    values: dict[str, Any] = field(default_factory=dict)
    changed: bool = False


class _Redaction:
    def __init__(self, mentions: Mentions) -> None:
        self._mentions = mentions
        self._lines: list[_Line] = []
        self._header: Header | None = None
        self._header_line: _Line | None = None
        self._state: ClassState | None = None
        self._seen: set[bytes] = set()
        self._taps: list[str] = []
        self._told_ms = 0
        self._mover: _Line | None = None
        self._ended = self._taken = False
        self._fragments = 0

    def of(self, data: bytes) -> RedactedJournal:
        for piece in pieces(data):
            line = _Line(piece, piece.data)
            self._lines.append(line)
            if piece.whole:
                self._record(line)
            elif piece.line == 1 and self._header is None and not piece.ends:
                self._damaged_header(line)
        if self._mover is not None:
            self._stand(self._mover)
        self._drop_fragments()
        header, in_plan = self._header, False
        if header is not None:
            texts = (header.session_text, header.session, header.session_file, header.roster.title)
            in_plan = any(self._mentions.are_words_of(text) for text in texts)
        ended = self._ended or header is None
        if self._taken:
            data = self._put_together()
        rehearsal = header is not None and header.rehearsal
        return RedactedJournal(data=data, share=self._share(), ended=ended, in_plan=in_plan, rehearsal=rehearsal)

    def _record(self, line: _Line) -> None:
        try:
            line.values = decode(line.piece.data)
        except ValueError:
            if self._mentions.are_words_of(line.piece.data):
                self._take_out(line)
            return
        seq = line.values.get("seq")
        line.seq = seq if isinstance(seq, int) and not isinstance(seq, bool) else None
        reading = read_bytes(line.piece.data)
        if reading.header is not None and self._header is None:
            self._take_header(line, reading.header)
        elif not reading.events:
            if self._mentions.stand_in(line.values):
                self._take_out(line)
        elif line.piece.data in self._seen:
            if self._mentions.are_told_by(reading.events[0]):
                self._take_out(line)
        else:
            self._seen.add(line.piece.data)
            self._event(line, reading.events[0])

    def _take_header(self, line: _Line, header: Header) -> None:
        self._header, self._header_line = header, line
        session = session_or_none(header)
        self._state = None if session is None else new_state(session, header.roster.athletes, header.rest_margin_ms)
        keys = {athlete.name: athlete.key for athlete in give_keys(header.roster.athletes)}
        kept = []
        for athlete in line.values["roster"]["athletes"]:
            if athlete["name"] in self._mentions.names:
                self._taken = True
            else:
                kept.append({**athlete, "key": keys[athlete["name"]]})
        line.values["roster"] = {**line.values["roster"], "athletes": kept}

    def _damaged_header(self, line: _Line) -> None:
        """A header that is read although it does not fit its check; it must not fit it afterwards either."""
        reading = read_bytes(line.piece.data + b"\n")
        if reading.header is None:
            return
        line.values = decode(line.piece.data)
        self._take_header(line, reading.header)

    def _event(self, line: _Line, event: Event) -> None:
        state = self._state
        self._ended = self._ended or isinstance(event, ClassEnded)
        groups = self._groups(event)
        outcome = apply(state, event) if state is not None else None
        about_them = self._mentions.are_told_by(event)
        if isinstance(event, TapTakenBack) and not event.athlete:
            # Whose tap it meant, also where it was refused. Without the person's taps, the last one is still the same tap of
            # anybody else.
            about_them = (outcome.athlete if outcome is not None else self._last_tap()) in self._mentions.names
        elif isinstance(event, Tapped):
            self._taps.append(event.athlete)
        elif isinstance(event, Joined) and state is not None and not about_them:
            self._change(line, "athlete", {**line.values["athlete"], "key": state.athletes[event.athlete.name].key})
        elif groups is not None and outcome is not None and outcome.took_effect:
            self._change(line, "groups", groups)
        if about_them:
            self._take_out(line)
        self._keep_time(line, event.at_ms, about_them=about_them)

    def _keep_time(self, line: _Line, at_ms: int, *, about_them: bool) -> None:
        """Sees to it that every line that is kept finds the class clock where it was."""
        if about_them:
            if at_ms > self._told_ms:
                self._mover = line
        else:
            if self._mover is not None and at_ms < self._told_ms:
                self._stand(self._mover)
            elif at_ms >= self._told_ms:
                self._mover = None
        self._told_ms = max(self._told_ms, at_ms)

    def _last_tap(self) -> str:
        """Whose tap is taken back, as far as the lines alone tell: for a plan that this version cannot read."""
        return self._taps.pop() if self._taps else ""

    def _groups(self, event: Event) -> list[int] | None:
        """The start groups in use when a part begins, where the person's makes them others than they would be without."""
        state = self._state
        if not isinstance(event, PartBegun) or state is None or event.part >= len(state.session.parts):
            return None
        written = set(event.groups)
        here = {athlete.name: state.group_of(athlete.name, event.part, 0) for athlete in state.present}
        everybody = (set(here.values()) | written) or {1}
        others = ({group for name, group in here.items() if name not in self._mentions.names} | written) or {1}
        return sorted(everybody) if everybody != others else None

    def _change(self, line: _Line, key: str, value: object) -> None:
        line.changed = line.changed or line.values.get(key) != value
        line.values[key] = value

    def _take_out(self, line: _Line) -> None:
        line.data, self._taken = None, True

    def _stand(self, line: _Line) -> None:
        """Leaves of a line only where the class clock stood."""
        stood = CarriedOn(at_ms=self._told_ms, away_ms=0)
        kept: dict[str, Any] = {key: line.values[key] for key in ("v", "seq", "wall") if key in line.values}
        line.values, line.changed, line.data = {**kept, **stood.to_dict()}, True, line.piece.data
        self._mover = None

    def _drop_fragments(self) -> None:
        """Damaged pieces that hold the name, and a torn end, which could hold the half of it."""
        for line in self._lines:
            piece = line.piece
            if piece.whole or piece.ends or line is self._header_line or not piece.data.strip():
                continue
            if self._mentions.are_words_of(piece.data) or (piece.torn and self._taken):
                self._take_out(line)
                self._fragments += 1

    def _put_together(self) -> bytes:
        kept = {line.seq for line in self._lines if line.data is not None and line.seq is not None}
        gone = sorted({line.seq for line in self._lines if line.data is None and line.seq is not None} - kept)
        left = {line.piece.line for line in self._lines if line.data is not None and not line.piece.ends}
        was = {line.piece.line for line in self._lines if not line.piece.ends}
        made = []
        for line in self._lines:
            if line.data is None or (line.piece.ends and line.piece.line in was - left):
                continue
            made.append(self._written(line, gone))
        return b"".join(made)

    def _written(self, line: _Line, gone: list[int]) -> bytes:
        piece = line.piece
        if not line.values:
            return piece.data
        if line is self._header_line and self._header is not None:
            self._change(line, "forgotten", self._header.forgotten + 1)
        elif line.seq is not None and (shift := bisect_left(gone, line.seq)):
            self._change(line, "seq", line.seq - shift)
        if not line.changed:
            return piece.data
        made = encode(line.values)[:-1]
        return made if piece.whole else _with_check_of(made, piece.data)

    def _share(self) -> PersonShare | None:
        if not self._taken:
            return None
        lines = sum(line.data is None for line in self._lines if line.piece.whole)
        if self._state is None:
            return PersonShare(lines=lines, fragments=self._fragments)
        names = self._mentions.names
        theirs = [split for split in splits(self._state) if split.athlete in names]
        return PersonShare(
            splits=sum(split.status is Status.DONE for split in theirs),
            not_finished=sum(split.status is Status.NOT_FINISHED for split in theirs),
            results=sum(result.athlete in names for result in results(self._state)),
            efforts=sum(name in names for name in self._state.efforts),
            lines=lines,
            fragments=self._fragments,
        )


def _with_check_of(made: bytes, damaged: bytes) -> bytes:
    """A record with the check that a damaged one had: what was not whole is not called whole now."""
    check = json.loads(damaged).get("check", "")
    return made[: -len(',"check":"00000000"}')] + b',"check":' + json.dumps(check).encode("ascii") + b"}"
