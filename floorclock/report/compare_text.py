"""Two classes beside each other on a terminal.

Invariant: names and titles are data, never markup; no change is printed without the span it is known to.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console, RenderableType
from rich.text import Text

from floorclock.digest.words import result_words
from floorclock.insight.athlete import PaceVerdict
from floorclock.insight.compare import LEAST_ROUNDS, AthleteChange, Change, Comparison, MoveChange, ResultChange
from floorclock.plan.names import counted
from floorclock.plan.work import amount_said
from floorclock.report.terminal import INDENT, fitted, indented

MOVES = "s at the target, by move"
TEST = (
    "Round for round, seconds for one unit of work; 90 % spans from the scatter of the rounds. It tells these two classes "
    "apart: a good or a bad day is in it. * by itself beyond noise, # another target. A round not finished has no split."
)


def print_comparison(found: Comparison, console: Console) -> None:
    """Prints who got faster, who slower, who cannot be told, the class as a whole, results, and who came only once.

    It fits 80 columns.
    """
    console.print(_head(found))
    if not found.athletes:
        console.print(Text("Nobody was in both."))
    else:
        console.print()
        _print_whole(found, console)
        console.print(_athletes(found, console.width))
        console.print(Text(TEST, style="dim italic"))
    if found.results:
        console.print()
        console.print(Text("Results", style="bold"))
        console.print(indented(_results(found.results, console.width - INDENT)))
    for day, names in ((found.before.started, found.only_before), (found.after.started, found.only_after)):
        if names:
            console.print(Text(f"Only on {day:%Y-%m-%d}: {', '.join(names)}", overflow="fold"))


def _head(found: Comparison) -> Text:
    before, after = found.before, found.after
    words = Text(before.session, style="bold", overflow="fold")
    if not found.same_session:
        words.append(f" and {after.session}")
    words.append(f"\n{before.started:%Y-%m-%d %H:%M} ({before.id})", style="not bold")
    days = (after.started.date() - before.started.date()).days
    words.append(f"\n{after.started:%Y-%m-%d %H:%M} ({after.id}), {counted(days, 'day')} later", style="not bold")
    if not found.same_session:
        words.append("\nTwo sessions: only the moves that both have are compared.", style="not bold")
    return words


def _print_whole(found: Comparison, console: Console) -> None:
    ways = ", ".join(f"{len(found.with_way(way))} {way}" for way in (PaceVerdict.FASTER, PaceVerdict.SLOWER, PaceVerdict.UNTOLD))
    words = f"{counted(found.tested, 'athlete')} can be compared: {ways}."
    if found.tested:
        words += f" By chance alone about {found.expected_by_chance:.1f} would be called either."
    console.print(Text(words))
    if found.whole is None:
        console.print(Text("Too few athletes for a word on the class as a whole."))
    else:
        console.print(Text(f"The class as a whole: {change_words(found.whole)}"))
    if len(found.moves) > 1:
        for change in found.moves:
            console.print(indented(f"{change.move}: {change_words(change)}"))
    console.print()


def change_words(change: Change) -> str:
    """`6.1 % faster (4.0 to 8.2)`, or `too close to call: -0.4 % (-6.4 to +7.5)` with below 0 faster."""
    if not change.is_told:
        return f"too close to call: {_signed(change.percent)} % ({_signed(change.low)} to {_signed(change.high)})"
    low, high = sorted((abs(change.low), abs(change.high)))
    return f"{abs(change.percent):.1f} % {'faster' if change.percent < 0 else 'slower'} ({low:.1f} to {high:.1f})"


def _athletes(found: Comparison, room: int) -> RenderableType:
    rows = [
        (one.name, _pace(one), ", ".join(map(_move, one.moves)))
        for way in (PaceVerdict.FASTER, PaceVerdict.SLOWER, PaceVerdict.UNTOLD, PaceVerdict.TOO_LITTLE)
        for one in found.with_way(way)
    ]
    return fitted(("athlete", "pace", MOVES), rows, room, folds=f"pace|{MOVES}")


def _pace(one: AthleteChange) -> str:
    words = f"too little: under {counted(LEAST_ROUNDS, 'round')} in both" if one.change is None else change_words(one.change)
    if any(one.not_finished):
        before, after = one.not_finished
        words += f"; / not finished {before}, then {after}"
    return words


def _move(one: MoveChange) -> str:
    words = f"{one.move} {_signed(one.at_target_s)}"
    if one.says in (PaceVerdict.FASTER, PaceVerdict.SLOWER):
        words += " *"
    if one.amount_before != one.amount_after:
        words += f" # {amount_said(one.amount_before, one.unit)} to {amount_said(one.amount_after, one.unit)}"
    return words


def _results(results: Sequence[ResultChange], room: int) -> RenderableType:
    rows = [
        (
            one.name,
            one.part,
            result_words(one.before, one.before.kind, one.before.score_unit),
            result_words(one.after, one.after.kind, one.after.score_unit),
            _result_change(one),
        )
        for one in results
    ]
    return fitted(("athlete", "part", "before", "after", "change"), rows, room, folds="part|before|after")


def _result_change(one: ResultChange) -> str:
    if not one.same_work:
        return "other work"
    if one.time_s is None:
        return ""
    return f"{_signed(one.time_s)} s" if one.time_s else "the same"


def _signed(value: float) -> str:
    # Adding zero turns the -0.0 of a tiny change into +0.0.
    return f"{round(value, 1) + 0.0:+.1f}"
