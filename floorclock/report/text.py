"""A recorded class on a terminal: what everybody did, who to talk to, and the list of classes.

Invariant: names and titles are data, never markup; whatever a colour says, a word or a sign says too; nothing is cut off
without a trace, however narrow the terminal.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from floorclock.digest.results import results_table
from floorclock.digest.summary import ClassSummary, PartSummary
from floorclock.digest.words import ASK_FIRST, CALM, UNKNOWN, counted, whole_facts
from floorclock.journal.shelf import ClassEntry
from floorclock.pace.flags import SYMBOL
from floorclock.plan.durations import duration_words
from floorclock.report.text_outlook import print_outlook
from floorclock.report.text_splits import FLAG_STYLE, splits_view

INDENT = (0, 0, 0, 2)
MOST_CALLS = 12
"""So many can be talked to; who comes after them is named."""


def print_review(summary: ClassSummary, console: Console) -> None:
    """Prints a class: one block for each part that was measured, the class as a whole, who to talk to, and what
    comes next.

    It fits 80 columns and uses what more there are. A part that nothing was recorded of is left out.
    """
    console.print(_class_line(summary))
    recorded = [part for part in summary.parts if part.athletes]
    for part in recorded:
        console.print()
        console.print(_part_line(part))
        if not part.is_timed_by_splits:
            console.print(Padding(results_table(part), INDENT))
        elif part.untapped == part.intervals:
            unknown = "1 interval is" if part.intervals == 1 else f"{part.intervals} intervals are"
            console.print(Padding(Text(f"Nobody tapped: {unknown} unknown."), INDENT))
        else:
            console.print(Padding(splits_view(part, console), INDENT))
    console.print()
    if not recorded:
        console.print(Text("Nothing was recorded in it."))
        return
    _print_whole(recorded, console)
    _print_calls(summary, console)
    print_outlook(summary, console)


def print_classes(entries: Sequence[ClassEntry], console: Console) -> None:
    """Prints a list of classes: id, when it started, the session, how many athletes, and what became of it."""
    table = _plain_table()
    # An id is there to be copied: it is never broken.
    table.add_column("class", no_wrap=True)
    for heading in ("started", "session"):
        table.add_column(heading, overflow="fold")
    table.add_column("athletes", justify="right", no_wrap=True)
    table.add_column("status")
    for entry in entries:
        started = f"{entry.started:%Y-%m-%d %H:%M}" if entry.started else "not known"
        table.add_row(Text(entry.id), started, Text(entry.session), str(entry.athletes), status_words(entry))
    console.print(table)


def status_words(entry: ClassEntry) -> str:
    """`complete`, `from paper`, `running`, `interrupted` or `rehearsal`, and what is wrong with its journal."""
    words = ["rehearsal"] if entry.rehearsal else ["from paper"] if entry.paper else []
    if not entry.ended:
        words.append("running" if entry.running else "interrupted")
    words = words or ["complete"]
    if entry.damage:
        words.append(f"{entry.damage} damaged line{'s' * (entry.damage > 1)}")
    return ", ".join(words)


def _plain_table() -> Table:
    return Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")


def _class_line(summary: ClassSummary) -> Text:
    words = Text(summary.session, style="bold")
    words.append(f"   {summary.class_id}", style="not bold dim")
    facts = [summary.started[:16].replace("T", " "), counted(len(summary.athletes), "athlete")]
    facts.append(f"margin {duration_words(round(summary.rest_margin_s * 1000))}")
    if summary.rehearsal:
        facts.append("rehearsal")
    words.append("\n" + "   ".join(fact for fact in facts if fact), style="not bold")
    return words


def _part_line(part: PartSummary) -> Text:
    words = Text(part.title, style="bold")
    words.append(f"   part {part.index + 1}, {part.kind.replace('_', ' ')}", style="not bold dim")
    return words


def _print_whole(parts: Sequence[PartSummary], console: Console) -> None:
    console.print(Text("The class as a whole", style="bold"))
    for part in parts:
        words = Text(f"{part.title}: ")
        words.append(", ".join(whole_facts(part)))
        console.print(Padding(words, INDENT))
    console.print()


def _print_calls(summary: ClassSummary, console: Console) -> None:
    console.print(Text("Who to talk to", style="bold"))
    if not summary.calls:
        tapped = any(athlete.tapped for part in summary.parts for athlete in part.athletes)
        console.print(Padding(Text(CALM if tapped else UNKNOWN), INDENT))
        return
    several = len({call.part for call in summary.calls if summary.parts[call.part].is_timed_by_splits}) > 1
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold", max_width=20)
    table.add_column()
    for call in summary.calls[:MOST_CALLS]:
        because = Text(call.because)
        if several and summary.parts[call.part].is_timed_by_splits:
            because.append(f" ({summary.parts[call.part].title})", style="dim")
        if call.advice:
            because.append(f". {call.advice}", style="bold")
        table.add_row(Text(f"{SYMBOL[call.flag]} {call.flag}", style=FLAG_STYLE[call.flag]), Text(call.athlete), because)
    console.print(Padding(table, INDENT))
    others = tuple(dict.fromkeys(call.athlete for call in summary.calls[MOST_CALLS:]))
    if others:
        console.print(Padding(Text(f"And {len(others)} more with a flag: {', '.join(others)}."), INDENT))
    console.print(Padding(Text(ASK_FIRST, style="dim"), INDENT))
