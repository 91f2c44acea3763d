"""The cues: signals at an instant, seen and heard, and where those of a part go.

Invariant: cues are placed from the intervals alone, so that a stretched interval moves its cues with it.
A cue that would fall into the interval before the one it speaks of is left out, except the count, which belongs there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum


class CueName(StrEnum):
    """What a cue means. The value is its name in files and on the sheet."""

    COUNT = "count"
    GO = "go"
    HALF = "half"
    LAST_TEN = "last_ten"
    REST = "rest"
    LAST_ROUND = "last_round"
    END = "end"
    PACE = "pace"
    SHUTTLE = "shuttle"
    ATTENTION = "attention"


MEANING: dict[CueName, str] = {
    CueName.COUNT: "the last seconds before work, one pip each",
    CueName.GO: "work begins, at the start of the tone",
    CueName.HALF: "half of the time is gone",
    CueName.LAST_TEN: "ten seconds left",
    CueName.REST: "work is over, rest",
    CueName.LAST_ROUND: "the last round comes",
    CueName.END: "the part is over",
    CueName.PACE: "the beat of an even pace",
    CueName.SHUTTLE: "be at the line now",
    CueName.ATTENTION: "for the coach: look at the screen",
}
"""What each cue tells people."""


@dataclass(frozen=True, slots=True, order=True)
class Cue:
    """A cue at an instant: milliseconds from the start of its part on a timeline, on the class clock in a running class."""

    at_ms: int
    name: CueName


SECOND_MS = 1_000
LONG_ENOUGH_MS = 30_000
"""An interval shorter than this gets neither `last_ten` nor `half`: there the count is near enough."""
LAST_ROUND_BEFORE_MS = 6_000
"""`last_round` is told this long before its go: after `last_ten`, before the count."""

Span = tuple[int, int, bool, int]
"""An interval as (start_ms, end_ms, is work, round)."""


@dataclass(frozen=True, slots=True)
class CuePlan:
    """Which cues a part gets.

    `waves_ms` are later starts within its only interval; `pace` beats fill the time before the margin.
    """

    count: int = 3
    last_ten: bool = True
    half: bool = False
    rest: bool = True
    last_round: bool = True
    pace: int = 0
    margin_ms: int = 0
    waves_ms: tuple[int, ...] = ()
    count_between: int | None = None
    """Pips before the intervals after the first, where they differ from `count`."""


def place_cues(spans: Sequence[Span], length_ms: int | None, count_in_ms: int, plan: CuePlan) -> tuple[Cue, ...]:
    """The cues of a part in order of time."""
    cues: list[Cue] = []
    last_round = spans[-1][3] if spans else 0
    room = count_in_ms
    told = False
    for index, (start, end, is_work, round_number) in enumerate(spans):
        pips = plan.count if index == 0 or plan.count_between is None else plan.count_between
        if is_work:
            if plan.last_round and round_number == last_round > 1 and not told:
                cues.append(Cue(_last_round_at(start, room), CueName.LAST_ROUND))
                told = True
            cues += _start_of_work(start, room, pips)
            cues += _within(start, end, plan)
        elif plan.rest:
            cues.append(Cue(start, CueName.REST))
        room = end - start
    for wave in plan.waves_ms:
        if length_ms is not None and wave >= length_ms:
            continue
        cues += _start_of_work(wave, wave, plan.count)
    if length_ms is not None:
        cues.append(Cue(length_ms, CueName.END))
    # Waves close together share their pips: one signal at an instant is told once.
    return tuple(sorted(dict.fromkeys(cues), key=lambda cue: cue.at_ms))


def _last_round_at(start_ms: int, room_ms: int) -> int:
    # In a short interval there is no quiet place before the go: it is told a second after it.
    return start_ms - LAST_ROUND_BEFORE_MS if room_ms >= 2 * LAST_ROUND_BEFORE_MS else start_ms + SECOND_MS


def _start_of_work(start_ms: int, room_ms: int, pips: int) -> Iterator[Cue]:
    fit = min(pips, room_ms // SECOND_MS)
    for k in range(fit, 0, -1):
        yield Cue(start_ms - k * SECOND_MS, CueName.COUNT)
    yield Cue(start_ms, CueName.GO)


def _within(start_ms: int, end_ms: int, plan: CuePlan) -> Iterator[Cue]:
    length = end_ms - start_ms
    if plan.pace:
        working = length - plan.margin_ms
        for k in range(1, plan.pace + 1):
            yield Cue(start_ms + round(working * k / plan.pace), CueName.PACE)
    if length < LONG_ENOUGH_MS:
        return
    if plan.half:
        yield Cue(start_ms + length // 2, CueName.HALF)
    if plan.last_ten:
        yield Cue(end_ms - 10 * SECOND_MS, CueName.LAST_TEN)
