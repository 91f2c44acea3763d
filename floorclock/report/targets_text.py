"""The targets that earlier classes speak for, as text.

Invariant: names are data; what is said is what `targets` found and nothing more.
"""

from __future__ import annotations

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from floorclock.insight.targets import PlannedTargets


def print_targets(planned: PlannedTargets, console: Console) -> None:
    """A table for each part: who, where, as planned, what would hold, and why."""
    for part in dict.fromkeys(target.part for target in planned.targets):
        table = Table(title=Text(part), title_justify="left", box=box.SIMPLE, pad_edge=False)
        for heading in ("athlete", "station", "plan", "would hold", "because"):
            table.add_column(heading, overflow="fold")
        for one in (target for target in planned.targets if target.part == part):
            table.add_row(*map(Text, (one.name, one.station, one.planned_words, one.target_words, one.because)))
        console.print(table)
    console.print("In the roster: targets: {move: target}, options: {move: option}. The floor offers the same before the class.")
