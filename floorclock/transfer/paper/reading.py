"""A CSV file from paper, grids or a row for each split, into an `IntakeSheet`, or into everything that is wrong with it.

Invariant: a sheet comes out only where nothing is wrong with the file; whoever holds one need not check it again.

A part that is measured by splits has a row for each interval of an athlete. A `for_time`, `amrap` or `paced` part has one row
for each athlete: what they reached in `split`, written as on the floor (`8:42`, `9+12`, `nf`); or the finish in `time`, whole
rounds in `round` or `rounds`, and what is beyond them in `reps`. What was counted stands in `score`; `station` is empty or names
the alternative they did.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TypeVar

from floorclock.clock.amend import MOST_SCORE
from floorclock.clock.tally import paced_reach
from floorclock.errors import InputProblems, Problem
from floorclock.live.plan_files import Plan
from floorclock.plan.document import in_order
from floorclock.plan.durations import UnreadableError, duration_words, parse_duration_ms, shown
from floorclock.plan.names import nearest, plain
from floorclock.plan.quantities import parse_count, parse_load, parse_weight
from floorclock.plan.reader import UnusableError, read_text
from floorclock.plan.roster import Assignment
from floorclock.plan.session import Amrap, ForTime, Paced, Piece, Rotation, Untapped, Windowed
from floorclock.plan.typed_result import RESULT_HINT, ResultKind, TypedResult, read_result
from floorclock.plan.work import Load, LoadUnit
from floorclock.transfer.cells import unguarded
from floorclock.transfer.paper.grid import AND, is_grid, read_grid
from floorclock.transfer.paper.places import MOST_COUNTED, NamedStation, Places
from floorclock.transfer.paper.sheet import IntakeSheet, PaperEntry, PaperResult, PaperScore, PaperSplit
from floorclock.transfer.paper.table import SET, SheetRow, Table, read_table

T = TypeVar("T")
NOT_FINISHED = "nf"
MOST_MINUTES = 600
SHORTEST_MS = 3_000
"""Nobody works so short; common practice, no source."""
_SECONDS_OR_MINUTES = re.compile(r"([0-9]{1,2})[.,]([0-5][0-9])")
_AMOUNT = re.compile(r"[0-9]{1,6}([.,][0-9]{1,3})?")
_NOT_FINISHED_START = re.compile(r"(?:nf|not finished)(?![a-z])", re.IGNORECASE)
_NOT_FINISHED_WORDS = (NOT_FINISHED, "not finished")


def read_intake(path: str, text: str | bytes, plan: Plan) -> IntakeSheet:
    """What a file of splits says of a class by this plan.

    Args:
        path: the name of the file, for its problems.
        text: what is in it; UTF-8, with or without a byte order mark.
        plan: the session and the roster that the class followed.

    Raises:
        InputProblems: with everything that is wrong with the file, in its order.
    """
    places = Places(plan)
    try:
        plain_text = read_text(text, path)
    except UnusableError as reason:
        raise InputProblems([reason.problem]) from None
    table, problems = read_grid(plain_text, path, places) if is_grid(plain_text) else read_table(plain_text, path)
    if table is None:
        raise InputProblems(in_order(problems))
    sheet = _Sheet(table, places, problems)
    for row in table.people:
        sheet.name(row)
    for row in table.rows:
        sheet.take(row)
    minutes = None if table.minutes is None else sheet.ask(table.minutes, "minutes", parse_minutes)
    if not problems and not (sheet.splits or sheet.results or sheet.scores):
        where = "write into the grid" if table.is_grid else "fill in the column `split`"
        problems.append(Problem(path, 0, 0, "", "there is no split and no result in the file", where))
    if problems:
        raise InputProblems(in_order(problems))
    form = f"fields parted by {'a tab' if table.delimiter == chr(9) else table.delimiter}"
    if table.decimal_comma:
        form += ", a decimal comma in numbers"
    entries: tuple[PaperEntry, ...] = (*sheet.splits, *sheet.results, *sheet.scores)
    written = {(entry.part, entry.athlete) for entry in entries}
    roster = sheet.places.state.athletes
    absent = tuple(name for name in roster if name not in sheet.named)
    teams = {part: tuple(sheet.teams_of(part, absent)) for part in range(len(places.runs)) if places.state.teams(part)}
    shared = {
        name for part, found in teams.items() for team in found if written & {(part, member) for member in team} for name in team
    }
    known = {name for _, name in written} | shared
    return IntakeSheet(
        splits=tuple(sheet.splits),
        results=tuple(sheet.results),
        scores=tuple(sheet.scores),
        minutes=minutes,
        form=form,
        absent=absent,
        teams=teams,
        unfilled=tuple(name for name in roster if name in sheet.named and name not in known),
    )


@dataclass
class _Sheet:
    """What has been read so far, and what is wrong so far."""

    table: Table
    places: Places
    problems: list[Problem]
    splits: list[PaperSplit] = field(default_factory=list)
    results: list[PaperResult] = field(default_factory=list)
    scores: list[PaperScore] = field(default_factory=list)
    lines: dict[tuple[str, int, str, int], int] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)
    """Who has a row, filled in or not."""
    teams: dict[int, list[tuple[str, ...]]] = field(default_factory=dict)
    """As they stand on the sheet, by part."""

    def name(self, row: SheetRow) -> str | None:
        """Takes note of whose row it is, whatever stands in it."""
        name = self.ask(row, "athlete", self.places.athlete)
        self.named |= {name} if name is not None else set()
        return name

    def take(self, row: SheetRow) -> None:
        """Takes one row, or says all that is wrong with it."""
        part = self.ask(row, "part", self.places.part)
        name = self.name(row)
        if part is not None and name is not None and row["team"]:
            self._team(row, part, name)
        if part is None:
            self.ask(row, "split", self._split_ms)
            return
        plan = self.places.session.parts[part]
        if isinstance(plan, Untapped):
            self._say(row, "part", f"nothing is timed in {shown(plan.title)}", "leave the row out")
        elif isinstance(plan, Windowed):
            has_results = plan.score is not None or (isinstance(plan, Rotation) and plan.until_out)
            if row["score"] and row["round"]:
                self._take_set(row, part, name)
            elif any(row[column] for column in self._set_columns):
                self._take_sets(row, part, name)
            elif has_results and not row["round"] and not row["station"]:
                self._take_counted(row, part, name)
            else:
                self._take_split(row, part, name)
        else:
            self._take_result(row, part, plan, name)

    def _team(self, row: SheetRow, part: int, name: str) -> None:
        """A team stands under its first; the others have no row of their own, but were there."""
        team = self.ask(row, "team", lambda text: tuple(self.places.athlete(other.strip()) for other in text.split(AND)))
        if team is None:
            return
        if name not in team:
            self._say(row, "team", f"{name} is not in {shown(row['team'])}", "write all names of the team, parted by +")
        self.named |= {*team}
        known = self.teams.setdefault(part, [])
        other = next((other for other in known if {*other} & {*team} and other != team), None)
        if other is not None:
            self._say(row, "team", f"{shown(AND.join(team))} and {shown(AND.join(other))} share somebody", "keep one of them")
        elif team not in known:
            known.append(team)

    def teams_of(self, part: int, absent: Collection[str]) -> list[tuple[str, ...]]:
        """Everybody's team in a part, in the order of the board: as written there, or in another part with such teams."""
        order, size = list(self.places.state.athletes), self.places.session.parts[part].team_size
        alike = (teams for other, teams in self.teams.items() if self.places.session.parts[other].team_size == size)
        written = self.teams.get(part) or next(alike, [])
        gone = {*absent, *(name for team in written for name in team)}
        planned = [tuple(name for name in team if name not in gone) for team in self.places.state.teams(part)]
        return sorted([*written, *filter(None, planned)], key=lambda team: order.index(team[0]))

    @property
    def _set_columns(self) -> list[str]:
        return [column for column in self.table.columns if SET.fullmatch(column)]

    def _load(self, row: SheetRow, works: Sequence[Assignment]) -> Load | None:
        """The load that a row says, of the one move among these that may have one."""
        load = self.ask(row, "load", lambda text: parse_load(text) if text else None)
        if load is None or load.unit is LoadUnit.PERCENT:
            return None
        if len(works) == 1 and not works[0].items:
            return load
        self._say(row, "load", f"{shown(row['load'])} may be of several moves", "write it into the roster: loads: {move: 24 kg}")
        return None

    def _load_in(self, row: SheetRow, part: int, name: str, interval: int) -> Load | None:
        work = self.places.state.assignment(name, self.places.runs[part], interval)
        return None if work is None else self._load(row, [work])

    def _take_split(self, row: SheetRow, part: int, name: str | None) -> None:
        number = self.ask(row, "round", lambda text: self.places.round(part, text))
        station = self.ask(row, "station", lambda text: self.places.station(part, text))
        not_finished = self._is_not_finished(row)
        split_ms = None if not_finished else self.ask(row, "split", self._split_ms)
        if station is not None and self.places.is_rest(part, station):
            if not_finished or row["split"]:
                self._say(row, "station", "nobody works there: it is a rest", "leave the row out")
            return
        interval = self._interval(row, part, name, number, station)
        if name is None or station is None or interval is None:
            return
        self._once(row, part, name, interval)
        option = station.option
        if option is None and row["move"]:
            option = self.ask(row, "move", lambda text: self.places.option_by_move(part, name, interval, text))
        window_ms = self.places.runs[part].timeline.intervals[interval].length_ms
        if split_ms is not None and split_ms > window_ms:
            message = f"{duration_words(split_ms)} is longer than the interval of {duration_words(window_ms)}"
            self._say(row, "split", message, f"write {NOT_FINISHED} if they did not finish")
        elif split_ms is not None and self._is_unclear(row, "split", window_ms):
            return
        elif split_ms is not None or not_finished:
            move = self.places.session.parts[part].stations[station.index].move
            self.splits.append(
                PaperSplit(
                    athlete=name,
                    part=part,
                    interval=interval,
                    split_ms=split_ms,
                    move=move,
                    option=option,
                    load=self._load_in(row, part, name, interval),
                )
            )

    def _take_counted(self, row: SheetRow, part: int, name: str | None) -> None:
        """What somebody came to in all of a part with windows: full rounds and reps, or a score."""
        rounds, reps = self.ask(row, "rounds", self._count), self.ask(row, "reps", self._count)
        score = self._score(row, "score", part)
        if name is None:
            return
        self._once(row, part, name, -1)
        if (rounds, reps, score) != (None, None, None):
            self.results.append(PaperResult(athlete=name, part=part, rounds=rounds, reps=reps, score=score))

    def _take_set(self, row: SheetRow, part: int, name: str | None) -> None:
        """What somebody counted in one interval."""
        number = self.ask(row, "round", lambda text: self.places.round(part, text))
        station = self.ask(row, "station", lambda text: self.places.station(part, text))
        interval = self._interval(row, part, name, number, station)
        if name is not None and interval is not None:
            self._count_set(row, "score", part, name, interval)

    def _take_sets(self, row: SheetRow, part: int, name: str | None) -> None:
        """What somebody counted, in a column for each set."""
        if self.places.session.parts[part].score is None:
            self._say(row, "part", "nothing is counted in it", "leave the columns of the sets empty")
            return
        windows = {window.window + 1: at for at, window in enumerate(self.places.runs[part].timeline.intervals)}
        for column in self._set_columns:
            number, found = int(column.removeprefix("score ")), row[column]
            if name is None or not found:
                continue
            interval = windows.get(number)
            if interval is None or interval not in self.places.intervals_of(part, name).values():
                self._say(row, column, f"{name} has no set {number} here", "leave it empty")
            else:
                self._count_set(row, column, part, name, interval)

    def _count_set(self, row: SheetRow, column: str, part: int, name: str, interval: int) -> None:
        amount = self._score(row, column, part)
        self._once(row, part, name, interval, "score")
        if amount is not None:
            load = self._load_in(row, part, name, interval)
            self.scores.append(PaperScore(athlete=name, part=part, interval=interval, amount=amount, load=load))

    def _score(self, row: SheetRow, column: str, part: int) -> Fraction | None:
        """A number; of a load also with its unit."""
        score = self.places.session.parts[part].score
        weighs = score is not None and score.unit == "load" and any(letter.isalpha() for letter in row[column])
        return self.ask(row, column, lambda text: parse_weight(text).in_kg if weighs else _score(text))

    def _interval(
        self, row: SheetRow, part: int, name: str | None, number: int | None, station: NamedStation | None
    ) -> int | None:
        if name is None or number is None or station is None:
            return None
        return self.ask(row, "station", lambda _: self.places.interval(part, name, number, station))

    def _take_result(self, row: SheetRow, part: int, plan: Piece | Paced, name: str | None) -> None:
        not_finished, typed = self._typed(row, plan)
        found = PaperResult(
            athlete=name or "",
            part=part,
            time_ms=self._time_ms(row, part, plan, typed.time_ms),
            rounds=self._rounds(row, plan, typed.rounds),
            reps=self._same(row, "reps", typed.reps, self.ask(row, "reps", self._count)),
            not_finished=not_finished,
            choice=self.ask(row, "station", lambda text: _choice(plan, text)),
            score=self._score(row, "score", part) if plan.score is not None else None,
        )
        if name is None:
            return
        found = replace(found, load=self._load(row, self.places.loaded(part, name)))
        self._once(row, part, name, 0)
        if isinstance(plan, Paced) and found.time_ms is not None and found.rounds is None and found.reps is None:
            rounds, reps = paced_reach(plan, self.places.runs[part], found.time_ms)
            found = replace(found, rounds=rounds, reps=reps)
        if found != PaperResult(athlete=name, part=part, choice=found.choice, load=found.load):
            self.results.append(found)

    def _typed(self, row: SheetRow, plan: Piece | Paced) -> tuple[bool, TypedResult]:
        """(not finished, what stands in `split`): as the floor reads it, and `nf` with what they reached behind it."""
        not_finished = self._is_not_finished(row)
        found = _NOT_FINISHED_START.match(row["split"])
        text = unguarded(row["split"][found.end() :] if found else row["split"]).strip()

        def read(_: str) -> TypedResult:
            if "+" in text or (text and isinstance(plan, Amrap)):
                return read_result(text, _kind(plan))
            return TypedResult(time_ms=self._split_ms(text))

        return not_finished or found is not None, self.ask(row, "split", read) or TypedResult()

    def _time_ms(self, row: SheetRow, part: int, plan: Piece | Paced, typed_ms: int | None) -> int | None:
        """The finish, from `split` or from `time`."""
        column = "time" if row["time"] else "split"
        time_ms = self._same(row, "time", typed_ms, self.ask(row, "time", self._split_ms))
        if time_ms is None:
            return None
        limit_ms = plan.cap_ms if isinstance(plan, ForTime) else self.places.runs[part].timeline.length_ms or 0
        if isinstance(plan, Amrap):
            self._say(row, column, f"{shown(plan.title)} has no finish to be timed", RESULT_HINT["amrap"])
        elif not self._is_unclear(row, column, limit_ms) and time_ms > limit_ms:
            hint = (
                f"write {NOT_FINISHED} if they did not finish" if isinstance(plan, ForTime) else "leave it empty if they stayed"
            )
            self._say(row, column, f"{duration_words(time_ms)} is longer than the {duration_words(limit_ms)} it had", hint)
        return time_ms

    def _rounds(self, row: SheetRow, plan: Piece | Paced, typed: int | None) -> int | None:
        """Whole rounds, from `split`, `rounds` or `round`."""
        column = "rounds" if row["rounds"] else "round" if row["round"] else "split"
        written = self.ask(row, column, self._count) if column != "split" else None
        rounds = self._same(row, column, typed, written)
        most = plan.rounds if isinstance(plan, ForTime) else MOST_COUNTED
        if isinstance(plan, ForTime):
            most = max([most, *(choice.rounds or 0 for choice in plan.choose)])
        if rounds is not None and rounds > most:
            self._say(row, column, f"{rounds} rounds, but {shown(plan.title)} has {most}", "write how many they did in full")
        return rounds

    def _same(self, row: SheetRow, column: str, typed: int | None, written: int | None) -> int | None:
        """What stands in `split` or in a column of its own; says so where the two are not the same."""
        if typed is not None and written is not None and typed != written:
            self._say(
                row, "split", f"{shown(row['split'])} here, but {shown(row[column])} in the column `{column}`", "keep one of them"
            )
        return written if typed is None else typed

    def _once(self, row: SheetRow, part: int, name: str, interval: int, what: str = "split") -> None:
        """Says so where an earlier row spoke of the same already; a set has a split, and in a row of its own what was counted."""
        key = (what, part, name, interval)
        if key in self.lines:
            message = f"{name} has a row for this already, on line {self.lines[key]}"
            self._say(row, "athlete", message, f"keep line {self.lines[key]} or line {row.line}")
        self.lines.setdefault(key, row.line)

    def _is_not_finished(self, row: SheetRow) -> bool:
        """By `nf` in the split; or, where that is empty, by the status in a file that `review --csv` wrote."""
        return (row["split"] or row["status"]).casefold() in _NOT_FINISHED_WORDS

    def _split_ms(self, text: str) -> int | None:
        """A time above zero, None for an empty one."""
        if not text:
            return None
        number = text.replace(",", ".") if self.table.decimal_comma and text.count(",") == 1 and "." not in text else text
        if unguarded(number).startswith(("-", "+")) and number.strip("'+-"):
            raise UnreadableError(f"{shown(text)} is no split: it is above 0 and has no sign", "write it like 43.5 or 0:43.5")
        try:
            split_ms = parse_duration_ms(number)
        except UnreadableError as error:
            told = error.hint if error.hint.startswith("did you mean") else f"write it like 43.5, 0:43.5 or {NOT_FINISHED}"
            if "," in number:
                told = "write it like 43.5: in a file parted by commas a number has a decimal point"
            raise UnreadableError(error.message, told) from None
        if split_ms <= 0:
            raise UnreadableError(f"{shown(text)} is no split: it is above 0", "leave it empty where nobody took it")
        return split_ms

    def _is_unclear(self, row: SheetRow, column: str, limit_ms: int) -> bool:
        """Asks where `1.30` may be meant as 1:30: that fits the time there was, or else nobody works so short.

        A file that `review --csv` wrote has seconds.
        """
        found = _SECONDS_OR_MINUTES.fullmatch(row[column])
        if found is None or "status" in self.table.columns:
            return False
        whole, rest = int(found[1]), int(found[2])
        if (whole * 60 + rest) * 1000 > limit_ms and whole * 1000 >= SHORTEST_MS:
            return False
        message = f"{shown(row[column])} may be {whole}.{rest:02} seconds or {whole}:{rest:02}"
        self._say(row, column, message, f"write {whole}:{rest:02}, or {whole}.{rest:02}0 for seconds")
        return True

    @staticmethod
    def _count(text: str) -> int | None:
        return parse_count(text, 0, MOST_COUNTED) if text else None

    def ask(self, row: SheetRow, column: str, read: Callable[[str], T]) -> T | None:
        """What a field says, or None and a problem."""
        try:
            return read(row[column])
        except UnreadableError as error:
            self._say(row, column, error.message, error.hint)
            return None

    def _say(self, row: SheetRow, column: str, message: str, hint: str = "") -> None:
        self.problems.append(self.table.problem(row, column, message, hint))


