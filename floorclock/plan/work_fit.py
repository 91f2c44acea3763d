"""Whether work fits its window with the wanted rest to spare, by the usual moves.

Invariant: a fit that is unknown (no target, a move that is not among the usual ones) is None, never a pass.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction

from floorclock.plan.moves import USUAL_LEVEL, Moves
from floorclock.plan.roster import Assignment
from floorclock.plan.totals import ladder_sum
from floorclock.plan.work import Station, Target, Unit, amount_said


@dataclass(frozen=True, slots=True)
class MoveTime:
    """One move of the work: about `set_up_ms` and then `each_ms` for one unit, for somebody of a level."""

    move: str
    target: Target
    each_ms: int
    set_up_ms: int
    level: str
    source: str

    def work_ms(self, round_number: int) -> Fraction:
        """About how long it takes in a round."""
        return self.set_up_ms + self.target.in_round(round_number) * self.each_ms

    def said(self, round_number: int) -> str:
        """`14 reps of push-up`."""
        return f"{amount_said(self.target.in_round(round_number), self.target.unit)} of {self.move}"


@dataclass(frozen=True)
class Fit:
    """The work of one window, one move after the other, in a window with a margin."""

    pieces: tuple[MoveTime, ...]
    window_ms: int
    margin_ms: int

    def work_ms(self, round_number: int) -> Fraction:
        """About how long the work takes in a round."""
        return sum((piece.work_ms(round_number) for piece in self.pieces), Fraction(0))

    def total_ms(self, rounds: int) -> Fraction:
        """About how long the work of so many rounds takes."""
        each = (one.set_up_ms * rounds + ladder_sum(one.target, rounds) * one.each_ms for one in self.pieces)
        return sum(each, Fraction(0))

    def left_ms(self, round_number: int) -> int:
        """About the rest that is left in a round, to the second (it is a guess)."""
        return round((self.window_ms - self.work_ms(round_number)) / 1000) * 1000

    def said(self, round_number: int) -> str:
        """`200 m of row and 10 reps of burpee`."""
        return " and ".join(piece.said(round_number) for piece in self.pieces)

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
        set_ups = [f"{one.set_up_ms / 1000:g} s and " if one.set_up_ms else "" for one in known]
        said = [f"{before}{one.each_ms / 1000:g} s {units[one.target.unit]}" for before, one in zip(set_ups, known, strict=True)]
        guessed = ", ".join(dict.fromkeys(one.source for one in known if len(one.source) < 40))
        return f"; taken as {' + '.join(said)}, {known[0].level}" + (f" ({guessed})" if guessed else "")


def fit_of(moves: Moves, work: Station | Assignment, window_ms: int, margin_ms: int, level: str = "") -> Fit | None:
    """The fit of work for somebody of a level; None where it has no amount or nobody could say how long it takes."""
    if work.target is not None and work.target.unit is Unit.SECONDS and work.target.amount * 1000 == window_ms:
        return None  # A hold as long as the window: nobody is meant to be done early.
    pieces = [_piece(moves, one, level) for one in work.items or (work,)]
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
