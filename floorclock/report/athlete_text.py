"""One athlete's page on a terminal.

Invariant: names and titles are data, never markup; what is not known is said to be so, and a picture has a word beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from floorclock.digest.words import ASK_FIRST, PLAIN_SIGNS, WAY_SIGN, WAYS, flag_words, result_words
from floorclock.insight.athlete import GOES_ON, AthletePage, MoveHistory, PaceVerdict, Point, WeekOfAthlete
from floorclock.insight.lifts import LiftHistory
from floorclock.pace.advice import Way
from floorclock.pace.flags import SYMBOL
from floorclock.pace.load import CAUTION
from floorclock.plan.names import counted
from floorclock.plan.work import Load, LoadUnit, Unit, amount_said
from floorclock.report.terminal import INDENT, fitted, indented, line_of, span_of

PICTURE = 14
WEEKS_PICTURED = 52
RESULTS_SHOWN = 3
LEAST_SPAN = math.log(1.2)
"""A picture of a pace spans 20 % at least."""
PACE_LEGEND = (
    "s each: seconds for one unit of work, in the middle round of the last class. pace: class by class, tall is fast, "
    "{hole} not known. trend: told where chance alone does it in under 10 of 100 cases."
)
NEXT_LEGEND = (
    "next: {ways}; in the plan of the last class with it, by the last 12 classes, to keep the margin, as `targets` says it."
)


def print_athlete(page: AthletePage, console: Console) -> None:
    """Prints a page: when they were there, each move's pace with its picture, load by week, results, and what next.

    It fits 80 columns.
    """
    plain = console.options.ascii_only
    console.print(_head(page))
    if not page.classes:
        console.print(Text("No class of theirs in these days."))
        return
    if page.moves:
        console.print()
        heads = ("move", "s each", "last split", "pace", "trend", "next")
        rows = [_move_row(move, plain=plain) for move in page.moves]
        console.print(fitted(heads, rows, console.width, right="s each|last split", folds="next"))
        console.print(Text(PACE_LEGEND.format(hole="?" if plain else "·"), style="dim italic"))
        if any(move.next_target for move in page.moves):
            ways = WAYS.translate(PLAIN_SIGNS) if plain else WAYS
            console.print(Text(NEXT_LEGEND.format(ways=ways), style="dim italic"))
        for move in page.moves:
            if move.next_target is not None and _is_another(move):
                console.print(indented(f"{move.move}: {move.next_target.because}."))
    if page.lifts:
        console.print()
        _print_lifts(page.lifts, console, plain=plain)
    console.print()
    _print_weeks(page, console, plain=plain)
    if page.results:
        console.print()
        more = len(page.results) - RESULTS_SHOWN
        console.print(Text("Results" + (f", the newest; {more} more in --json" if more > 0 else ""), style="bold"))
        results = [
            (
                result.session,
                f"{result.started:%Y-%m-%d}",
                result.part,
                result_words(result, result.kind, result.score_unit),
                result.choice or "",
            )
            for result in reversed(page.results[-RESULTS_SHOWN:])
        ]
        headings = ("session", "day", "part", "result", "work")
        console.print(indented(fitted(headings, results, console.width - INDENT, folds="part|work")))
    if any(attended.effort is not None for attended in page.classes):
        console.print(Text(CAUTION, style="dim"))
    if any(_is_another(move) for move in page.moves):
        console.print(Text(ASK_FIRST, style="dim"))


def _head(page: AthletePage) -> Text:
    words = Text(page.name, style="bold", overflow="fold")
    if page.spellings:
        words.append(f"   also written {', '.join(page.spellings)}", style="not bold dim")
    first, last = f"{page.in_all.first:%Y-%m-%d}", f"{page.in_all.last:%Y-%m-%d}"
    ever = f"{counted(page.in_all.classes, 'class')} since {first}, last seen {last}"
    if len(page.classes) != page.in_all.classes:
        ever += f"; here {len(page.classes)} since {page.since}"
    words.append(f"\n{ever}", style="not bold")
    words.append("\n" + "; ".join(_held(page)), style="not bold")
    return words


def _held(page: AthletePage) -> list[str]:
    if not page.held.timed:
        return ["in none of them was a split of theirs taken"]
    facts = [f"held margin and pace in {page.held.held} of {page.held.timed} timed classes"]
    flags = sorted({flag for attended in page.classes for flag in attended.flags}, key=list(SYMBOL).index)
    return facts + [f"{flag_words(flag)} in {page.with_flag(flag)}" for flag in flags]


def _move_row(one: MoveHistory, *, plain: bool) -> tuple[str, ...]:
    last = one.points[-1]
    each = "" if last.s_per_unit is None else f"{last.s_per_unit:.2f}"
    trend = "too few classes" if one.trend is None else str(one.trend.says)
    if one.trend is not None and one.trend.says is not PaceVerdict.UNTOLD:
        trend = f"{abs(one.trend.percent):.1f} % {trend}"
    following = "" if one.next_target is None else f"{WAY_SIGN[one.next_target.way]} {one.next_target.words}"
    if plain:
        following = following.translate(PLAIN_SIGNS)
    return one.move, each, _split_words(last, one.unit), _picture(one, plain=plain), trend, following


def _split_words(point: Point, unit: Unit | None) -> str:
    if point.median_split_ms is None:
        return "/" if point.flags else ""
    split = f"{point.median_split_ms / 1000:.1f}"
    if point.amount is None or unit is None:
        return split
    return f"{split} for {amount_said(point.amount, unit).removesuffix(' reps').removesuffix(' rep')}"


def _picture(one: MoveHistory, *, plain: bool) -> str:
    """Tall is fast: less time for one unit of work."""
    speeds = [None if pace_s is None else -math.log(pace_s) for pace_s in one.even_s]
    known = [speed for speed in speeds if speed is not None]
    low, high = span_of(known, LEAST_SPAN) if known else (0.0, 1.0)
    return line_of(speeds, PICTURE, low=low, high=high, plain=plain)


def _is_another(move: MoveHistory) -> bool:
    return move.next_target is not None and move.next_target.way is not Way.KEEP


def _print_lifts(lifts: Sequence[LiftHistory], console: Console, *, plain: bool) -> None:
    rows = []
    for lift in lifts:
        last, loads = lift.points[-1], [float(point.heaviest) for point in lift.points]
        low, high = span_of(loads, 0.2 * max(loads))
        done = f"{counted(round(last.reps), 'rep')}, {float(last.volume_load):,.0f} {lift.unit}"
        done += f" by {last.shared_by} together" if last.shared_by > 1 else ""
        picture = line_of(loads, PICTURE, low=low, high=high, plain=plain)
        rows.append((lift.move, done, picture, _heaviest_words(lift)))
    console.print(fitted(("load", "last class", "heaviest", "over weeks"), rows, console.width, folds="over weeks|last class"))


def _heaviest_words(one: LiftHistory) -> str:
    """`60 to 67.5 kg in 5 weeks`, `60 kg`."""
    first, last = one.points[0], one.points[-1]
    words = Load(round(last.heaviest, 1), one.unit).words()
    weeks = (last.started.date() - first.started.date()).days // 7
    over = f" in {counted(weeks, 'week')}" if weeks else ""
    return words + over if first.heaviest == last.heaviest else f"{float(round(first.heaviest, 1)):g} to {words}{over}"


def _print_weeks(page: AthletePage, console: Console, *, plain: bool) -> None:
    shown = page.weeks[-WEEKS_PICTURED:]
    console.print(Text(f"Weeks, {shown[0].monday} to now, a sign each", style="bold"))
    nothing = "." if plain else "·"
    classes = "".join(nothing if not week.classes else str(week.classes) if week.classes < 10 else "+" for week in shown)
    loads = [week.load if week.classes and not week.unrated else None for week in shown]
    top = max((load for load in loads if load is not None), default=0.0)
    console.print(indented(f"classes {classes}"))
    if top:
        words = f"load    {line_of(loads, WEEKS_PICTURED, low=0.0, high=top, plain=plain)}"
        console.print(indented(f"{words}   the tallest is {top:.0f}"))
    for week in shown[-2:]:
        console.print(indented(week_words(week, page.load_unit)))


def week_words(one: WeekOfAthlete, unit: LoadUnit = LoadUnit.KG) -> str:
    """`2026-W09: 2 classes, 5 days of rest, load 420, monotony 0.62, strain 260, volume load 4,300 kg`, or why there is none.

    A week with a class that was not rated has no monotony.
    """
    facts = [counted(one.classes, "class"), f"{counted(one.rest_days, 'day')} of rest"]
    if one.classes > one.unrated:
        facts.append(f"load {one.load:.0f}" + (" of what was rated" if one.unrated else ""))
    if one.unrated:
        facts.append(f"{one.unrated} not rated")
    elif one.monotony is not None and one.strain is not None:
        facts += [f"monotony {one.monotony:.2f}", f"strain {one.strain:.0f}"]
    elif one.classes:
        facts.append("the week goes on" if one.because == GOES_ON else one.because)
    if one.volume_load:
        facts.append(f"volume load {float(one.volume_load):,.0f} {unit}")
    return f"{one.week}: {', '.join(facts)}"
