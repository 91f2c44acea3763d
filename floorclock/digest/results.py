"""The results of one part on a terminal, the best first.

Invariant: only results of the same work stand in one order; who did an alternative follows after, under its name.
"""

from __future__ import annotations

from itertools import pairwise

from rich.table import Table
from rich.text import Text

from floorclock.clock.splits import Result
from floorclock.digest.summary import AthleteSummary, PartSummary
from floorclock.digest.words import counted
from floorclock.pace.flags import SYMBOL, Flag

NAME_LIMIT = 20


def results_table(part: PartSummary) -> Table:
    """Athletes with what they reached: finishers by time, then rounds and reps, then the unfinished and the unknown."""
    choices = any(athlete.result is not None and athlete.result.choice for athlete in part.athletes)
    laps = any(athlete.result is not None and len(athlete.result.laps_ms) > 1 for athlete in part.athletes)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("athlete", max_width=NAME_LIMIT, overflow="fold")
    table.add_column("result", no_wrap=True)
    if choices:
        table.add_column("work", overflow="fold")
    if laps:
        table.add_column("rounds, each in min:s", overflow="fold")
    for athlete in sorted(part.athletes, key=lambda one: result_order(one, part)):
        row = [Text(athlete.name), Text(result_words(athlete.result, part))]
        if choices:
            row.append(Text((athlete.result.choice or "as written") if athlete.result else ""))
        if laps:
            row.append(Text(lap_words(athlete.result)))
        table.add_row(*row)
    return table


def result_words(result: Result | None, part: PartSummary) -> str:
    """What somebody reached: `6:12.4`, `3 rounds + 12`, `stage 7, 52 shuttles`, `/ not finished`, `untapped`."""
    if result is None:
        return "did not stop (no tap)" if part.kind == "paced" else "untapped"
    reached = _reached(result, part)
    if result.not_finished:
        return f"{SYMBOL[Flag.NOT_FINISHED]} {Flag.NOT_FINISHED}" + (f": {reached}" if reached else "")
    return reached or "untapped"


def time_words(ms: int) -> str:
    """A time in tenths, cut off as a stopwatch does: `0:58.2`, `12:30.0`."""
    minutes, tenths = divmod(ms // 100, 600)
    return f"{minutes}:{tenths // 10:02d}.{tenths % 10}"


def _reached(result: Result, part: PartSummary) -> str:
    time = "" if result.time_ms is None else time_words(result.time_ms)
    if part.kind == "for_time" and time:
        return time
    count = _count_words(result, part)
    if part.kind == "paced" and time:
        return f"stopped at {time}" + (f", {count}" if count else "")
    return count or time


def _count_words(result: Result, part: PartSummary) -> str:
    if part.kind == "paced":
        if result.rounds is not None:
            return f"{counted(result.rounds, 'stage')}, {counted(result.reps or 0, 'shuttle')}"
        return "" if result.reps is None else counted(result.reps, "rep")
    if result.rounds is None and result.reps is None:
        return ""
    return counted(result.rounds or 0, "round") + (f" + {result.reps}" if result.reps else "")


def result_order(athlete: AthleteSummary, part: PartSummary) -> tuple[str, int, float, int, int]:
    """Work as written first; known before unknown; a time beats a count in `for_time`, a longer stay in `paced`."""
    result = athlete.result
    if result is None:
        return ("", 0 if part.kind == "paced" else 3, 0, 0, 0)
    count = (-(result.rounds or 0), -(result.reps or 0))
    time = result.time_ms if result.time_ms is not None else float("inf")
    if part.kind == "paced":
        return (result.choice, 1, -time if result.time_ms is not None else 0, *count)
    known = result.time_ms is not None or result.rounds is not None or result.reps is not None
    rank = 2 if result.not_finished else 0 if result.time_ms is not None and part.kind == "for_time" else 1 if known else 3
    return (result.choice, rank, time if rank == 0 else 0, *count)


def lap_words(result: Result | None) -> str:
    """How long each tapped round took: `1:28  1:30`; empty where there is none."""
    if result is None:
        return ""
    return "  ".join(_whole(end - start) for start, end in pairwise((0, *result.laps_ms)))


def _whole(ms: int) -> str:
    return f"{ms // 60_000}:{ms // 1000 % 60:02d}"
