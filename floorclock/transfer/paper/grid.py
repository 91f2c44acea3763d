"""The sheet that a coach writes on: for each part a grid, people down and rounds across; printed empty, and read back.

Invariant: what `blank_sheet` prints is read by `read_grid` for the same plan, filled in or not; each field becomes one row as
the long form has it, and keeps the line and column where it stands.

    session,Quay and back
    minutes,
    part 2,The quay,...
    round,1,1,2,2
    station,step-up,row,step-up,row
    Ilka,43.5,nf,,
    part 4,Carry and sit,...
    athlete,result
    Ilka,9+12
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby

from floorclock.clock.run import PartRun
from floorclock.errors import Problem
from floorclock.live.plan_files import Plan
from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.session import Amrap, AnyPart, ForTime, Paced, Untapped, Windowed
from floorclock.plan.work import station_names
from floorclock.transfer.cells import row, unguarded
from floorclock.transfer.paper.places import Places, is_scored_once
from floorclock.transfer.paper.table import LONGEST_FIELD, SheetReader, SheetRow, Table

MOST_ACROSS = 10
"""Fields beside a name: with a spreadsheet's usual columns, so many fill an A4 page on its side; more go into a second grid."""
ABSENT, NOWHERE, AND = "absent", "x", " + "
_FIRST_LINE = re.compile(r'"?session"?([,;\t])', re.IGNORECASE)
_WITH_LOAD = re.compile(r"(?P<what>.*?)\s*(?:@|\bat\b)\s*(?P<load>\S.*)", re.IGNORECASE)
_PART = re.compile(r"part\s+([0-9]{1,4})", re.IGNORECASE)


def blank_sheet(plan: Plan) -> str:
    """The empty sheet as CSV (RFC 4180), part after part. A field that is nobody's is marked."""
    places = Places(plan)
    lines: list[Sequence[object]] = [
        ("session", plan.session.title),
        ("minutes", "", "how long the class was; who was not there: absent behind the name"),
    ]
    for run in places.runs:
        if not isinstance(run.part, Untapped):
            lines += _block(places, run)
    width = max(map(len, lines))
    return "".join(row((*line, *[""] * (width - len(line)))) for line in lines)


def is_grid(text: str) -> bool:
    """Whether a file begins like a sheet of grids."""
    return _FIRST_LINE.match(text) is not None


def _block(places: Places, run: PartRun) -> Iterator[Sequence[object]]:
    head = (f"part {run.index + 1}", run.part.title, _how(run.part))
    if _is_one_field(run.part):
        yield ()
        yield head
        choose = getattr(run.part, "choose", ())
        yield ("athlete", "result", *(["work"] if choose else []))
        yield from ((AND.join(team),) for team in _teams(places, run))
        return
    names = station_names(run.part.stations)
    for band in _bands(sorted({place for name in places.state.athletes for place in places.intervals_of(run.index, name)})):
        yield ()
        yield head
        yield ("round", *(number for number, _ in band))
        yield ("station", *(names[station] for _, station in band))
        for team in _teams(places, run):
            theirs = places.intervals_of(run.index, team[0])
            yield (AND.join(team), *("" if place in theirs else NOWHERE for place in band))


def _bands(columns: Sequence[tuple[int, int]]) -> Iterator[list[tuple[int, int]]]:
    """Whole rounds, as many as stand side by side; a round that is wider than the page stands alone."""
    band: list[tuple[int, int]] = []
    for _, columns_of_round in groupby(columns, key=lambda place: place[0]):
        here = list(columns_of_round)
        if band and len(band) + len(here) > MOST_ACROSS:
            yield band
            band = []
        band = band + here
    if band:
        yield band


def _teams(places: Places, run: PartRun) -> list[tuple[str, ...]]:
    """Who has a line together: each athlete alone, or the teams of a part for teams, in the order of the board."""
    return places.state.teams(run.index) or [(name,) for name in places.state.athletes]


def _is_one_field(part: AnyPart) -> bool:
    return not isinstance(part, Windowed) or is_scored_once(part)


def _how(part: AnyPart) -> str:
    """What to write in a field of a part."""
    if part.score is not None:
        return f"{'kg' if part.score.unit == 'load' else part.score.unit}{'' if _is_one_field(part) else ' of each set'}"
    if isinstance(part, Amrap):
        return "rounds + reps: 9+12"
    if isinstance(part, Paced):
        return "when they stopped: 2:10, or stage + shuttle: 5+3"
    if isinstance(part, ForTime):
        return "the time: 8:42, or nf 3+5 (rounds + reps)"
    return "done after: 43.5 or 0:43.5; nf: not finished"


@dataclass
class _Block:
    """The grid that is being read: which part, and what the fields of a line are. None: its head is not read yet."""

    part: str
    round: list[str] | None = None
    columns: list[tuple[str, str]] | None = None
    """(round, station) of each field; for one field, the columns of a result."""
    one_field: bool = False
    is_for_teams: bool = False
    value: str = "split"
    """The column of the long form that a field is."""


def read_grid(text: str, file: str, places: Places) -> tuple[Table, list[Problem]]:
    """The fields of a filled sheet as rows, and what is wrong with its form. What stands in a field is not looked at."""
    found = _FIRST_LINE.match(text)
    return _GridReader(file, places, found[1] if found else ",").read(text)


