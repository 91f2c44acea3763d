"""Everything that can be done for one athlete while the class runs, one key each.

Invariant: the sheet changes nothing itself; it answers one action, or nothing.
"""

from __future__ import annotations

from floorclock.tui.floor.dialogs.athlete_facts import AheadLine, AthleteAction, AthleteFacts, SplitRow
from floorclock.tui.floor.dialogs.pages import PagedDialog
from floorclock.tui.floor.dialogs.parts import Line, Part, padded
from floorclock.tui.floor.dialogs.reading import full_words
from floorclock.tui.floor.dialogs.sheet_pages import ENTRIES, menu, row_split, shortcuts

ASIDE_CELLS = 42
ASIDE_FROM = 70


class AthleteSheet(PagedDialog[AthleteAction]):
    """One athlete's facts and the menu of what can be done. No letter and no digit means anything here: taps go on."""

    def __init__(self, facts: AthleteFacts) -> None:
        self.facts = facts
        super().__init__(menu(facts), shortcuts(facts))

    def head(self, width: int, height: int) -> list[Line]:
        if self.page is not self._first:
            return []
        facts = self.facts
        lines: list[Line] = [(Part(f" {self._now()}", "strong"),)]
        flags = "   ".join(facts.flags)
        if facts.flags:
            lines.append((Part(f" {flags}" + ("   (quiet)" if facts.quiet else ""), "faint" if facts.quiet else "alert"),))
        if facts.advice and height > 16:
            lines.append((Part(f" advice for {facts.advice}", "text"),))
        return lines

    def beside(self, width: int, rows: int) -> tuple[int, list[Line]]:
        facts = self.facts
        if self.page is not self._first or width < ASIDE_FROM or not (facts.splits or facts.ahead):
            return 0, []
        room = min(rows, len(ENTRIES))
        coming = [_ahead_line(line) for line in facts.ahead[: max(0, room - 4)]]
        if coming:
            coming = [(Part("│ to come: split, keeps the margin?", "faint"),), *coming]
        if facts.drift and room - len(coming) > 3:
            coming.append((Part(f"│ {facts.drift}", "faint"),))
        left = room - len(coming) - 1
        latest = facts.splits[-left:] if left > 0 else ()
        heading: Line = (Part("│ this part so far", "faint"),)
        return ASIDE_CELLS, [*coming, *((heading, *(_split_line(row) for row in latest)) if latest else ())]

    def _now(self) -> str:
        facts = self.facts
        if not facts.move:
            return "nothing to do now"
        words = facts.move
        if facts.target is not None:
            words += f" {full_words(facts.target.amount, facts.target.unit)}"
        return f"work: {words}" + (f" ({facts.option})" if facts.option else "")


def _ahead_line(line: AheadLine) -> Line:
    move = padded(line.move, ASIDE_CELLS - 28)
    chance = Part(f" {line.chance}", "alert" if line.doubtful else "text")
    return (Part(f"│{line.round:>2} ", "faint"), Part(move), Part(f" {line.split:>10}", "text"), chance)


def _split_line(row: SplitRow) -> Line:
    station = padded(row.station, ASIDE_CELLS - 21)
    split = Part(f" {row_split(row):>13}", "text" if row.status == "done" else "faint")
    return (Part(f"│ {row.round:>3}  ", "faint"), Part(station), split)
