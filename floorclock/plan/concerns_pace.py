"""Whether the work of a plan fits: its windows, its rests, its caps, its beat, by the records or by the usual moves.

Invariant: what is not known is not guessed at: a fit that is unknown (no target, a move that is not among the usual ones) is
None, never a pass. Where an athlete's own history speaks, the usual moves are silent.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from floorclock.errors import Problem
from floorclock.plan.document import Path
from floorclock.plan.durations import duration_words, whole_words
from floorclock.plan.findings import EVEN, CheckContext
from floorclock.plan.moves import USUAL_LEVEL, Moves
from floorclock.plan.names import MOST_NAMES, listed
from floorclock.plan.roster import Assignment, Athlete, assign
from floorclock.plan.session import AnyPart, ForTime, Intervals, Paced, Piece, Rotation, Windowed
from floorclock.plan.totals import choice_of, ladder_sum, rounds_at
from floorclock.plan.work import LoadUnit, Station, Target, Unit, amount_said

MOST_OF_WINDOW = Fraction(2, 3)
"""Of an interval of about a minute; common practice, no source."""
MINUTE_MS = range(45_000, 90_001)
ALL_OUT = ((range(5_000, 10_001), 12), (range(15_000, 30_001), 3))
"""Work at full effort, and the least rest after it as a multiple (NSCA, Essentials, 4th ed., Table 3.6)."""
STRENGTH_PERCENT, STRENGTH_REPS, STRENGTH_REST_MS = 85, 6, 120_000
"""Rests of 2 to 5 minutes for strength: NSCA, Essentials, 4th ed., Table 17.12. What is strength: the same, from memory."""


def fits(context: CheckContext, part: Windowed, number: int) -> Iterator[Problem]:
    """Work that leaves less than the margin, for whom and from which round on."""
    shortest_ms = min(part.window_ms(index) for index in range(len(part.stations)))
    if context.session.margin_ms(part) >= shortest_ms and any(station.target for station in part.stations):
        margin = duration_words(context.session.margin_ms(part))
        message = f"the rest margin of {margin} leaves no time to work in {duration_words(shortest_ms)}"
        yield context.finding("window", part.path, message, "give the part its own rest_margin: 0 or so")
        return
    for index, (station, rounds) in enumerate(zip(part.stations, rounds_at(part), strict=True)):
        path, window_ms = (*part.path, "stations", index), part.window_ms(index)
        yield from _unlikely(context, (number, index), station, path)
        told = {who for at, here, who in context.records.chances if (at, here) == (number, index)} if context.records else set()
        others = [athlete for athlete in context.athletes if athlete.name not in told]
        margin_ms, over = context.session.margin_ms(part, station), False
        for fit, names in _fits_of(context, others, station, window_ms, margin_ms).items():
            if fit.first_round_over(rounds):
                yield _does_not_fit(context, path, fit, rounds, names)
                over = True
        if not over and isinstance(part, Rotation):
            yield from _minute(context, station, path, window_ms)


def _unlikely(context: CheckContext, place: tuple[int, int], station: Station, path: Path) -> Iterator[Problem]:
    """Who will not make it, by their own history, the least likely first."""
    chances = context.records.chances if context.records else {}
    found = sorted(
        (chances[key].keeps, key[2], chances[key]) for key in chances if key[:2] == place and chances[key].keeps < EVEN
    )
    if not found:
        return
    names = [f"{name} ({100 * keeps:.0f} %)" for keeps, name, _ in found]
    first = [chance.first_round for _, _, chance in found if chance.first_round]
    since = f", from round {min(first)} on" if first else ""
    message = f"{listed(names, MOST_NAMES)} will hardly keep the margin at {station.move}{since}: so likely by their last classes"
    yield context.finding("chance", path, message, "`floorclock targets --write` puts what they can hold into the roster")


def _fits_of(
    context: CheckContext, athletes: Sequence[Athlete], station: Station, window_ms: int, margin_ms: int
) -> Mapping[Fit, tuple[str, ...]]:
    """The work of everybody, with their names; without a roster as it is written."""
    if not context.athletes:
        as_written = fit_of(context.moves, station, window_ms, margin_ms)
        return {} if as_written is None else {as_written: ()}
    found: dict[Fit, tuple[str, ...]] = {}
    for athlete in () if station.is_rest else athletes:
        own = margin_ms if athlete.rest_margin_ms is None else athlete.rest_margin_ms
        if own >= window_ms:
            # No work fits then; that is said once, where their margin is written (`read_roster`).
            continue
        fit = fit_of(context.moves, assign(athlete, station), window_ms, own, athlete.level)
        if fit is not None:
            found[fit] = (*found.get(fit, ()), athlete.name)
    return found


def _does_not_fit(context: CheckContext, path: Path, fit: Fit, rounds: int, names: tuple[str, ...]) -> Problem:
    round_number = fit.first_round_over(rounds) or 1
    who = f"{listed(names, MOST_NAMES)}: " if names else ""
    since = f" in round {round_number}" if round_number > 1 else ""
    left_ms = fit.left_ms(round_number)
    window, margin = duration_words(fit.window_ms), duration_words(fit.margin_ms)
    rest = (
        f"leaves {duration_words(left_ms)} of {window}"
        if left_ms >= 0
        else f"is {duration_words(-left_ms)} too long for {window}"
    )
    message = f"{who}{fit.said(round_number)}{since} {rest}, under the rest margin of {margin}"
    most = fit.most()
    better = f"{amount_said(most, fit.pieces[0].target.unit)} would keep it" if most else "give it less, or a longer interval"
    return context.finding("window", path, message, better + fit.basis())


def _minute(context: CheckContext, station: Station, path: Path, window_ms: int) -> Iterator[Problem]:
    """Work that keeps the margin, but is more of a minute than most coaches would give."""
    fit = fit_of(context.moves, station, window_ms, 0) if window_ms in MINUTE_MS else None
    work_ms = fit.work_ms(1) - sum(piece.set_up_ms for piece in fit.pieces) if fit is not None else 0
    if fit is not None and work_ms > window_ms * MOST_OF_WINDOW:
        took, most = whole_words(work_ms), whole_words(window_ms * MOST_OF_WINDOW)
        message = f"{fit.said(1)} is about {took} of work in {duration_words(window_ms)}; usual is at most about {most}"
        yield context.finding(
            "rest", path, message, "less of it, where it is to hold to the last round (common practice, no source)", "note"
        )


def guidance(context: CheckContext, part: Windowed) -> Iterator[Problem]:
    """Rests far from what is published for the kind of work."""
    if isinstance(part, Intervals) and part.rest_ms and any(station.target and station.target.most for station in part.stations):
        times = next((least for span, least in ALL_OUT if part.work_ms in span), 0)
        if part.rest_ms < times * part.work_ms:
            work, rest = duration_words(part.work_ms), duration_words(part.rest_ms)
            message = f"{rest} of rest after {work}: for full effort at least {times} times the work is published"
            better = duration_words(times * part.work_ms)
            hint = f"rest: {better}, or count on the numbers to fall (NSCA, Essentials, 4th ed., Table 3.6)"
            yield context.finding("rest", (*part.path, "rest"), message, hint, "note")
    if len({station.move for station in part.stations}) != 1:
        return
    for index, station in enumerate(part.stations):
        load, target = station.load, station.target
        heavy = load is not None and load.unit is LoadUnit.PERCENT and load.amount >= STRENGTH_PERCENT
        if not heavy or target is None or target.unit is not Unit.REPS or target.amount > STRENGTH_REPS:
            continue
        fit = fit_of(context.moves, station, part.window_ms(index), 0)
        rest_ms = (fit.left_ms(1) if fit else part.window_ms(index)) + (part.rest_ms if isinstance(part, Intervals) else 0)
        if load is not None and rest_ms < STRENGTH_REST_MS:
            message = f"about {duration_words(rest_ms)} of rest after {target.plan_words()} at {load.words()}"
            hint = "for strength 2:00 to 5:00 are published (NSCA, Essentials, 4th ed., Table 17.12)"
            yield context.finding("rest", (*part.path, "stations", index), message, hint, "note")


def caps(context: CheckContext, part: AnyPart) -> Iterator[Problem]:
    """Who is not likely to finish under the cap, or even one round, by the usual moves."""
    if not isinstance(part, Piece):
        return
    limit_ms, key = part.limit_ms, "cap" if isinstance(part, ForTime) else "time"
    over: dict[int, list[str]] = {}
    for athlete in context.athletes or (None,):
        needed = piece_ms(context, part, athlete)
        if needed is not None and needed > limit_ms:
            over.setdefault(int(-(-needed // 10_000)) * 10_000, []).append(athlete.name if athlete else "")
    if over:
        names = [name for _, here in sorted(over.items(), reverse=True) for name in here if name]
        worst = max(max(over), limit_ms)
        what = "the work" if isinstance(part, ForTime) else "one round"
        who, limit = f"{listed(names, MOST_NAMES)}: " if names else "", duration_words(limit_ms)
        message = f"{who}{what} takes up to about {duration_words(worst)}, {key} {limit}"
        hint = "fewer rounds or less work for them (`choose`, options)" if names else f"less of it, or a longer {key}"
        yield context.finding("window", (*part.path, key), message, f"{hint}; by the usual moves")


def piece_ms(context: CheckContext, part: Piece, athlete: Athlete | None) -> Fraction | None:
    """About how long an athlete needs for all of a `for_time`, or one round of an `amrap`; None where nobody could say."""
    choice = choice_of(part, athlete)
    rounds = ((choice.rounds if choice else None) or part.rounds) if isinstance(part, ForTime) else 1
    once = (*part.buy_in, *part.cash_out) if isinstance(part, ForTime) else ()
    if part.team_size > 1:
        return None
    total = Fraction(part.round_rest_ms * (rounds - 1)) if isinstance(part, ForTime) else Fraction(0)
    for stations, times in ((once, 1), ((choice.work if choice else ()) or part.work, rounds)):
        for station in stations:
            work = station if athlete is None else assign(athlete, station)
            fit = fit_of(context.moves, work, 0, 0, athlete.level if athlete else "")
            if fit is None:
                return None
            total += fit.total_ms(times)
    return total


def tempo(context: CheckContext, part: AnyPart) -> Iterator[Problem]:
    """A beat faster than even strong people usually are."""
    if not isinstance(part, Paced) or not part.beats_per_minute:
        return
    move = context.moves.find(part.move)
    by_level = move.each_ms.get(Unit.REPS) if move else None
    each_ms = 60_000 * part.beats_per_rep / part.beats_per_minute
    if by_level and each_ms < min(by_level.values()) * Fraction(9, 10):
        fastest_ms = min(by_level.values())
        usual = f"even strong people usually take {fastest_ms / 1000:g} s a rep of {part.move}"
        message = f"a rep every {float(each_ms) / 1000:.1f} s; {usual}"
        beat = 60_000 * part.beats_per_rep // fastest_ms
        yield context.finding("window", (*part.path, "beat"), message, f"beat: {beat} per minute, or more beats_per_rep")


def unknown(context: CheckContext) -> Iterator[Problem]:
    """The moves of which nobody could say beforehand how long they take; said once."""
    first: Path = ()
    names: dict[str, None] = {}
    for part in context.session.parts:
        for steps, station in part.moves():
            target = station.target
            if target is None or target.most or target.unit is Unit.SECONDS:
                continue
            known = context.moves.find(station.move)
            if known is None or known.ms_of_one(target.unit) is None:
                first = first or (*part.path, *steps)
                names.setdefault(station.move)
    if names:
        message = f"no usual time is known of {listed(tuple(names), MOST_NAMES)}: whether it fits, only a class will tell"
        yield context.finding("pace", first, message, "write it into your own moves.yaml, or see after the first class", "note")


@dataclass(frozen=True, slots=True)
class MoveTime:
    """One move of the work: about `set_up_ms` and then `each_ms` for one unit, for somebody of a level."""

    move: str
    target: Target
    each_ms: int
    set_up_ms: int
    level: str
    source: str


@dataclass(frozen=True)
class Fit:
    """The work of one window, one move after the other, in a window with a margin."""

    pieces: tuple[MoveTime, ...]
    window_ms: int
    margin_ms: int

    def work_ms(self, round_number: int) -> Fraction:
        """About how long the work takes in a round."""
        each = (piece.set_up_ms + piece.target.in_round(round_number) * piece.each_ms for piece in self.pieces)
        return sum(each, Fraction(0))

    def total_ms(self, rounds: int) -> Fraction:
        """About how long the work of so many rounds takes."""
        each = (piece.set_up_ms * rounds + ladder_sum(piece.target, rounds) * piece.each_ms for piece in self.pieces)
        return sum(each, Fraction(0))

    def left_ms(self, round_number: int) -> int:
        """About the rest that is left in a round, to the second (it is a guess)."""
        return round((self.window_ms - self.work_ms(round_number)) / 1000) * 1000

    def said(self, round_number: int) -> str:
        """`200 m of row and 10 reps of burpee`."""
        amounts = [amount_said(piece.target.in_round(round_number), piece.target.unit) for piece in self.pieces]
        return " and ".join(f"{amount} of {piece.move}" for amount, piece in zip(amounts, self.pieces, strict=True))

    def most(self) -> Fraction:
        """The largest amount a coach would write that keeps the margin; zero where there is none, or several moves."""
        if len(self.pieces) > 1:
            return Fraction(0)
        (one,) = self.pieces
        step = {Unit.METRES: 5, Unit.SECONDS: 5}.get(one.target.unit, 1)
        time_ms = self.window_ms - self.margin_ms - one.set_up_ms
        return Fraction(max(0, time_ms // one.each_ms) // step * step)

    def first_round_over(self, rounds: int) -> int | None:
        """The first of `rounds` rounds whose work leaves less than the margin; None when all fit."""

        def over(round_number: int) -> bool:
            return self.work_ms(round_number) > self.window_ms - self.margin_ms

        written = min(rounds, max(len(piece.target.amounts) for piece in self.pieces) or 1)
        early = next((number for number in range(1, written + 1) if over(number)), None)
        if early is not None or all(piece.target.step <= 0 for piece in self.pieces):
            return early
        number = bisect_left(range(1, rounds + 1), True, key=over) + 1
        return number if number <= rounds else None

    def basis(self) -> str:
        """What the guess rests on, to stand behind a hint."""
        known = [piece for piece in self.pieces if piece.target.unit is not Unit.SECONDS]
        if not known:
            return ""
        units = {Unit.REPS: "a rep", Unit.METRES: "a metre", Unit.CALORIES: "a calorie"}
        set_ups = [f"{piece.set_up_ms / 1000:g} s and " if piece.set_up_ms else "" for piece in known]
        said = [
            f"{before}{piece.each_ms / 1000:g} s {units[piece.target.unit]}" for before, piece in zip(set_ups, known, strict=True)
        ]
        guessed = ", ".join(dict.fromkeys(piece.source for piece in known if len(piece.source) < 40))
        return f"; taken as {' + '.join(said)}, {known[0].level}" + (f" ({guessed})" if guessed else "")


def fit_of(moves: Moves, work: Station | Assignment, window_ms: int, margin_ms: int, level: str = "") -> Fit | None:
    """The fit of work for somebody of a level; None where it has no amount or nobody could say how long it takes."""
    if work.target is not None and work.target.unit is Unit.SECONDS and work.target.amount * 1000 == window_ms:
        return None  # A hold as long as the window: nobody is meant to be done early.
    pieces = [_piece(moves, item, level) for item in work.items or (work,)]
    known = tuple(piece for piece in pieces if piece is not None)
    return Fit(known, window_ms, margin_ms) if known and len(known) == len(pieces) else None


def _piece(moves: Moves, work: Station | Assignment, level: str) -> MoveTime | None:
    target, move = work.target, moves.find(work.move)
    if target is None or target.most:
        return None
    if target.unit is Unit.SECONDS:
        return MoveTime(work.move, target, 1000, 0, "", "")
    each_ms = move.ms_of_one(target.unit, level) if move is not None else None
    if move is None or each_ms is None:
        return None
    known = level if level in move.each_ms[target.unit] else USUAL_LEVEL
    return MoveTime(work.move, target, each_ms, move.set_up_ms, known, move.source)
