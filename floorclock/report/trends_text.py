"""A coach's view over weeks on a terminal.

Invariant: names and titles are data, never markup; a share stands with its cases and its span, too little is called so.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console, RenderableType
from rich.text import Text

from floorclock.insight.trends import LEAST_CASES, LEAST_CLASSES, UNTOLD, RankedSession, RankedStation, StationTrend, Trends
from floorclock.plan.names import counted
from floorclock.report.terminal import INDENT, fitted, indented, line_of
from floorclock.store.tallies import Tally

WEEKS_PICTURED = 52
MOST_SHOWN = 6
LEGEND = (
    "A case is one athlete in one class. flagged: any of fading, tight, not finished, with the 80 % span (Wilson). The hardest "
    "first, by a share that few cases cannot move far. a round: how much longer a split takes with each round."
)


def print_trends(found: Trends, console: Console) -> None:
    """Prints who came and who held week by week, the hardest sessions and stations, and which stations got easier or harder.

    It fits 80 columns.
    """
    console.print(_head(found))
    if not found.classes:
        return
    console.print()
    _print_weeks(found, console, plain=console.options.ascii_only)
    for title, ranked, left in (
        ("Sessions", found.sessions, found.too_few.sessions),
        ("Stations", found.stations, found.too_few.stations),
    ):
        console.print()
        console.print(Text(_ranked_title(title, ranked, left), style="bold"))
        if ranked:
            console.print(indented(_table(ranked[:MOST_SHOWN], console.width - INDENT)))
    if found.sessions or found.stations:
        console.print(Text(LEGEND, style="dim italic"))
    console.print()
    _print_changed(found, console)


def _head(found: Trends) -> Text:
    since = "all classes" if found.since is None else f"from {found.since} on"
    until = "" if found.until is None else f", before {found.until}"
    words = Text(f"Trends, {since}{until}", style="bold")
    people = f"{found.people} {'person' if found.people == 1 else 'people'}"
    words.append(f"\n{counted(found.classes, 'class')}, {counted(found.visits, 'visit')} of {people}", style="not bold")
    if found.all.cases:
        words.append(f"\nheld margin and pace in {found.all.held} of {counted(found.all.cases, 'case')}", style="not bold")
        words.append(f"; {_flag_words(found.all)}", style="not bold")
    return words


def _flag_words(tally: Tally) -> str:
    return f"{tally.fading} fading, {tally.tight} tight, {tally.not_finished} not finished"


def _print_weeks(found: Trends, console: Console, *, plain: bool) -> None:
    shown = found.weeks[-WEEKS_PICTURED:]
    console.print(Text(f"Weeks, {shown[0].week} to {shown[-1].week}, a sign each", style="bold"))
    top = max(week.visits for week in shown)
    visits: list[float | None] = [float(week.visits) if week.classes else None for week in shown]
    lines = [f"visits  {line_of(visits, WEEKS_PICTURED, low=0.0, high=float(top), plain=plain)}   the tallest is {top}"]
    held = [week.held_share for week in shown]
    if any(share is not None for share in held):
        lines.append(f"held    {line_of(held, WEEKS_PICTURED, low=0.0, high=1.0, plain=plain)}   the tallest is all of them")
    lines.append(_held_words(found))
    for line in lines:
        console.print(indented(line))


def _held_words(found: Trends) -> str:
    trend = found.held_trend
    if trend is None:
        return f"whether more hold: too little to tell (it takes {LEAST_CLASSES} classes of sessions that were repeated)"
    among = f"{trend.classes} classes, each with others of its session"
    if trend.says == UNTOLD:
        return f"whether more hold: {UNTOLD} ({among}; by chance in {100 * trend.p:.0f} of 100 cases)"
    way = "more hold" if trend.change > 0 else "fewer hold"
    return f"{way}: {100 * trend.change:+.0f} in 100 over {trend.days} days ({among}; by chance in {100 * trend.p:.0f} of 100)"


def _ranked_title(title: str, ranked: Sequence[RankedSession], left: int) -> str:
    words = title if ranked else f"{title}: too little to tell"
    if len(ranked) > MOST_SHOWN:
        words += f", the hardest {MOST_SHOWN} of {len(ranked)}"
    return words + (f" ({left} with under {LEAST_CASES} cases left out)" if left else "")


def _table(ranked: Sequence[RankedSession], room: int) -> RenderableType:
    stations = any(isinstance(one, RankedStation) for one in ranked)
    headings = ["station" if stations else "session", "cases", "flagged", "fading", "tight", "not fin."]
    rows = []
    for one in ranked:
        name = f"{one.move} ({one.part})" if isinstance(one, RankedStation) else one.session
        rows.append([name, str(one.cases), share_words(one), str(one.fading), str(one.tight), str(one.not_finished)])
        if isinstance(one, RankedStation):
            drift = one.drift_percent_per_round
            rows[-1].append("" if drift is None else f"{round(drift, 1) + 0.0:+.1f} %")
    headings += ["a round"] if stations else []
    return fitted(headings, rows, room, right="cases|fading|tight|not fin.|a round")


def share_words(one: RankedSession) -> str:
    """`73 % (68 to 78)`."""
    return f"{100 * one.flagged_share:.0f} % ({100 * one.low:.0f} to {100 * one.high:.0f})"


def _print_changed(found: Trends, console: Console) -> None:
    console.print(Text("Easier or harder (rest left from class to class)", style="bold"))
    if not found.station_trends:
        console.print(indented(f"Too little to tell: it takes {LEAST_CLASSES} classes of one session."))
        return
    changed = found.changed
    for one in changed[:MOST_SHOWN]:
        console.print(indented(changed_words(one)))
    words = f"{len(changed)} of {counted(len(found.station_trends), 'station')} changed; by chance alone about "
    console.print(indented(Text(f"{words}{found.expected_by_chance:.1f} would.", style="dim")))


def changed_words(one: StationTrend) -> str:
    """`swing (The locks): easier, +1.4 s of rest in 196 days`."""
    words = f"{one.move} ({one.part}): {one.says}, {one.rest_change_s:+.1f} s of rest in {one.days} days"
    return words + (f"; {one.not_finished} not finished are in no rest" if one.not_finished else "")
