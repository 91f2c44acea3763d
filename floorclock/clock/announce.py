"""What is said of a station before its work begins, and when the words have to be over.

Invariant: words end before the first signal that belongs to the same start, so that nobody talks over a count.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from floorclock.clock.timeline import LAST_ROUND_BEFORE_MS, SECOND_MS, PartTimeline, station_index
from floorclock.plan.session import AnyPart, Windowed
from floorclock.plan.work import Target, Unit

_SPOKEN = {Unit.REPS: "", Unit.METRES: "metres", Unit.CALORIES: "calories", Unit.SECONDS: "seconds"}
PAUSE_MS = 300
"""Between the end of the words and the first pip."""
LEAST_ROOM_MS = 8_000
"""An interval shorter than this has no room for words between its signals."""


@dataclass(frozen=True, slots=True)
class Announcement:
    """Words that end at a position on the part's clock."""

    ends_at_ms: int
    words: str


def announcements(part: AnyPart, timeline: PartTimeline, groups: Collection[int]) -> Iterator[Announcement]:
    """What is said in a part: before each start that has room for it, what comes next. Nothing where nobody works."""
    intervals = timeline.intervals
    room_ms = timeline.count_in_ms
    last_round = intervals[-1].round if intervals else 0
    told = False
    for index, interval in enumerate(intervals):
        turns_last = interval.round == last_round > 1 and not told and interval.window >= 0
        if interval.window >= 0 and room_ms >= LEAST_ROOM_MS:
            before_ms = timeline.plan.cues.count * SECOND_MS
            if turns_last and timeline.plan.cues.last_round:
                before_ms = max(before_ms, LAST_ROUND_BEFORE_MS)
            words = _words(part, timeline, index, groups)
            if words:
                yield Announcement(interval.start_ms - before_ms - PAUSE_MS, words)
        told = told or turns_last
        room_ms = interval.length_ms


def _words(part: AnyPart, timeline: PartTimeline, index: int, groups: Collection[int]) -> str:
    first = "first" if index == 0 else "next"
    if not isinstance(part, Windowed):
        return f"get ready: {part.title}" if index == 0 else ""
    interval = timeline.intervals[index]
    at = {station_index(part, interval.window, group) for group in groups}
    if len(at) > 1:
        return f"get ready: {part.title}" if index == 0 else "next station"
    station = part.stations[at.pop()]
    if station.is_rest:
        return f"{first}, rest"
    goal = amount_spoken(station.target, interval.round) if station.target else ""
    return f"{first}, {station.move}" + (f", {goal}" if goal else "")


def amount_spoken(target: Target, round_number: int) -> str:
    """`10`, `200 metres`, `40 seconds`: what a voice says of a target in a round."""
    if target.most or target.each_side or target.upper is not None or target.unit is Unit.WHOLE:
        return "" if target.unit is Unit.WHOLE else target.words(round_number)
    amount = target.in_round(round_number)
    number = str(amount.numerator) if amount.denominator == 1 else f"{float(amount):g}"
    return f"{number} {_SPOKEN[target.unit]}".strip()
