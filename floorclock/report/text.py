"""A recorded class on a terminal: what everybody did, who to talk to, what comes next; and the list of classes.

Invariant: names and titles are data, never markup; whatever a colour says, a word or a sign says too; nothing is cut off
without a trace, however narrow the terminal. A picture has one sign for each round at a station: tall is much rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from rich.console import Console
from rich.table import Table
from rich.text import Text

from floorclock.digest.class_digest import AthleteDigest, ClassDigest, PartDigest
from floorclock.digest.words import (
    ASK_FIRST,
    BAR,
    NOTHING,
    PLAIN_SIGNS,
    WAYS,
    forecast_words,
    load_words,
    signed,
    target_words,
    tenths,
)
from floorclock.journal.shelf import ClassEntry
from floorclock.pace.flags import SYMBOL, Flag, is_tight, most_urgent
from floorclock.plan.names import counted
from floorclock.report.terminal import HEIGHTS, HOLE, INDENT, PLAIN_HEIGHTS, PLAIN_HOLE, fitted, grid, indented, line_of

FLAG_STYLE = {Flag.NOT_FINISHED: "bold red", Flag.RUNS_OUT: "bold red", Flag.TIGHT: "bold yellow", Flag.FADING: "bold cyan"}
THE_CLASS = "the class"
REST_LEGEND = (
    "Median split in s, and the rest of each round: {top} is {full} s, ! under the margin, / not finished, {hole} untapped. "
    "least: the smallest rest in s."
)
PACE_LEGEND = (
    "Splits in s, round by round. slope: s more each round. sd %: spread, the sample standard deviation in % of the mean. "
    "decr: decrement, what the rounds took beyond the best one, in %. All three are medians of the stations."
)
CHANGED_LEGEND = " Where the amount changes, all three are as if each round had had the last one, in proportion."
AHEAD_LEGEND = "The split of the last round at each station, and in brackets what holds it in 80 of 100 cases."
TARGETS_LEGEND = f"{WAYS}. What would keep the margin to the last round; you decide. {BAR}"
VOLUME_LEGEND = "Reps x load over the whole class, as far as it is known to be done."
LOAD_LEGEND = "Effort is each athlete's own rating, 0 to 10; load is effort x minutes."


def print_review(digest: ClassDigest, console: Console) -> None:
    """Prints a class: one block for each part that was measured, the class as a whole, who to talk to, and what
    comes next.

    It fits 80 columns and uses what more there are. A part that nothing was recorded of is left out.
    """
    words = Text(digest.session, style="bold")
    words.append(f"   {digest.class_id}", style="not bold dim")
    facts = [digest.day_words, digest.people_words, f"margin {digest.margin_words}", "rehearsal" * digest.rehearsal]
    words.append("\n" + "   ".join(filter(None, facts)), style="not bold")
    console.print(words)
    for part in digest.recorded:
        _print_part(part, console)
    console.print()
    if digest.recorded:
        console.print(Text("The class as a whole", style="bold"))
        for part in digest.recorded:
            verdict = f"; {part.verdict}" if part.is_timed_by_splits and part.tapped else ""
            console.print(indented(f"{part.title}: {', '.join(part.facts)}{verdict}"))
        console.print()
        _print_calls(digest, console)
    else:
        console.print(Text(NOTHING))
    _print_outlook(digest, console)


def print_classes(entries: Sequence[ClassEntry], console: Console) -> None:
    """Prints a list of classes: id, when it started, the session, how many athletes, and what became of it."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    # An id is there to be copied: it is never broken.
    table.add_column("class", no_wrap=True)
    table.add_column("started", no_wrap=True)
    table.add_column("session", overflow="fold")
    table.add_column("athletes", justify="right", no_wrap=True)
    table.add_column("status")
    for entry in entries:
        started = f"{entry.started:%Y-%m-%d %H:%M}" if entry.started else "not known"
        table.add_row(Text(entry.id), started, Text(entry.session), str(entry.athletes), status_words(entry))
    console.print(table)


