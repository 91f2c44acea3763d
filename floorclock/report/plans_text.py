"""The coach's own plans on a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from floorclock.insight.plans import OwnPlan, OwnPlans
from floorclock.plan.durations import whole_words
from floorclock.plan.names import counted
from floorclock.report.terminal import fitted


def print_plans(found: OwnPlans, console: Console) -> None:
    """A row for each: file, title, how long, when it was last run, how it went."""
    heads = ("file", "session", "time", "run", "last", "how it went")
    rows = [_row(plan) for plan in found.plans]
    console.print(fitted(heads, rows, console.width, right="time|run", folds="session|how it went"))
    console.print(Text(f"The plans in {found.folder}", style="dim"))


def _row(plan: OwnPlan) -> tuple[str, ...]:
    if plan.problems:
        return plan.file, "", "", "", "", f"can't be read: floorclock check {plan.file}"
    time = "" if plan.time_ms is None else whole_words(plan.time_ms)
    last = "never" if plan.last is None else plan.last.strftime("%Y-%m-%d")
    return plan.file, plan.title, time, str(plan.runs or ""), last, _went(plan)


def _went(plan: OwnPlan) -> str:
    if plan.athletes is None:
        return ""
    there = counted(plan.athletes, "athlete")
    return there if plan.held is None else f"{there}; {plan.held} of {plan.measured} held margin and pace"
