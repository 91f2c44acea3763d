"""What stands in a table of the page: tables as plain values, and the words of their cells.

Invariant: a sign stands with a word or under a caption that has one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from floorclock.clock.splits import Status
from floorclock.digest.summary import FlaggedSplit, PartSummary
from floorclock.digest.words import WAY_SIGN, target_words
from floorclock.pace.advice import Advice
from floorclock.pace.flags import SYMBOL, Flag, is_tight


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells under headings; the first cell of a row is its heading. `person` is who a row is about, if anybody."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    people: tuple[int | None, ...] = ()


def sign_words(flag: Flag) -> str:
    """`! tight`."""
    return f"{SYMBOL[flag]} {flag}"


def with_part(index: int, because: str, parts: Sequence[PartSummary]) -> str:
    """Names the part where there are several it could be."""
    timed = [part for part in parts if part.is_timed_by_splits]
    here = next((part for part in timed if part.index == index), None)
    return f"{because} ({here.title})" if here is not None and len(timed) > 1 else because


def rest_cell(one: FlaggedSplit) -> str:
    """Whole seconds, rounded down: never more than there was."""
    if one.split.rest_ms is None:
        return SYMBOL[Flag.NOT_FINISHED] if one.split.status is Status.NOT_FINISHED else "?"
    return f"{one.split.rest_ms // 1000}{SYMBOL[Flag.TIGHT] if is_tight(one.split) else ''}"


def target_cell(advice: Advice | None, *, with_move: bool = True) -> str:
    """What to give and the sign of its way: `8 -`; with the athlete's own move, unless that stands beside it already."""
    return "" if advice is None else f"{target_words(advice, with_move=with_move)} {WAY_SIGN[advice.way]}"