def status_words(entry: ClassEntry) -> str:
    """`complete`, `from paper`, `running`, `interrupted` or `rehearsal`, and what is wrong with its journal."""
    if entry.unread:
        return "can't be read"
    words = ["rehearsal"] if entry.rehearsal else ["from paper"] if entry.paper else []
    if not entry.ended:
        words.append("running" if entry.running else "interrupted")
    words = words or ["complete"]
    if entry.damage:
        words.append(f"{entry.damage} damaged line{'s' * (entry.damage > 1)}")
    return ", ".join(words)


def _print_part(part: PartDigest, console: Console) -> None:
    words = Text(part.title, style="bold")
    words.append(f"   part {part.number}, {part.kind_words}", style="not bold dim")
    console.print()
    console.print(words)
    if part.has_results or not part.is_timed_by_splits:
        headings, *rows = part.result_rows
        folds = "athlete|work|each set|rounds, each in min:s"
        console.print(indented(fitted(headings, rows, console.width - INDENT, folds=folds)))
    if not part.is_timed_by_splits:
        return
    if not part.tapped and part.untapped == part.intervals:
        unknown = f"{counted(part.intervals, 'interval')} {'is' if part.intervals == 1 else 'are'}"
        console.print(indented(f"Nobody tapped: {unknown} unknown."))
    else:
        _print_splits(part, console)


