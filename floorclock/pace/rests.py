"""The rests of one athlete at one station in a row, as they are said: `rest 18, 15 | 22, 15 s`.

Invariant: whole seconds, rounded down, so never more rest than there was; `?` where nobody tapped. A `|` stands where the target
or the move changed in between, so that a rest the coach gave back is not taken for a recovery.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from floorclock.clock.splits import Coming, Split, Status

Steps = Mapping[tuple[int, str], Fraction]
"""What the plan adds to a target with each round, by station and move."""


def later(amount: Fraction, step: Fraction, rounds: int) -> Fraction:
    """What a target gives so many rounds later (earlier, where negative); a falling ladder stops at zero."""
    return max(Fraction(0), amount + step * rounds)


def steps_of(slots: Iterable[Coming]) -> dict[tuple[int, str], Fraction]:
    """The steps of all work in some slots."""
    return {(slot.station, slot.move): slot.step for slot in slots}


def changed(splits: Sequence[Split], steps: Steps) -> tuple[bool, ...]:
    """For each of an athlete's splits at one station, in order: whether its work is other than the one before spoke of.

    An untapped interval is no sign of either: it has the target that stands now. Where the step is not known (another option
    than that of now), only another move counts.
    """
    found, before = [], None
    for split in splits:
        found.append(before is not None and split.status is not Status.UNTAPPED and _is_other(before, split, steps))
        if split.status is not Status.UNTAPPED:
            before = split
    return tuple(found)


def _is_other(before: Split, split: Split, steps: Steps) -> bool:
    if before.unit is not split.unit or before.move != split.move:
        return True
    step = steps.get((split.station, split.move))
    if step is None or before.amount is None or split.amount is None:
        return False
    return split.amount != later(before.amount, step, split.round - before.round)


def in_a_row(words: Sequence[str], marks: Sequence[bool]) -> str:
    """`18, 15 | 22, 15`: a bar instead of a comma before each word that has a mark."""
    text = ""
    for word, mark in zip(words, marks, strict=True):
        text += (" | " if mark else ", ") * bool(text) + word
    return text


def rests_words(splits: Sequence[Split], steps: Steps, most: int, *, not_finished: str | None = "not finished") -> str:
    """`rest 24, 21, ?, 12 s`: the latest `most` rounds of an athlete's splits at one station; empty where none is to be said.

    Args:
        splits: in order, one station's.
        steps: of the plan, to tell a changed target from a ladder.
        most: how many are said.
        not_finished: the word for one that was not finished; None leaves those out, and the untapped ones with them.
    """
    told = splits if not_finished is not None else [split for split in splits if split.split_ms is not None]
    row = in_a_row([_word(split, not_finished or "") for split in told[-most:]], changed(told, steps)[-most:])
    return f"rest {row} s" if row else ""


def _word(split: Split, not_finished: str) -> str:
    rest_ms = split.rest_ms
    if rest_ms is None:
        return not_finished if split.status is Status.NOT_FINISHED else "?"
    return str(rest_ms // 1000)
