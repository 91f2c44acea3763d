"""A CSV file of splits from paper into an `IntakeSheet`, or into everything that is wrong with it.

Invariant: a sheet comes out only where nothing is wrong with the file; whoever holds one need not check it again.

A part that is measured by splits has a row for each interval of an athlete. A `for_time`, `amrap` or `paced` part has one row
for each athlete: the finish (or when they stopped) in `split` or `time`, whole rounds in `round` or `rounds`, and
what is beyond them in `reps`, what was counted in `score`; `station` is empty or names the alternative they did.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TypeVar

from floorclock.clock.tally import paced_reach
from floorclock.errors import InputProblems, Problem
from floorclock.live.plan_files import Plan
from floorclock.plan.document import in_order
from floorclock.plan.durations import UnreadableError, duration_words, parse_duration_ms, shown
from floorclock.plan.names import nearest, plain
from floorclock.plan.quantities import parse_count
from floorclock.plan.session import Amrap, ForTime, Intervals, Paced, Rotation, Untapped
from floorclock.transfer.cells import unguarded
from floorclock.transfer.paper.places import MOST_COUNTED, NamedStation, Places
from floorclock.transfer.paper.table import Row, Table, read_table

T = TypeVar("T")
NOT_FINISHED = "nf"
MOST_NAMED = 8
SHORTEST_MS = 3_000
"""Nobody works so short; common practice, no source."""
_SECONDS_OR_MINUTES = re.compile(r"([0-9]{1,2})[.,]([0-5][0-9])")
_AMOUNT = re.compile(r"[0-9]{1,5}([.,][0-9]{1,3})?")
_NOT_FINISHED_WORDS = (NOT_FINISHED, "not finished")


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSplit:
    """One athlete in one interval (from 0) of a part; without a split they did not finish.

    `option` is the option that the row says they did, None where it names the station: then they did what the roster says.
    """

    athlete: str
    part: int
    interval: int
    split_ms: int | None
    move: str
    option: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperResult:
    """What one athlete reached or counted in a part; `choice` names the alternative to its work that they did."""

    athlete: str
    part: int
    time_ms: int | None = None
    rounds: int | None = None
    reps: int | None = None
    not_finished: bool = False
    choice: str | None = None
    score: Fraction | None = None
    """What was counted in the whole part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeSheet:
    """All that a paper sheet says, in the order of the file; what nobody wrote down is not in it.

    `form` says how the file was read, in a few words. `absent` are those on the roster without any row: they are taken as
    not there. `unfilled` have rows, but nothing stands in them: they were there, and nothing is known of them.
    """

    splits: tuple[PaperSplit, ...]
    results: tuple[PaperResult, ...]
    form: str = ""
    absent: tuple[str, ...] = ()
    unfilled: tuple[str, ...] = ()

    @property
    def _all(self) -> tuple[PaperSplit | PaperResult, ...]:
        return (*self.splits, *self.results)

    @property
    def last_part(self) -> int:
        """The last part (from 0) that anything was written down in."""
        return max(one.part for one in self._all)

    def last_interval(self, part: int) -> int | None:
        """The last interval of a part that anything was written down in: the class stopped after it, or went on."""
        return max((one.interval for one in self.splits if one.part == part), default=None)

    @property
    def words(self) -> str:
        """What was found, to be told: `612 splits and 12 results of 24 athletes`, and who is taken as not there."""
        people = len({one.athlete for one in self._all})
        found = [(len(self.splits), "split"), (len(self.results), "result")]
        counts = [f"{count} {word}{'' if count == 1 else 's'}" for count, word in found if count]
        words = f"{' and '.join(counts)} of {people} athlete{'' if people == 1 else 's'}"
        if self.absent:
            has, are = ("has", "is") if len(self.absent) == 1 else ("have", "are")
            words += f"; {len(self.absent)} of the roster {has} no row and {are} taken as not there: {_listed(self.absent)}"
        if self.unfilled:
            has = "has" if len(self.unfilled) == 1 else "have"
            words += f"; {len(self.unfilled)} {has} empty rows only, there but untapped: {_listed(self.unfilled)}"
        return words


