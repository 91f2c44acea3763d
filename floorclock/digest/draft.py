"""A plan while it is being written: what is wrong with it, when what happens, who starts where, what can be read from the back.

Invariant: it is worked out from the bytes of the files alone, and says what the commands say of the same files.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from floorclock.clock.state import new_state
from floorclock.digest.brief import BriefPart, brief_of
from floorclock.errors import Problem
from floorclock.plan.check import PlanCheck, check_files
from floorclock.plan.durations import duration_words, whole_words
from floorclock.plan.legibility import CAPITAL, LEAST_MINUTES, PREFERRED_MINUTES, USUAL_ROOM, Wall, most_names
from floorclock.plan.session import Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """`findings` have errors first; `timeline`, `groups` and `legibility` are lines, none while the session can't be read."""

    title: str
    findings: tuple[Problem, ...]
    timeline: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    legibility: tuple[str, ...] = ()


def draft_of(session: bytes, session_file: str, roster: bytes | None, roster_file: str | None, wall: tuple[int, int]) -> Draft:
    """A draft from its files; `wall` is the size of the terminal on the wall, in columns and rows."""
    checked = check_files(session, session_file, roster, roster_file)
    findings = tuple(sorted(checked.problems, key=lambda problem: problem.severity != "error"))
    plan = checked.session
    if plan is None:
        return Draft(title="", findings=findings)
    athletes = checked.roster.athletes if checked.roster is not None else ()
    parts = brief_of(new_state(plan, athletes))
    return Draft(
        title=plan.title,
        findings=findings,
        timeline=tuple(_timeline(parts, checked)),
        groups=tuple(_groups(parts, checked)),
        legibility=tuple(_legibility(plan, len(athletes), wall)),
    )


def _timeline(parts: tuple[BriefPart, ...], checked: PlanCheck) -> Iterator[str]:
    for part in parts:
        yield f"{whole_words(part.begins_ms):>7}  {part.title}: {part.kind_words}"
    ends_ms = checked.time_ms + checked.count_in_ms
    of = "" if checked.class_time_ms is None else f", in a class of {duration_words(checked.class_time_ms)}"
    yield f"{whole_words(ends_ms):>7}  the end{of}"


def _groups(parts: tuple[BriefPart, ...], checked: PlanCheck) -> Iterator[str]:
    starts: dict[tuple[str, ...], list[str]] = {}
    for part in parts:
        words = tuple(words for kind, words in part.starts if kind == "text")
        if words and not part.is_again:
            starts.setdefault(words, []).append(part.title)
    for lines, titles in starts.items():
        yield f"{', '.join(titles)}:"
        yield from (f"  {line}" for line in lines)
    for need in checked.most_kit:
        yield f"{need.kit}: {need.needed} at once" + ("" if need.has is None else f", {need.has} there")


def _legibility(plan: Session, people: int, size: tuple[int, int]) -> Iterator[str]:
    room = plan.room or USUAL_ROOM
    wall = Wall(room, *size)
    usual = "" if plan.room else " (a usual room; the plan has none)"
    yield f"a wall of {room.screen_mm / 1000:g} m, seen from {room.farthest_mm / 1000:g} m{usual}"
    small = wall.minutes(CAPITAL)
    unread = "" if small >= LEAST_MINUTES else ": not to be read from there"
    yield f"small text at {size[0]}x{size[1]} has {small:.0f} minutes of arc, {LEAST_MINUTES} are the least{unread}"
    yield f"letters need {wall.rows_for(LEAST_MINUTES):.1f} rows, better {wall.rows_for(PREFERRED_MINUTES):.1f}"
    names = most_names(room)
    fits = f"; {people} on the roster" + ("" if people <= names else " go on pages") if people else ""
    yield f"at most {names} names at once at {PREFERRED_MINUTES} minutes{fits}"
