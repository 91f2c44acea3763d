"""What a plan comes to, and what to mind, on a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from floorclock.plan.check import PartCheck, PlanCheck
from floorclock.plan.durations import duration_words, whole_words
from floorclock.plan.findings import summed_up
from floorclock.plan.work import amount_words


def print_check(checked: PlanCheck, console: Console) -> None:
    """Prints the plan's times, volume and kit, then what to think about, with places. Errors are the caller's to print."""
    if checked.title:
        console.print(Text(checked.title, style="bold"))
        console.print(_parts(checked))
        console.print(Text(_total_words(checked)))
        for part in checked.parts:
            if part.work:
                console.print()
                console.print(Text(f"{part.title}:", style="italic"))
                for words in part.work:
                    console.print(Text(f"  {words}"))
        if checked.volume:
            console.print()
            console.print(Text("One athlete does, as written:", style="italic"))
            console.print(Text(", ".join(f"{item.move} {amount_words(item.amount, item.unit)}" for item in checked.volume)))
        if checked.kit:
            console.print()
            console.print(Text("Kit in use at once:", style="italic"))
            console.print(Text(_kit_words(checked)))
    _print_findings(checked, console)
    if checked.cautions:
        console.print()
        console.print(Text("Usual cautions that the plan leaves out; local rules and qualified staff go first:", style="italic"))
        for move, caution in checked.cautions:
            console.print(Text(f"  {move}: {caution}"))
    if checked.title and all(problem.severity == "note" for problem in checked.problems):
        console.print()
        console.print(Text("Nothing to mend."))


def _print_findings(checked: PlanCheck, console: Console) -> None:
    """By kind, each kind with why it matters; where many are alike, one stands for them."""
    for severity, heading in (("warning", "To think about:"), ("note", "Good to know:")):
        found = summed_up(problem for problem in checked.problems if problem.severity == severity)
        if found:
            console.print()
            console.print(Text(heading, style="bold"))
        for why, lines in found:
            if why:
                console.print(Text(f"- {why}:", style="italic"), soft_wrap=True)
            for line in lines:
                console.print(Text(line), soft_wrap=True)


def _parts(checked: PlanCheck) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="italic")
    for column in ("part", "kind"):
        table.add_column(column)
    for column in ("time", "intervals"):
        table.add_column(column, justify="right")
    table.add_column("rounds at each station")
    for part in checked.parts:
        time = whole_words(part.time_ms) if part.time_ms else "open"
        windows = str(part.intervals) if part.rounds_per_station else ""
        table.add_row(Text(part.title), part.kind.replace("_", " "), time, windows, Text(_rounds_words(part)))
    return table


def _rounds_words(part: PartCheck) -> str:
    counts = set(part.rounds_per_station.values())
    if len(counts) == 1:
        return f"{counts.pop()}"
    return ", ".join(f"{station} {count}" for station, count in part.rounds_per_station.items())


def _total_words(checked: PlanCheck) -> str:
    words = f"in all {whole_words(checked.time_ms)}"
    if checked.count_in_ms:
        words += f" and {duration_words(checked.count_in_ms)} of count-ins"
    if checked.class_time_ms is not None:
        words += f", in a class of {duration_words(checked.class_time_ms)}"
    return words


def _kit_words(checked: PlanCheck) -> str:
    """The most of each kind of kit over all parts."""
    return ", ".join(f"{one.kit} {one.needed}" + ("" if one.has is None else f" of {one.has}") for one in checked.most_kit)