class _GridReader(SheetReader):
    def __init__(self, file: str, places: Places, delimiter: str) -> None:
        super().__init__(file, delimiter)
        self.places = places
        self.rows: list[SheetRow] = []
        self.people: list[SheetRow] = []
        self.minutes: SheetRow | None = None
        self.block: _Block | None = None

    def read(self, text: str) -> tuple[Table, list[Problem]]:
        for line, record in self.records(text):
            fields = [cell.strip() for cell in record]
            if any(fields):
                self._line(line, fields)
        if self.block is None and not self.problems:
            self.say(1, 1, "no part stands in the sheet", "print a new one with --blank")
        table = Table(
            self.file, self.delimiter, {}, tuple(self.rows), people=tuple(self.people), minutes=self.minutes, is_grid=True
        )
        return table, self.problems

    def _line(self, line: int, fields: list[str]) -> None:
        for number, text in enumerate(fields, start=1):
            if len(text) > LONGEST_FIELD:
                self.say(line, number, f"{len(text):,} characters are too many here", f"at most {LONGEST_FIELD}")
                return
        word, block = fields[0].casefold(), self.block
        if block is not None and block.columns is not None and self._who(fields[0]):
            self._person(block, line, fields)
        elif line == 1:
            self._session(line, fields)
        elif word == "minutes" and len(fields) > 1:
            self.minutes = SheetRow(line, {"minutes": fields[1]}, {"minutes": 2})
        elif found := _PART.fullmatch(fields[0]):
            self._begin(line, found[1])
        elif block is None:
            self.say(line, 1, f"{shown(fields[0])} stands before the first part", "begin a part with a line such as part 1")
        elif block.columns is None:
            self._head(block, line, word, fields)
        else:
            self._person(block, line, fields)

    def _session(self, line: int, fields: list[str]) -> None:
        title = unguarded(fields[1]) if len(fields) > 1 else ""
        if title and title.casefold() != self.places.session.title.casefold():
            self.say(line, 2, f"this sheet is of {shown(title)}", f"the plan is {shown(self.places.session.title)}")

    def _begin(self, line: int, number: str) -> None:
        block = self.block = _Block(number)
        try:
            part = self.places.session.parts[self.places.part(number)]
        except UnreadableError as error:
            self.say(line, 1, error.message, error.hint)
            return
        block.one_field = _is_one_field(part)
        block.is_for_teams = part.team_size > 1
        block.value = "split" if part.score is None else "score"

    def _head(self, block: _Block, line: int, word: str, fields: list[str]) -> None:
        wanted = "athlete" if block.one_field else "round" if block.round is None else "station"
        if word != wanted:
            self.say(line, 1, f"{shown(fields[0])} stands where the line `{wanted}` belongs", "print a new sheet with --blank")
        elif wanted == "athlete":
            block.columns = [(name.casefold(), "") for name in fields[1:] if name.casefold() in ("result", "work")]
        elif wanted == "round":
            block.round = fields[1:]
        else:
            columns = list(zip(block.round or [], fields[1:], strict=False))
            block.columns = columns[: max((at for at, place in enumerate(columns, start=1) if any(place)), default=0)]

    def _who(self, text: str) -> list[str]:
        """The athletes whose line it is, empty where nobody is called so."""
        for names in ([text], text.split(AND)):
            with suppress(UnreadableError):
                return [self.places.athlete(name.strip()) for name in names]
        return []

    def _person(self, block: _Block, line: int, fields: list[str]) -> None:
        columns = block.columns or []
        if any(text.casefold() == ABSENT for text in fields[1:]):
            self._absent(line, fields)
            return
        who = self._who(fields[0]) or [fields[0]]
        for number, text in enumerate(fields[1:], start=2):
            # Of a team, one may be missing: `Bram absent`.
            missing = self._who(text[: -len(ABSENT)]) if len(who) > 1 and text.casefold().endswith(f" {ABSENT}") else []
            if missing and missing[0] in who:
                who, fields[number - 1] = [name for name in who if name not in missing], ""
        self.people += [SheetRow(line, {"athlete": name}, {"athlete": 1}) for name in who]
        if block.one_field:
            written = dict(zip((name for name, _ in columns), fields[1:], strict=False))
            result, work = written.get("result", ""), written.get("work", "")
            if result or work:
                self._take(block, line, 2, who, {"round": "", "station": work, block.value: result})
        else:
            for number, (text, (round_number, station)) in enumerate(zip(fields[1:], columns, strict=False), start=2):
                if text and not (text.casefold() == NOWHERE and self._is_nowhere(block, who[0], round_number, station)):
                    self._take(block, line, number, who, {"round": round_number, "station": station, block.value: text})
        for number, text in enumerate(fields[1 + len(columns) :], start=2 + len(columns)):
            if text:
                self.say(line, number, f"{shown(text)} stands under no round", "write it under the round it is of")

    def _absent(self, line: int, fields: list[str]) -> None:
        for number, text in enumerate(fields[1:], start=2):
            if text and text.casefold() not in (ABSENT, NOWHERE):
                self.say(line, number, f"{fields[0]} is absent, and has {shown(text)}", "keep one of them")

    def _take(self, block: _Block, line: int, column: int, who: list[str], values: dict[str, str]) -> None:
        places = dict.fromkeys(("part", "round", "split", "score", "load", "station"), column) | {"athlete": 1, "team": 1}
        if with_load := _WITH_LOAD.fullmatch(values[block.value]):
            values |= {block.value: with_load["what"], "load": with_load["load"]}
        team = AND.join(who) if block.is_for_teams else ""
        self.rows.append(SheetRow(line, {"part": block.part, "athlete": who[0], "team": team, **values}, places))

    def _is_nowhere(self, block: _Block, name: str, round_number: str, station: str) -> bool:
        """Whether the athlete does not work at the station in that round, so that the mark in the field says nothing."""
        try:
            part = self.places.part(block.part)
            place = self.places.round(part, round_number), self.places.station(part, station).index
            return place not in self.places.intervals_of(part, self.places.athlete(name))
        except UnreadableError:
            return False