def _score(text: str) -> Fraction | None:
    if not text:
        return None
    if _AMOUNT.fullmatch(text) is None:
        raise UnreadableError(f"{shown(text)} is no score", "write a number, such as 104 or 47.5")
    amount = Fraction(text.replace(",", "."))
    if amount > MOST_SCORE:
        raise UnreadableError(f"{shown(text)} is more than anybody counts", f"at most {MOST_SCORE:,}")
    return amount


def _kind(plan: Piece | Paced) -> ResultKind:
    return "for_time" if isinstance(plan, ForTime) else "amrap" if isinstance(plan, Amrap) else "paced"


def parse_minutes(text: str) -> int | None:
    """How long a class was, in whole minutes: `52`, `52 min`; None for an empty text."""
    return parse_count(text.strip().removesuffix("min").strip(), 1, MOST_MINUTES, "number of minutes") if text else None


def _choice(plan: Piece | Paced, text: str) -> str | None:
    """The alternative that a result is of; None for the one on the roster, or the work as written."""
    if not text:
        return None
    names = [] if isinstance(plan, Paced) else [choice.name for choice in plan.choose]
    for name in names:
        if plain(name).casefold() == plain(unguarded(text)).casefold():
            return name
    near = nearest(text, names)
    has = f"it has {', '.join(names)}; leave it empty for the work as written" if names else "leave it empty in this part"
    hint = f"did you mean {near}?" if near else has
    raise UnreadableError(f"{shown(plan.title)} has no alternative {shown(text)}", hint)
