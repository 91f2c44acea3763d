"""Everything that was recorded, as tables for a spreadsheet: classes, splits, results, efforts, events, people.

Invariant: no more than one class is in memory. A class that runs goes out up to its last whole line; a class that cannot be
read costs no other one and is named. A table says what the journals say and no more; what is not known is empty. Parts, rounds
and stations count from 1, times are seconds, instants RFC 3339. `athlete` is the name as written, `person` the one it counts as.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from floorclock.clock.events import ClassEnded, Joined
from floorclock.clock.splits import Result, Split
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.digest.volume import volume_loads
from floorclock.digest.words import score_total
from floorclock.errors import NotFound, ResourceError
from floorclock.journal.disk import open_private, read_file, read_words
from floorclock.journal.files import new_folder
from floorclock.journal.instants import instant_text
from floorclock.journal.lock import is_open
from floorclock.journal.reading import JournalReading, read_bytes
from floorclock.journal.replay import replay, session_or_none
from floorclock.journal.shelf import journals_of
from floorclock.pace.load import session_loads
from floorclock.people.register import canonical_names
from floorclock.plan.durations import seconds
from floorclock.plan.session import AnyPart
from floorclock.transfer.cells import row

Row = tuple[object, ...]
COLUMNS: Mapping[str, Row] = {
    "classes": (
        "class", "started", "session", "rehearsal", "paper", "ended", "rest_margin", "athletes", "minutes", "damaged_lines",
        "forgotten",
    ),
    "splits": (
        "class", "part", "part_title", "round", "interval", "station", "move", "athlete", "person", "target", "unit", "window",
        "rest_margin", "split", "rest", "status", "credited", "corrected", "load", "load_unit",
    ),
    "results": (
        "class", "part", "part_title", "kind", "athlete", "person", "choice", "time", "rounds", "reps", "not_finished",
        "score_unit", "score", "scores", "team",
    ),
    "lifts": ("class", "athlete", "person", "move", "reps", "volume_load", "heaviest", "unit", "shared_by"),
    "efforts": ("class", "started", "athlete", "person", "effort", "minutes", "load"),
    "events": ("class", "number", "at", "wall", "event", "athlete", "more"),
    "people": ("name", "person", "classes", "first", "last"),
}  # fmt: skip


@dataclass(slots=True)
class NameTally:
    """One name over all classes that are no rehearsals."""

    classes: int
    first: datetime
    last: datetime


class Tables:
    """Makes the rows of one class after the other; keeps nothing but the names."""

    def __init__(self, canonical: Mapping[str, str]) -> None:
        self._canonical = canonical
        self._seen: dict[str, NameTally] = {}

    def rows_of(self, class_id: str, reading: JournalReading) -> Iterator[tuple[str, Row]]:
        """The rows of a class, each with the name of its table. A plan that cannot be read gives its class and events alone."""
        header = reading.header
        state = None if header is None or session_or_none(header) is None else replay(header, reading.events)
        yield "classes", self._class(class_id, reading, state)
        yield from (("events", row) for row in _events(class_id, reading))
        if header is not None and not header.rehearsal:
            joined = (event.athlete for event in reading.events if isinstance(event, Joined))
            self._see({athlete.name for athlete in (*header.roster.athletes, *joined)}, header.started)
        if header is None or state is None:
            return
        taken, reached = splits(state), results(state)
        yield from (("splits", row) for row in self._splits(class_id, state, taken))
        yield from (("results", row) for row in self._results(class_id, state, reached))
        for lift in volume_loads(state, taken, reached):
            amounts = (lift.reps, _rounded(float(lift.amount)), _rounded(float(lift.heaviest)), str(lift.unit))
            who = (" + ".join(lift.team) or lift.athlete, self._person(lift.athlete))
            yield "lifts", (class_id, *who, lift.move, *amounts, len(lift.team) or 1)
        yield from (("efforts", row) for row in self._efforts(class_id, state, instant_text(header.started)))

    def people(self) -> Iterator[Row]:
        """A row for each name, once all classes were seen."""
        for name, seen in sorted(self._seen.items()):
            yield (name, self._person(name), seen.classes, instant_text(seen.first), instant_text(seen.last))

    def _person(self, name: str) -> str:
        return self._canonical.get(name, name)

    def _see(self, names: Collection[str], started: datetime) -> None:
        for name in names:
            seen = self._seen.setdefault(name, NameTally(0, started, started))
            seen.classes += 1
            seen.first, seen.last = min(seen.first, started), max(seen.last, started)

    def _class(self, class_id: str, reading: JournalReading, state: ClassState | None) -> Row:
        header = reading.header
        if header is None:
            return (class_id, "", "", None, None, None, None, None, None, len(reading.damage), None)
        margin = None if state is None else state.session.rest_margin_ms if state.margin_ms is None else state.margin_ms
        loads = () if state is None else session_loads(state)
        minutes = max((load.minutes for load in loads), default=None)
        ended = any(isinstance(event, ClassEnded) for event in reading.events)
        people = len(header.roster.athletes) if state is None else len(state.athletes)
        about: tuple[Any, ...] = (class_id, instant_text(header.started), header.session, header.rehearsal, header.paper, ended)
        return (*about, seconds(margin), people, _rounded(minutes), len(reading.damage), header.forgotten)

    def _splits(self, class_id: str, state: ClassState, taken: Sequence[Split]) -> Iterator[Row]:
        for one in taken:
            place = (one.part + 1, state.part(one.part).title, one.round, one.interval + 1, one.station + 1, one.move)
            work = (one.amount, None if one.unit is None else str(one.unit), seconds(one.window_ms), seconds(one.margin_ms))
            came_to = (seconds(one.split_ms), seconds(one.rest_ms), str(one.status), one.credited, one.corrected)
            load = (None, None) if one.load is None else (one.load.amount, str(one.load.unit))
            yield (class_id, *place, one.athlete, self._person(one.athlete), *work, *came_to, *load)

    def _results(self, class_id: str, state: ClassState, found: Sequence[Result]) -> Iterator[Row]:
        for one in found:
            part = state.part(one.part)
            who = (one.athlete, self._person(one.athlete), one.choice)
            reached = (seconds(one.time_ms), one.rounds, one.reps, one.not_finished)
            yield (class_id, one.part + 1, part.title, part.kind, *who, *reached, *_scored(one, part), " + ".join(one.team))

    def _efforts(self, class_id: str, state: ClassState, started: str) -> Iterator[Row]:
        for one in session_loads(state):
            if one.effort is not None:
                amounts = (_number(one.effort), _rounded(one.minutes), _rounded(one.load))
                yield (class_id, started, one.name, self._person(one.name), *amounts)


def _scored(result: Result, part: AnyPart) -> Row:
    """What was counted: the unit, what it comes to, and each set."""
    if part.score is None or not result.scores:
        return (None, None, None)
    each = "; ".join(str(_number(float(amount))) for _, amount in result.scores)
    return (part.score.unit, score_total(result, part.score.unit), each)


def _events(class_id: str, reading: JournalReading) -> Iterator[Row]:
    """Everything that happened, in its order; `more` is what else an event says, as JSON."""
    for seq, wall, event in zip(reading.seqs, reading.walls, reading.events, strict=True):
        values = event.to_dict()
        about = values.pop("athlete", "")
        name = about["name"] if isinstance(about, dict) else about
        more = {key: value for key, value in values.items() if key not in ("event", "at_ms")}
        written = json.dumps(more, ensure_ascii=False) if more else ""
        label = "" if wall is None else instant_text(wall)
        yield (class_id, seq, seconds(event.at_ms), label, event.name, name, written)


def _rounded(value: float | None) -> float | None:
    return None if value is None else _number(round(value, 3))


def _number(value: float) -> float:
    return int(value) if value == int(value) else value


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What went out. `running` are classes that went out up to the moment, `unread` those that could not be read, with why."""

    folder: Path
    classes: int
    splits: int
    running: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What there is now, in a few lines."""
        words = [f"{self.folder}: {self.classes} classes, {self.splits} splits, as tables for a spreadsheet."]
        words += what_was_left_out(self.running, self.unread)
        return "\n".join([*words, "These files hold names: keep them as safe as the records."])


def export(home: Path, folder: Path) -> Exported:
    """Writes everything into a new folder.

    Raises:
        NotFound: nothing has been recorded.
        WrongUsage: the folder is there already and not empty.
        ResourceError: the disk refuses; nothing is left then.
    """
    journals = journals_of(home)
    if not journals:
        raise NotFound("no class has been recorded yet")
    tables = Tables(canonical_names(home))
    counts = dict.fromkeys(COLUMNS, 0)
    running: list[str] = []
    unread: list[str] = []
    with new_folder(folder) as made, contextlib.ExitStack() as files:
        out = {}
        for table, columns in COLUMNS.items():
            descriptor = open_private(made / f"{table}.csv", os.O_WRONLY | os.O_CREAT | os.O_EXCL)
            out[table] = files.enter_context(os.fdopen(descriptor, "w", encoding="utf-8", newline=""))
            out[table].write(row(columns))
        for path in journals:
            try:
                data, runs = journal_bytes(path)
            except ResourceError as error:
                unread.append(str(error))
                continue
            if data:
                running += [path.stem] if runs else []
                for table, values in tables.rows_of(path.stem, read_bytes(data)):
                    out[table].write(row(values))
                    counts[table] += 1
        for values in tables.people():
            out["people"].write(row(values))
    return Exported(
        folder=folder, classes=counts["classes"], splits=counts["splits"], running=tuple(running), unread=tuple(unread)
    )


def journal_bytes(path: Path) -> tuple[bytes, bool]:
    """The bytes of a journal, and whether some floor has it open; then up to its last whole line.

    Raises:
        ResourceError: it cannot be read.
    """
    try:
        # Looked at before it is read: a class that ends meanwhile loses nothing.
        running = is_open(path)
        data = read_file(path)
    except FileNotFoundError:
        return b"", False
    except OSError as error:
        raise ResourceError(f"class {path.stem}: {read_words(error)}") from error
    return (data[: data.rfind(b"\n") + 1] if running else data), running


def what_was_left_out(running: tuple[str, ...], unread: tuple[str, ...]) -> list[str]:
    """Lines that name the classes of which not everything went out."""
    words = []
    if running:
        words.append(f"Still running, so as far as it was: {', '.join(running)}.")
    if unread:
        counted = "1 class" if len(unread) == 1 else f"{len(unread)} classes"
        words.append(f"Left out, {counted} that cannot be read: {'; '.join(unread)}.")
    return words
