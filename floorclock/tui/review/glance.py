"""The class at a glance: the parts with their stations, who to talk to, and what to change.

Invariant: it lays out what the digest says and leaves out nothing but people to talk to beyond the first, who are counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Final

from rich.cells import cell_len
from rich.columns import Columns
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.widgets import OptionList, Static

from floorclock.digest.class_digest import ClassDigest, PartDigest
from floorclock.digest.words import ASK_FIRST, HELD, NOTHING, tenths
from floorclock.pace.advice import Way
from floorclock.tui.base.keys_line import Keys
from floorclock.tui.base.lines import cut, shielded
from floorclock.tui.base.palette import FAINT, STRONG, TEXT
from floorclock.tui.review.view import (
    ADVICE,
    FLAG_STYLE,
    GOOD,
    HEADING,
    NONE,
    SHORT_BAR,
    TURN,
    ReviewView,
    slope_figure,
)

LONGEST_NAME: Final = 14


class GlanceView(ReviewView):
    """All parts on one page."""

    NAME = "class"
    KEYS: ClassVar[Keys] = (*TURN, ("↑↓", "more"))

    def compose(self) -> ComposeResult:
        with VerticalScroll(can_focus=False), Container(classes="columns"):
            yield Static(id="parts")
            with Container(id="people"):
                with Container():
                    yield Static(Text("Who to talk to", HEADING))
                    yield PeopleList(id="calls")
                    yield Static(id="calls-note")
                with Container(id="next"):
                    yield Static(id="next-heading")
                    yield PeopleList(id="targets")

    def fill(self) -> None:
        digest = self.selection.digest
        targets = target_rows(digest)
        self.query_one("#parts", Static).update(parts_told(digest))
        self.query_one("#calls", PeopleList).show_people(call_rows(digest))
        self.query_one("#calls-note", Static).update(calls_note(digest))
        self.query_one("#next").display = bool(targets)
        self.query_one("#next-heading", Static).update(Text(digest.targets_title, HEADING))
        self.query_one("#targets", PeopleList).show_people(targets)

    def on_option_list_option_selected(self, message: OptionList.OptionSelected) -> None:
        message.stop()
        assert isinstance(message.option_list, PeopleList)
        self.selection.open_athlete(message.option_list.names[message.option_index])
        self.post_message(self.Changed())


class PeopleList(OptionList, can_focus=False):
    """A row about somebody; a click on it looks at them."""

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.names: list[str] = []

    def show_people(self, rows: Sequence[tuple[str, RenderableType]]) -> None:
        """Shows rows, each with the name of whom it is about."""
        self.names = [name for name, _ in rows]
        self.set_options(row for _, row in rows)


def parts_told(digest: ClassDigest) -> Group:
    """The parts that something is known of, in their order."""
    told: list[RenderableType] = []
    for part in digest.recorded:
        told.append(Text.assemble((shielded(cut(part.title, 50)), HEADING), (f"   part {part.number}, {part.kind_words}", FAINT)))
        told += [*(_timed_part(part) if part.is_timed_by_splits else [Text(", ".join(part.facts), TEXT)]), Text()]
    return Group(*told or [Text(NOTHING, TEXT)])


def _timed_part(part: PartDigest) -> list[RenderableType]:
    verdict = f"{part.facts[0]}; {part.verdict}" if part.tapped else part.verdict
    people = Table.grid(padding=(0, 2, 0, 0))
    people.add_column(no_wrap=True)
    people.add_column(overflow="fold")
    for group in part.groups:
        style = FLAG_STYLE[group.flag] if group.flag else GOOD if group.word == HELD else FAINT
        label = group.label if group.flag else f"  {group.label}"
        people.add_row(Text(label, style), Text(f"{len(group.names)}: {', '.join(map(shielded, group.names))}", TEXT))
    told: list[RenderableType] = [Text(shielded(f"{verdict[0].upper()}{verdict[1:]}."), TEXT), people]
    if part.tapped:
        told += [Text(), _station_table(part), Text("Medians in s; drift: s more each round.", FAINT)]
    if part.untapped:
        told.append(Text(f"{part.untapped} of {part.intervals} intervals not recorded.", FAINT))
    return told


def _station_table(part: PartDigest) -> Table:
    """Medians of the class at each station; where the rest was short most often stands a sign with its word."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style=FAINT)
    table.add_column("station", max_width=28)
    for heading in ("split", "rest", "tight", "drift"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column()
    for station in part.stations:
        most = station in part.hardest
        tight = f"{station.tight} of {station.tapped}" if station.tapped else "untapped"
        table.add_row(
            Text(shielded(station.name), STRONG if most else TEXT),
            Text(tenths(station.median_split_ms) or NONE, TEXT),
            Text(tenths(station.median_rest_ms) or NONE, TEXT),
            Text(tight, SHORT_BAR if station.tight else FAINT),
            Text(slope_figure(station.drift_ms), TEXT),
            Text("◂ most" if most else "", SHORT_BAR),
        )
    return table


def call_rows(digest: ClassDigest) -> list[tuple[str, Table]]:
    """Who to talk to, the most urgent first."""
    name_width = max((cell_len(cut(call.athlete, LONGEST_NAME)) for call in digest.called), default=0)
    rows = []
    for call in digest.called:
        row = Table.grid(padding=(0, 2, 0, 0))
        row.add_column(width=max(cell_len(call.label) for call in digest.called))
        row.add_column(width=name_width)
        row.add_column(overflow="fold")
        reason = "; ".join(filter(None, (call.reason, call.advice)))
        row.add_row(Text(call.label, FLAG_STYLE[call.flag]), _name(call.athlete), Text(shielded(reason), TEXT))
        rows.append((call.athlete, row))
    return rows


def calls_note(digest: ClassDigest) -> Group:
    """What stands under those to talk to, or instead of them."""
    if not digest.calls:
        return Group(Text(digest.nobody_words, TEXT))
    more = f"and {len(digest.also_flagged)} more with a flag: view 2 has everybody, o puts the least rest first."
    return Group(*([Text(more, TEXT)] if digest.also_flagged else []), Text(ASK_FIRST, FAINT))


def target_rows(digest: ClassDigest) -> list[tuple[str, Table]]:
    """What to change for each athlete; that stands out from what is to stay."""
    rows = []
    for athlete in (athlete for part in digest.advised for athlete in part.athletes if athlete.advice):
        row = Table.grid(padding=(0, 2, 0, 0))
        row.add_column(width=LONGEST_NAME)
        targets = [
            Text(shielded(f"{advice.move}: {advice.words}"), TEXT if advice.way is Way.KEEP else ADVICE)
            for advice in athlete.advice
        ]
        row.add_row(_name(athlete.name), Columns(targets, padding=(0, 2, 0, 0)))
        rows.append((athlete.name, row))
    return rows


def _name(name: str) -> Text:
    return Text(shielded(cut(name, LONGEST_NAME)), STRONG)
