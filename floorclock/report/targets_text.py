"""The targets that earlier classes speak for, as text.

Invariant: names are data; what is said is what `targets` found and nothing more.
"""

from __future__ import annotations

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from floorclock.insight.targets import PlannedTarget


def print_targets(planned: tuple[PlannedTarget, ...], console: Console) -> None:
    """A table for each part: who, where, as planned, what would hold, and why."""
    for part in dict.fromkeys(one.part for one in planned):
        table = Table(title=Text(part), title_justify="left", box=box.SIMPLE, pad_edge=False)
        for heading in ("athlete", "station", "plan", "would hold", "because"):
            table.add_column(heading, overflow="fold")
        for one in (one for one in planned if one.part == part):
            table.add_row(*map(Text, (one.athlete, one.station, one.planned.words(), _given(one), one.advice.because)))
        console.print(table)
    console.print("In the roster: targets: {move: target}, options: {move: option}. The floor offers the same before the class.")


def _given(one: PlannedTarget) -> str:
    words = [one.advice.option, one.advice.target.words() if one.advice.target else ""]
    return " ".join(word for word in words if word)
