"""The class at a glance: the parts with their stations, who to talk to, and what to change.

Invariant: everything stands in one list on a narrow screen and side by side on a wide one; what is left out is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style

from floorclock.digest.class_digest import MOST_CALLS, Call, ClassDigest, Group, PartDigest
from floorclock.digest.words import ASK_FIRST, HELD, NOTHING
from floorclock.pace.advice import Advice, Way
from floorclock.tui.base.lines import LEFT_TO_RIGHT_MARK, Line, cut, fit, padded, shielded, wrapped
from floorclock.tui.base.palette import BLANK, FAINT, STRONG, TEXT
from floorclock.tui.review.figures import seconds, slope_words
from floorclock.tui.review.pane import Pane, Sheet
from floorclock.tui.review.styles import ADVICE, FLAG_STYLE, GOOD, HEADING, SHORT_BAR

TWO_COLUMNS, THREE_COLUMNS = 120, 200
GAP: Final = 3

SIGNS: Final = 15
"""The room of a flag with its sign."""
LONGEST: Final = 12
"""Lines that one list of names or one reason may take."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of a column; a click on it looks at `athlete`, where there is one."""

    segments: tuple[Segment, ...] = ()
    athlete: str = ""


class Glance(Pane[ClassDigest]):
    """The whole class on one screen."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._people: list[list[tuple[int, str]]] = []
        """For each line of the list, where a column with somebody in it begins."""

    def sheet(self, view: ClassDigest, width: int, height: int) -> Sheet:
        """The columns side by side.

        Some terminals give the mark behind a name that runs from the right a cell of its own; those stay free at the end.
        """
        body = self._laid_out(view, width)
        marks = max(sum(part.text.count(LEFT_TO_RIGHT_MARK) for part in line) for line in body)
        if marks and width >= TWO_COLUMNS:
            body = [padded(line, width) for line in self._laid_out(view, width - marks)]
        return Sheet(body=tuple(body))

    def _laid_out(self, view: ClassDigest, width: int) -> list[Line]:
        count = 3 if width >= THREE_COLUMNS else 2 if width >= TWO_COLUMNS else 1
        room = (width - 2 - GAP * (count - 1)) // count
        columns = _shared_out([parts_column(view, room), calls_column(view, room), targets_column(view, room)], count)
        body: list[Line] = []
        self._people = []
        for at in range(max(map(len, columns))):
            segments, people = [Segment(" ", BLANK)], []
            for number, column in enumerate(columns):
                entry = column[at] if at < len(column) else Entry()
                people.append((1 + number * (room + GAP), entry.athlete))
                segments += [*padded(entry.segments, room), Segment(" " * GAP, BLANK)]
            body.append(padded(segments, width))
            self._people.append(people)
        return body

    def athlete_at(self, row: int, x: int) -> str:
        """Who stands at a place of the list; empty where nobody does."""
        people = self._people[row] if row < len(self._people) else []
        return next((name for begin, name in reversed(people) if begin <= x), "")


def _shared_out(columns: Sequence[list[Entry]], count: int) -> list[list[Entry]]:
    """Three columns on `count` of them, the later ones together."""
    kept, rest = list(columns[: count - 1]), list(columns[count - 1 :])
    last = [entry for column in rest if column for entry in (*column, Entry())]
    return [*kept, last]


def parts_column(summary: ClassDigest, width: int) -> list[Entry]:
    """The parts in their order."""
    entries: list[Entry] = []
    for part in summary.parts:
        if part.athletes:
            entries += [*(_split_part(part, width) if part.is_timed_by_splits else _result_part(part)), Entry()]
    return entries[:-1] or [Entry((Segment(NOTHING, TEXT),))]


def _split_part(part: PartDigest, width: int) -> list[Entry]:
    said = f"{part.facts[0]}; {part.verdict}." if part.tapped else f"{part.verdict}."
    entries = [_part_line(part), *_texts(said[0].upper() + said[1:], width, TEXT)]
    room = max((cell_len(_label(group)) + 2 for group in part.groups), default=0)
    for group in part.groups:
        entries += _people(group, max(SIGNS, room), width)
    if part.tapped:
        entries += [Entry(), *_station_table(part, width)]
    if part.untapped:
        entries += _texts(f"{part.untapped} of {part.intervals} intervals untapped: unknown, in no figure.", width, FAINT)
    return entries


def _result_part(part: PartDigest) -> list[Entry]:
    return [_part_line(part), Entry((Segment(", ".join(part.facts), TEXT),))]


def _part_line(part: PartDigest) -> Entry:
    kind = f"   part {part.index + 1}, {part.kind_words}"
    return Entry((Segment(shielded(cut(part.title, 50)), HEADING), Segment(kind, FAINT)))


def _label(group: Group) -> str:
    return group.label if group.flag else f"  {group.label}"


def _people(group: Group, room: int, width: int) -> list[Entry]:
    """The word once, and the names beside it on as many lines as they need."""
    style = FLAG_STYLE[group.flag] if group.flag else GOOD if group.word == HELD else FAINT
    label = fit(_label(group), room)
    lines = wrapped(f"{len(group.names)}: {', '.join(group.names)}", max(8, width - room), LONGEST)
    first = [(Segment(label, style), Segment(shielded(lines[0]), TEXT))]
    rest = [(Segment(" " * room, BLANK), Segment(shielded(line), TEXT)) for line in lines[1:]]
    return [Entry(segments) for segments in (*first, *rest)]


def _station_table(part: PartDigest, width: int) -> list[Entry]:
    """Medians of the class at each station; where the rest was short most often stands a sign with its word."""
    name = max(8, min(28, width - 41, max(cell_len(one.name) for one in part.stations) + 1))
    head = f"{fit('station', name)}{'split':>8}{'rest':>7}{'tight':>11}{'drift':>8}"
    entries = [Entry((Segment(head, FAINT),))]
    hardest = part.hardest
    for overview in part.stations:
        most = overview in hardest
        tight = f"{overview.tight} of {overview.tapped}" if overview.tapped else "untapped"
        numbers = f"{seconds(overview.median_split_ms):>8}{seconds(overview.median_rest_ms):>7}"
        entries.append(
            Entry(
                (
                    Segment(shielded(fit(overview.name, name)), STRONG if most else TEXT),
                    Segment(numbers, TEXT),
                    Segment(f"{tight:>11}", SHORT_BAR if overview.tight else FAINT),
                    Segment(f"{slope_words(overview.drift_ms):>8}", TEXT),
                    Segment(" ◂ most" if most else "", SHORT_BAR),
                )
            )
        )
    return [*entries, *_texts("Medians in s; drift: s more each round.", width, FAINT)]


def calls_column(summary: ClassDigest, width: int) -> list[Entry]:
    """Who to talk to, the most urgent first."""
    entries = [Entry((Segment("Who to talk to", HEADING),))]
    if not summary.calls:
        return [*entries, *_texts(summary.nobody_words, width, TEXT)]
    name = min(18, max(9, *(cell_len(call.athlete) + 1 for call in summary.called)))
    for call in summary.called:
        entries += _call(call, name, width)
    if len(summary.calls) > MOST_CALLS:
        more = f"and {len(summary.calls) - MOST_CALLS} more with a flag: view 2 has everybody, o puts the least rest first."
        entries += _texts(more, width, TEXT)
    return [*entries, *_texts(ASK_FIRST, width, FAINT)]


def _call(call: Call, name: int, width: int) -> list[Entry]:
    because = "; ".join(filter(None, (call.reason, call.advice)))
    sign = fit(call.label, SIGNS)
    lines = wrapped(because, max(10, width - SIGNS - name), LONGEST)
    first = (
        Segment(sign, FLAG_STYLE[call.flag]),
        Segment(shielded(fit(call.athlete, name - 1)) + " ", STRONG),
        Segment(shielded(lines[0]), TEXT),
    )
    rest = [(Segment(" " * (SIGNS + name), BLANK), Segment(shielded(line), TEXT)) for line in lines[1:]]
    return [Entry(segments, call.athlete) for segments in (first, *rest)]


def targets_column(summary: ClassDigest, width: int) -> list[Entry]:
    """What to change: for rounds still to come, or next time."""
    found = [(one.name, advice) for part in summary.parts for one in part.athletes for advice in one.advice]
    if not found:
        return []
    entries = [Entry((Segment(summary.targets_title, HEADING),))]
    for name, group in groupby(found, key=lambda pair: pair[0]):
        label = shielded(fit(name, 15)) + " "
        for line in _packed([advice for _, advice in group], max(10, width - 16)):
            entries.append(Entry((Segment(label, STRONG), *line), name))
            label = " " * 16
    return entries


def _packed(advice: Sequence[Advice], width: int) -> list[list[Segment]]:
    """As many to a line as fit; what is to change stands out from what is to stay."""
    lines: list[list[Segment]] = []
    taken = width + 1
    for one in advice:
        words = cut(f"{one.move}: {one.words}", width)
        if taken + 3 + cell_len(words) > width:
            lines.append([])
            taken = -3
        lines[-1] += [
            Segment("   " if taken > 0 else "", BLANK),
            Segment(shielded(words), TEXT if one.way is Way.KEEP else ADVICE),
        ]
        taken += 3 + cell_len(words)
    return lines


def _texts(words: str, width: int, style: Style) -> list[Entry]:
    return [Entry((Segment(shielded(line), style),)) for line in wrapped(words, width, LONGEST)]