def _listed(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def read_intake(path: str, text: str | bytes, plan: Plan) -> IntakeSheet:
    """What a file of splits says of a class by this plan.

    Args:
        path: the name of the file, for its problems.
        text: what is in it; UTF-8, with or without a byte order mark.
        plan: the session and the roster that the class followed.

    Raises:
        InputProblems: with everything that is wrong with the file, in its order.
    """
    table, problems = read_table(text, path)
    if table is None:
        raise InputProblems(in_order(problems))
    sheet = _Sheet(table, Places(plan), problems)
    for row in table.rows:
        sheet.take(row)
    if not problems and not sheet.splits and not sheet.results:
        problems.append(Problem(path, 0, 0, "", "there is no split and no result in the file", "fill in the column `split`"))
    if problems:
        raise InputProblems(in_order(problems))
    form = f"fields parted by {'a tab' if table.delimiter == chr(9) else table.delimiter}"
    if table.decimal_comma:
        form += ", a decimal comma in numbers"
    known = {one.athlete for one in sheet.splits} | {one.athlete for one in sheet.results}
    roster = sheet.places.state.athletes
    return IntakeSheet(
        splits=tuple(sheet.splits),
        results=tuple(sheet.results),
        form=form,
        absent=tuple(name for name in roster if name not in sheet.named),
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
    lines: dict[tuple[int, str, int], int] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)
    """Who has a row, filled in or not."""

    def take(self, row: Row) -> None:
        """Takes one row, or says all that is wrong with it."""
        part = self._ask(row, "part", self.places.part)
        name = self._ask(row, "athlete", self.places.athlete)
        self.named |= {name} if name is not None else set()
        # A team stands under its first; the others have no row of their own, but were there.
        self.named |= {other for other in row["team"].split(" + ") if other in self.places.state.athletes}
        plan = None if part is None else self.places.session.parts[part]
        if part is None or plan is None:
            self._ask(row, "split", self._split_ms)
        elif isinstance(plan, Untapped):
            self._say(row, "part", f"nothing is timed in {shown(plan.title)}", "leave the row out")
        elif isinstance(plan, Rotation | Intervals):
            if _has_results(plan) and not row["round"] and not row["station"]:
                self._take_counted(row, part, name)
            else:
                self._take_split(row, part, name)
        else:
            self._take_result(row, part, plan, name)

    def _take_split(self, row: Row, part: int, name: str | None) -> None:
        number = self._ask(row, "round", lambda text: self.places.round(part, text))
        station = self._ask(row, "station", lambda text: self.places.station(part, text))
        not_finished = self._is_not_finished(row)
        split_ms = None if not_finished else self._ask(row, "split", self._split_ms)
        empty = not not_finished and not row["split"]
        if station is not None and self.places.is_rest(part, station):
            if not empty:
                self._say(row, "station", "nobody works there: it is a rest", "leave the row out")
            return
        interval = self._interval(row, part, name, number, station)
        if name is None or station is None or interval is None:
            return
        self._once(row, part, name, interval)
        option = station.option
        if option is None and row["move"]:
            option = self._ask(row, "move", lambda text: self.places.option_by_move(part, name, interval, text))
        window_ms = self.places.runs[part].timeline.intervals[interval].length_ms
        if split_ms is not None and split_ms > window_ms:
            message = f"{duration_words(split_ms)} is longer than the interval of {duration_words(window_ms)}"
            self._say(row, "split", message, f"write {NOT_FINISHED} if they did not finish")
        elif split_ms is not None and self._is_unclear(row, "split", window_ms):
            return
        elif not empty and (split_ms is not None or not_finished):
            move = self.places.session.parts[part].stations[station.index].move
            self.splits.append(
                PaperSplit(athlete=name, part=part, interval=interval, split_ms=split_ms, move=move, option=option)
            )

    def _take_counted(self, row: Row, part: int, name: str | None) -> None:
        """What somebody came to in all of a part with windows: full rounds and reps, or a score."""
        rounds, reps = self._ask(row, "rounds", self._count), self._ask(row, "reps", self._count)
        score = self._ask(row, "score", _score)
        if name is None:
            return
        self._once(row, part, name, -1)
        if (rounds, reps, score) != (None, None, None):
            self.results.append(PaperResult(athlete=name, part=part, rounds=rounds, reps=reps, score=score))

    def _interval(self, row: Row, part: int, name: str | None, number: int | None, station: NamedStation | None) -> int | None:
        if name is None or number is None or station is None:
            return None
        return self._ask(row, "station", lambda _: self.places.interval(part, name, number, station))

    def _take_result(self, row: Row, part: int, plan: ForTime | Amrap | Paced, name: str | None) -> None:
        not_finished = self._is_not_finished(row)
        found = PaperResult(
            athlete=name or "",
            part=part,
            time_ms=self._time_ms(row, part, plan, not_finished=not_finished),
            rounds=self._rounds(row, plan),
            reps=self._ask(row, "reps", self._count),
            not_finished=not_finished,
            choice=self._ask(row, "station", lambda text: _choice(plan, text)),
            score=self._ask(row, "score", _score) if plan.score is not None else None,
        )
        if name is None:
            return
        self._once(row, part, name, 0)
        if isinstance(plan, Paced) and found.time_ms is not None and found.rounds is None and found.reps is None:
            rounds, reps = paced_reach(plan, self.places.runs[part], found.time_ms)
            found = replace(found, rounds=rounds, reps=reps)
        if found != PaperResult(athlete=name, part=part, choice=found.choice):
            self.results.append(found)

    def _time_ms(self, row: Row, part: int, plan: ForTime | Amrap | Paced, *, not_finished: bool) -> int | None:
        """The finish, from `split` or from `time`."""
        split_ms = None if not_finished else self._ask(row, "split", self._split_ms)
        column = "time" if row["time"] else "split"
        time_ms = self._ask(row, "time", self._split_ms) if row["time"] else split_ms
        if time_ms is None:
            return None
        limit_ms = plan.cap_ms if isinstance(plan, ForTime) else self.places.runs[part].timeline.length_ms or 0
        if isinstance(plan, Amrap):
            self._say(
                row, column, f"{shown(plan.title)} has no finish to be timed", "write whole rounds in `round`, more in `reps`"
            )
        elif split_ms is not None and split_ms != time_ms:
            self._say(
                row, "split", f"{shown(row['split'])} here, but {shown(row['time'])} in the column `time`", "keep one of them"
            )
        elif not self._is_unclear(row, column, limit_ms) and time_ms > limit_ms:
            hint = (
                f"write {NOT_FINISHED} if they did not finish" if isinstance(plan, ForTime) else "leave it empty if they stayed"
            )
            self._say(row, column, f"{duration_words(time_ms)} is longer than the {duration_words(limit_ms)} it had", hint)
        return time_ms

    def _rounds(self, row: Row, plan: ForTime | Amrap | Paced) -> int | None:
        """Whole rounds, from `rounds` or from `round`."""
        column = "rounds" if row["rounds"] else "round"
        rounds = self._ask(row, column, self._count)
        most = plan.rounds if isinstance(plan, ForTime) else MOST_COUNTED
        if isinstance(plan, ForTime):
            most = max([most, *(choice.rounds or 0 for choice in plan.choose)])
        if rounds is not None and rounds > most:
            self._say(row, column, f"{rounds} rounds, but {shown(plan.title)} has {most}", "write how many they did in full")
        return rounds

    def _once(self, row: Row, part: int, name: str, interval: int) -> None:
        """Says so where an earlier row spoke of the same already."""
        key = (part, name, interval)
        if key in self.lines:
            message = f"{name} has a row for this already, on line {self.lines[key]}"
            self._say(row, "athlete", message, f"keep line {self.lines[key]} or line {row.line}")
        self.lines.setdefault(key, row.line)

    def _is_not_finished(self, row: Row) -> bool:
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

    def _is_unclear(self, row: Row, column: str, limit_ms: int) -> bool:
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

    def _ask(self, row: Row, column: str, read: Callable[[str], T]) -> T | None:
        """What a field says, or None and a problem."""
        try:
            return read(row[column])
        except UnreadableError as error:
            self._say(row, column, error.message, error.hint)
            return None

    def _say(self, row: Row, column: str, message: str, hint: str = "") -> None:
        self.problems.append(self.table.problem(row, column, message, hint))


def _has_results(plan: Rotation | Intervals) -> bool:
    return plan.score is not None or (isinstance(plan, Rotation) and plan.until_out)


def _score(text: str) -> Fraction | None:
    if not text:
        return None
    if _AMOUNT.fullmatch(text) is None:
        raise UnreadableError(f"{shown(text)} is no score", "write a number, such as 104 or 47.5")
    return Fraction(text.replace(",", "."))


def _choice(plan: ForTime | Amrap | Paced, text: str) -> str | None:
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
