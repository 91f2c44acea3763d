"""What the records say on a terminal: own plans, the targets to give, two classes beside each other, weeks.

Invariant: names and titles are data, never markup; no share and no change stands without the span it is known to, and too
little is called so.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console, RenderableType
from rich.text import Text

from floorclock.digest.words import result_words
from floorclock.insight.athlete import PaceVerdict
from floorclock.insight.compare import LEAST_ROUNDS, AthleteChange, Change, Comparison, MoveChange, ResultChange
from floorclock.insight.plans import OwnPlan, OwnPlans
from floorclock.insight.targets import PlannedTargets
from floorclock.insight.trends import LEAST_CASES, LEAST_CLASSES, UNTOLD, RankedSession, RankedStation, Trends
from floorclock.plan.durations import whole_words
from floorclock.plan.names import counted
from floorclock.plan.work import amount_said
from floorclock.report.terminal import INDENT, fitted, indented, line_of, titled

MOVES = "s at the target, by move"
COMPARED_LEGEND = (
    "Round for round, seconds for one unit of work; 90 % spans from the scatter of the rounds. It tells these two classes "
    "apart: a good or a bad day is in it. * by itself beyond noise, # another target. A round not finished has no split."
)
WEEKS_PICTURED = 52
MOST_SHOWN = 6
TRENDS_LEGEND = (
    "A case is one athlete in one class. flagged: any of fading, tight, not finished, with the 80 % span (Wilson). The hardest "
    "first, by a share that few cases cannot move far. a round: how much longer a split takes with each round."
)


def print_plans(found: OwnPlans, console: Console) -> None:
    """A row for each: file, title, how long, when it was last run, how it went."""
    heads = ("file", "session", "time", "run", "last", "how it went")
    rows = [_plan_row(plan) for plan in found.plans]
    console.print(fitted(heads, rows, console.width, right="time|run", folds="session|how it went"))
    console.print(Text(f"The plans in {found.folder}", style="dim"))


def _plan_row(plan: OwnPlan) -> tuple[str, ...]:
    if plan.problems:
        return plan.file, "", "", "", "", f"can't be read: floorclock check {plan.file}"
    time = "" if plan.time_ms is None else whole_words(plan.time_ms)
    last = "never" if plan.last is None else f"{plan.last:%Y-%m-%d}"
    went = "" if plan.athletes is None else counted(plan.athletes, "athlete")
    if went and plan.held is not None:
        went += f"; {plan.held} of {plan.measured} held margin and pace"
    return plan.file, plan.title, time, str(plan.runs or ""), last, went


def print_targets(planned: PlannedTargets, console: Console) -> None:
    """A table for each part: who, where, as planned, what would hold, and why."""
    for part in dict.fromkeys(target.part for target in planned.targets):
        here = [target for target in planned.targets if target.part == part]
        rows = [(target.name, target.station, target.planned_words, target.target_words, target.because) for target in here]
        console.print(titled(part, ("athlete", "station", "plan", "would hold", "because"), rows))
    console.print("In the roster: targets: {move: target}, options: {move: option}. The floor offers the same before the class.")


def print_comparison(found: Comparison, console: Console) -> None:
    """Prints who got faster, who slower, who cannot be told, the class as a whole, results, and who came only once.

    It fits 80 columns.
    """
    console.print(_compared_head(found))
    if not found.athletes:
        console.print(Text("Nobody was in both."))
    else:
        console.print()
        _print_whole(found, console)
        rows = [
            (athlete.name, _pace(athlete), ", ".join(map(_move, athlete.moves)))
            for way in (PaceVerdict.FASTER, PaceVerdict.SLOWER, PaceVerdict.UNTOLD, PaceVerdict.TOO_LITTLE)
            for athlete in found.with_way(way)
        ]
        console.print(fitted(("athlete", "pace", MOVES), rows, console.width, folds=f"pace|{MOVES}"))
        console.print(Text(COMPARED_LEGEND, style="dim italic"))
    if found.results:
        console.print()
        console.print(Text("Results", style="bold"))
        results = []
        for change in found.results:
            before, after = (result_words(at, at.kind, at.score_unit) for at in (change.before, change.after))
            results.append((change.name, change.part, before, after, _result_change(change)))
        headings = ("athlete", "part", "before", "after", "change")
        console.print(indented(fitted(headings, results, console.width - INDENT, folds="part|before|after")))
    for day, names in ((found.before.started, found.only_before), (found.after.started, found.only_after)):
        if names:
            console.print(Text(f"Only on {day:%Y-%m-%d}: {', '.join(names)}", overflow="fold"))


def _compared_head(found: Comparison) -> Text:
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


def _result_change(one: ResultChange) -> str:
    if not one.same_work:
        return "other work"
    if one.time_s is None:
        return ""
    return f"{_signed(one.time_s)} s" if one.time_s else "the same"


def _signed(value: float) -> str:
    # Adding zero turns the -0.0 of a tiny change into +0.0.
    return f"{round(value, 1) + 0.0:+.1f}"


def print_trends(found: Trends, console: Console) -> None:
    """Prints who came and who held week by week, the hardest sessions and stations, and which stations got easier or harder.

    It fits 80 columns.
    """
    console.print(_trends_head(found))
    if not found.classes:
        return
    console.print()
    _print_weeks(found, console, plain=console.options.ascii_only)
    for title, ranked, left in (
        ("Sessions", found.sessions, found.too_few.sessions),
        ("Stations", found.stations, found.too_few.stations),
    ):
        console.print()
        words = title if ranked else f"{title}: too little to tell"
        if len(ranked) > MOST_SHOWN:
            words += f", the hardest {MOST_SHOWN} of {len(ranked)}"
        words += f" ({left} with under {LEAST_CASES} cases left out)" if left else ""
        console.print(Text(words, style="bold"))
        if ranked:
            console.print(indented(_table(ranked[:MOST_SHOWN], console.width - INDENT)))
    if found.sessions or found.stations:
        console.print(Text(TRENDS_LEGEND, style="dim italic"))
    console.print()
    _print_changed(found, console)


def _trends_head(found: Trends) -> Text:
    since = "all classes" if found.since is None else f"from {found.since} on"
    until = "" if found.until is None else f", before {found.until}"
    words = Text(f"Trends, {since}{until}", style="bold")
    people = f"{found.people} {'person' if found.people == 1 else 'people'}"
    words.append(f"\n{counted(found.classes, 'class')}, {counted(found.visits, 'visit')} of {people}", style="not bold")
    if found.all.cases:
        words.append(f"\nheld margin and pace in {found.all.held} of {counted(found.all.cases, 'case')}", style="not bold")
        flags = f"{found.all.fading} fading, {found.all.tight} tight, {found.all.not_finished} not finished"
        words.append(f"; {flags}", style="not bold")
    return words


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


def _table(ranked: Sequence[RankedSession], room: int) -> RenderableType:
    stations = any(isinstance(row, RankedStation) for row in ranked)
    headings = ["station" if stations else "session", "cases", "flagged", "fading", "tight", "not fin."]
    rows = []
    for row in ranked:
        name = f"{row.move} ({row.part})" if isinstance(row, RankedStation) else row.session
        share = f"{100 * row.flagged_share:.0f} % ({100 * row.low:.0f} to {100 * row.high:.0f})"
        rows.append([name, str(row.cases), share, str(row.fading), str(row.tight), str(row.not_finished)])
        if isinstance(row, RankedStation):
            drift = row.drift_percent_per_round
            rows[-1].append("" if drift is None else f"{_signed(drift)} %")
    headings += ["a round"] if stations else []
    return fitted(headings, rows, room, right="cases|fading|tight|not fin.|a round")


def _print_changed(found: Trends, console: Console) -> None:
    console.print(Text("Easier or harder (rest left from class to class)", style="bold"))
    if not found.station_trends:
        console.print(indented(f"Too little to tell: it takes {LEAST_CLASSES} classes of one session."))
        return
    changed = found.changed
    for trend in changed[:MOST_SHOWN]:
        words = f"{trend.move} ({trend.part}): {trend.says}, {trend.rest_change_s:+.1f} s of rest in {trend.days} days"
        words += f"; {trend.not_finished} not finished are in no rest" if trend.not_finished else ""
        console.print(indented(words))
    words = f"{len(changed)} of {counted(len(found.station_trends), 'station')} changed; by chance alone about "
    console.print(indented(Text(f"{words}{found.expected_by_chance:.1f} would.", style="dim")))
