"""Everything that was recorded, as tables for a spreadsheet: classes, splits, results, lifts, efforts, events, people.

Invariant: no more than one class is in memory. A class that runs goes out up to its last whole line; a class that cannot be
read costs no other one and is named. A table says what the journals say and no more; what is not known is empty. Parts, rounds
and stations count from 1, times are seconds, instants RFC 3339. `athlete` is the name as written, `person` the one it counts as.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
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
from floorclock.plan.names import counted
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


class Tables:
    """Makes the rows of one class after the other; keeps nothing but the names."""

    def __init__(self, canonical: Mapping[str, str]) -> None:
        self._canonical = canonical
        self._started: dict[str, list[datetime]] = {}
        """When the classes that were no rehearsals began, by the name of who was in them."""

    def rows_of(self, class_id: str, reading: JournalReading) -> Iterator[tuple[str, Row]]:
        """The rows of a class, each with the name of its table. A plan that cannot be read gives its class and events alone."""
        header = reading.header
        state = None if header is None or session_or_none(header) is None else replay(header, reading.events)
        yield "classes", self._class(class_id, reading, state)
        yield from (("events", row) for row in _events(class_id, reading))
        if header is not None and not header.rehearsal:
            joined = (event.athlete for event in reading.events if isinstance(event, Joined))
            for name in {athlete.name for athlete in (*header.roster.athletes, *joined)}:
                self._started.setdefault(name, []).append(header.started)
        if header is None or state is None:
            return
        taken, reached = splits(state), results(state)
        yield from (("splits", row) for row in self._splits(class_id, state, taken))
        yield from (("results", row) for row in self._results(class_id, state, reached))
        for lift in volume_loads(state, taken, reached):
            amounts = (lift.reps, _rounded(float(lift.amount)), _rounded(float(lift.heaviest)), lift.unit)
            who = (lift.label, self._person(lift.athlete))
            yield "lifts", (class_id, *who, lift.move, *amounts, len(lift.team) or 1)
        yield from (("efforts", row) for row in self._efforts(class_id, state, instant_text(header.started)))

    def people(self) -> Iterator[Row]:
        """A row for each name, once all classes were seen."""
        for name, started in sorted(self._started.items()):
            yield (name, self._person(name), len(started), instant_text(min(started)), instant_text(max(started)))

    def _person(self, name: str) -> str:
        return self._canonical.get(name, name)

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
        for split in taken:
            place = (split.part + 1, state.part(split.part).title, split.round, split.interval + 1, split.station + 1, split.move)
            work = (split.amount, split.unit, seconds(split.window_ms), seconds(split.margin_ms))
            came_to = (seconds(split.split_ms), seconds(split.rest_ms), split.status, split.credited, split.corrected)
            load = (None, None) if split.load is None else (split.load.amount, split.load.unit)
            yield (class_id, *place, split.athlete, self._person(split.athlete), *work, *came_to, *load)

    def _results(self, class_id: str, state: ClassState, found: Sequence[Result]) -> Iterator[Row]:
        for result in found:
            part = state.part(result.part)
            who = (result.athlete, self._person(result.athlete), result.choice)
            reached = (seconds(result.time_ms), result.rounds, result.reps, result.not_finished)
            yield (
                class_id,
                result.part + 1,
                part.title,
                part.kind,
                *who,
                *reached,
                *_scored(result, part),
                " + ".join(result.team),
            )

    def _efforts(self, class_id: str, state: ClassState, started: str) -> Iterator[Row]:
        for load in session_loads(state):
            if load.effort is not None:
                amounts = (_number(load.effort), _rounded(load.minutes), _rounded(load.load))
                yield (class_id, started, load.name, self._person(load.name), *amounts)


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


def export(home: Path, folder: Path) -> str:
    """Writes everything into a new folder.

    Returns:
        What there is now, in a few lines.

    Raises:
        NotFound: nothing has been recorded.
        WrongUsage: the folder is there already and not empty.
        ResourceError: the disk refuses; nothing is left then.
    """
    journals = OutgoingJournals(home)
    tables = Tables(canonical_names(home))
    counts = dict.fromkeys(COLUMNS, 0)
    with new_folder(folder) as made, contextlib.ExitStack() as files:
        out = {}
        for table, columns in COLUMNS.items():
            descriptor = open_private(made / f"{table}.csv", os.O_WRONLY | os.O_CREAT | os.O_EXCL)
            out[table] = files.enter_context(os.fdopen(descriptor, "w", encoding="utf-8", newline=""))
            out[table].write(row(columns))
        for path, data in journals:
            for table, values in tables.rows_of(path.stem, read_bytes(data)):
                out[table].write(row(values))
                counts[table] += 1
        for values in tables.people():
            out["people"].write(row(values))
    words = f"{folder}: {counted(counts['classes'], 'class')}, {counted(counts['splits'], 'split')}, as tables for a spreadsheet."
    return "\n".join([words, *journals.left_out, "These files hold names: keep them as safe as the records."])


class OutgoingJournals:
    """The journals of a data folder with their bytes, one after the other; of one that is open, up to its last whole line.

    Once all were read, `left_out` has the lines that name what did not go out.

    Raises:
        NotFound: nothing has been recorded.
    """

    def __init__(self, home: Path) -> None:
        self._paths = journals_of(home)
        if not self._paths:
            raise NotFound("no class has been recorded yet")
        self._running: list[str] = []
        self._unread: list[str] = []

    def __iter__(self) -> Iterator[tuple[Path, bytes]]:
        for path in self._paths:
            try:
                # Looked at before it is read: a class that ends meanwhile loses nothing.
                runs, data = is_open(path), read_file(path)
            except FileNotFoundError:
                continue
            except OSError as error:
                self._unread.append(f"class {path.stem}: {read_words(error)}")
                continue
            except ResourceError as error:
                self._unread.append(str(error))
                continue
            data = data[: data.rfind(b"\n") + 1] if runs else data
            if data:
                self._running += [path.stem] if runs else []
                yield path, data

    @property
    def left_out(self) -> list[str]:
        """Lines that name the classes of which not everything went out."""
        running = f"Still running, so as far as it was: {', '.join(self._running)}."
        unread = f"Left out, {counted(len(self._unread), 'class')} that cannot be read: {'; '.join(self._unread)}."
        return [*([running] if self._running else []), *([unread] if self._unread else [])]