def _print_splits(part: PartDigest, console: Console) -> None:
    """The rest that was kept, then the pace round by round, athlete by athlete."""
    plain, room = console.options.ascii_only, console.width - INDENT
    full_ms = max(taken.split.rest_ms or 0 for athlete in part.athletes for taken in athlete.splits)
    stations = [station.name for station in part.stations]
    rests: list[list[str | Text]] = []
    paces: list[list[str | Text]] = []
    widths = [
        max(len(word) for athlete in part.athletes for word in round_words(athlete, station.station)) for station in part.stations
    ]
    for athlete in part.athletes:
        medians = {figures.station: figures.median_split_ms for figures in athlete.stations}
        pictures = [rest_signs(athlete, station.station, full_ms, plain=plain) for station in part.stations]
        cells = [
            f"{tenths(medians.get(station.station)):>5} {picture}" if picture else ""
            for station, picture in zip(part.stations, pictures, strict=True)
        ]
        least = "" if athlete.least_rest_ms is None else str(athlete.least_rest_ms // 1000)
        flag = most_urgent(athlete.flags)
        flags = Text("" if athlete.held else athlete.state_words, style="" if flag is None else FLAG_STYLE[flag])
        rests.append([athlete.label, *cells, least, flags])
        percents = ("" if value is None else f"{value:.1f}" for value in (athlete.cv_percent, athlete.decrement_percent))
        rounds = (round_words(athlete, station.station, plain=plain) for station in part.stations)
        splits = (" ".join(word.rjust(width) for word in words) for words, width in zip(rounds, widths, strict=True))
        paces.append([athlete.label, signed(athlete.slope_ms), *percents, *splits])
    rests.append([THE_CLASS, *(f"{tenths(station.median_split_ms) or 'untapped':>5}" for station in part.stations), "", ""])
    legend = REST_LEGEND.format(
        hole=PLAIN_HOLE if plain else HOLE, top=(PLAIN_HEIGHTS if plain else HEIGHTS)[-1], full=full_ms // 1000
    )
    console.print(indented(fitted(("athlete", *stations, "least", "flags"), rests, room, right="least", folds="flags")))
    console.print(indented(Text(legend, style="dim italic")))
    console.print()
    headings = ("athlete", "slope", "sd %", "decr", *stations)
    console.print(indented(fitted(headings, paces, room, right="slope|sd %|decr")))
    legend = PACE_LEGEND + CHANGED_LEGEND * any(_amounts_change(athlete) for athlete in part.athletes)
    console.print(indented(Text(legend, style="dim italic")))


def _amounts_change(athlete: AthleteDigest) -> bool:
    """Whether somebody was given other amounts from round to round at a station."""
    amounts: dict[tuple[int, str], set[Fraction | None]] = {}
    for taken in athlete.splits:
        if taken.split.split_ms is not None:
            amounts.setdefault((taken.split.station, taken.split.move), set()).add(taken.split.amount)
    return any(len(here) > 1 for here in amounts.values())


def rest_signs(athlete: AthleteDigest, station: int, full_ms: int, *, plain: bool = False) -> str:
    """One sign for each round of an athlete at a station; a rest of `full_ms` is as tall as can be."""
    signs = ""
    for taken in athlete.splits_at(station):
        rest_ms = taken.split.rest_ms
        if Flag.NOT_FINISHED in taken.flags:
            signs += SYMBOL[Flag.NOT_FINISHED]
        elif is_tight(taken.split):
            signs += SYMBOL[Flag.TIGHT]
        else:
            signs += line_of([rest_ms], 1, low=0, high=max(1, full_ms), plain=plain)
    return signs


def round_words(athlete: AthleteDigest, station: int, *, plain: bool = False) -> list[str]:
    """The splits of an athlete at a station in whole seconds, cut off as a stopwatch does, with a sign where there is none."""
    hole = PLAIN_HOLE if plain else HOLE
    words = []
    for taken in athlete.splits_at(station):
        split_ms = taken.split.split_ms
        missing = SYMBOL[Flag.NOT_FINISHED] if Flag.NOT_FINISHED in taken.flags else hole
        words.append(missing if split_ms is None else str(split_ms // 1000))
    return words


def _print_calls(digest: ClassDigest, console: Console) -> None:
    console.print(Text("Who to talk to", style="bold"))
    if not digest.calls:
        console.print(indented(digest.nobody_words))
        return
    rows = []
    for call in digest.called:
        words = Text(call.reason)
        if call.advice:
            words.append(f". {call.advice}", style="bold")
        rows.append((Text(call.label, style=FLAG_STYLE[call.flag], no_wrap=True), call.athlete, words))
    grid(console, rows)
    others = digest.also_flagged
    if others:
        console.print(indented(f"And {len(others)} more with a flag: {', '.join(others)}."))
    console.print(indented(Text(ASK_FIRST, style="dim")))


def _print_outlook(digest: ClassDigest, console: Console) -> None:
    """A block for whatever is known of what comes next, and nothing where nothing is."""
    for part in digest.timed:
        title = f": {part.title}" if len(digest.timed) > 1 else ""
        ahead = [(athlete.label, _ahead_words(part, athlete)) for athlete in part.athletes if athlete.last_forecasts]
        targets = [(athlete.label, _target_words(part, athlete)) for athlete in part.athletes if athlete.targets]
        _print_block(f"What is to come{title}", ahead, AHEAD_LEGEND, console)
        given = f": {part.written or part.title}" if title else ""
        _print_block(f"{digest.targets_title}{given}", targets, TARGETS_LEGEND, console)
    lifted: dict[str, list[str]] = {}
    for volume in digest.volume:
        lifted.setdefault(volume.label, []).append(volume.words)
    _print_block("Volume load", [(name, "; ".join(words)) for name, words in lifted.items()], VOLUME_LEGEND, console)
    if digest.is_rated:
        _print_block("Effort and load", [(load.name, load_words(load)) for load in digest.load], LOAD_LEGEND, console)


def _ahead_words(part: PartDigest, athlete: AthleteDigest) -> str:
    words = [athlete.margin_words] if athlete.margin_words else []
    for ahead in athlete.last_forecasts:
        name = part.work_name(ahead.slot.station, ahead.slot.move)
        words.append(f"{name} round {ahead.slot.round}: {forecast_words(ahead)}")
    return ", ".join(words)


def _target_words(part: PartDigest, athlete: AthleteDigest) -> str:
    given = [(advice, part.load_words(athlete, advice.station)) for advice in athlete.targets]
    return ", ".join(f"{part.work_of(advice)} {target_words(advice, load, with_move=False)}" for advice, load in given)


def _print_block(title: str, lines: Sequence[tuple[str, str]], legend: str, console: Console) -> None:
    if lines:
        if console.options.ascii_only:
            lines = [(name, words.translate(PLAIN_SIGNS)) for name, words in lines]
            legend = legend.translate(PLAIN_SIGNS)
        console.print()
        console.print(Text(title, style="bold"))
        grid(console, lines)
        console.print(indented(Text(legend, style="dim italic")))
