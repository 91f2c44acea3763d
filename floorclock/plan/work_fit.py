"""Whether work fits its window with the wanted rest to spare, by the guesses of `effort`.

Invariant: a fit that is unknown (no target, no figure for the pattern) is None, never a pass.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from floorclock.plan.effort import seconds_each
from floorclock.plan.work import Target, Unit


@dataclass(frozen=True)
class Fit:
    """A target in a window with a margin; `each_s` is about how long one unit takes."""

    move: str
    target: Target
    each_s: Fraction
    window_ms: int
    margin_ms: int
    pattern: str = ""

    def left_ms(self, round_number: int) -> int:
        """About the rest that is left in a round, to the second (it is a guess)."""
        return round((self.window_ms - self.target.in_round(round_number) * self.each_s * 1000) / 1000) * 1000

    def most_exactly(self) -> Fraction:
        """The largest amount that keeps the margin."""
        return Fraction(self.window_ms - self.margin_ms, 1000) / self.each_s

    def most(self) -> Fraction:
        """The largest amount a coach would write that keeps the margin; zero where there is none."""
        step = {Unit.METRES: 5, Unit.SECONDS: 5}.get(self.target.unit, 1)
        return Fraction(int(self.most_exactly()) // step * step)

    def first_round_over(self, rounds: int) -> int | None:
        """The first of `rounds` rounds whose work leaves less than the margin; None when all fit."""
        most, target = self.most_exactly(), self.target
        if rounds < 1:
            return None
        if target.amount > most:
            return 1
        if target.step <= 0:
            return None
        over = (most - target.amount) // target.step + 2
        return over if over <= rounds else None

    def basis(self) -> str:
        """What the guess rests on, to stand behind a hint."""
        if self.target.unit is Unit.SECONDS:
            return ""
        unit = {Unit.REPS: "a rep", Unit.METRES: "a metre", Unit.CALORIES: "a calorie"}[self.target.unit]
        of = f" of {self.pattern}" if self.pattern else ""
        return f"; taken as {float(self.each_s):g} s {unit}{of}, common practice, no source"


def _fills(target: Target, window_ms: int) -> bool:
    """A hold as long as the window: nobody is meant to be done early."""
    return target.unit is Unit.SECONDS and target.amount * 1000 == window_ms


def fit_of(move: str, target: Target | None, pattern: str, window_ms: int, margin_ms: int) -> Fit | None:
    """The fit of a station's work; None where it has no target, several moves, or nobody could say how long it takes."""
    each = seconds_each(target.unit, pattern) if target is not None else None
    if target is None or each is None or target.unit is Unit.WHOLE or _fills(target, window_ms):
        return None
    return Fit(move, target, each, window_ms, margin_ms, pattern)
