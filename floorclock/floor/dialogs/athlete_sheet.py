"""Everything that can be done for one athlete while the class runs, one key each.

Invariant: the sheet changes nothing itself; it answers one action, or nothing.
"""

from __future__ import annotations

from floorclock.floor.dialogs.athlete_facts import AthleteAction, AthleteFacts, SplitRow
from floorclock.floor.dialogs.pages import PagedDialog
from floorclock.floor.dialogs.parts import Line, Part, padded
from floorclock.floor.dialogs.reading import full_words
from floorclock.floor.dialogs.sheet_pages import ENTRIES, menu, row_split, shortcuts

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
        lines: list[Line] = [(Part(f" {self._now()}", "strong"),)]
        if self.facts.flags:
            lines.append((Part(f" {'   '.join(self.facts.flags)}", "alert"),))
        return lines

    def beside(self, width: int, rows: int) -> tuple[int, list[Line]]:
        if self.page is not self._first or width < ASIDE_FROM or not self.facts.splits:
            return 0, []
        latest = self.facts.splits[-(min(rows, len(ENTRIES)) - 1) :] if rows > 1 else ()
        return ASIDE_CELLS, [(Part("│ this part so far", "faint"),), *(_split_line(row) for row in latest)]

    def _now(self) -> str:
        facts = self.facts
        if not facts.move:
            return "nothing to do now"
        words = facts.move
        if facts.target is not None:
            words += f" {full_words(facts.target.amount, facts.target.unit)}"
        return f"work: {words}" + (f" ({facts.option})" if facts.option else "")


def _split_line(row: SplitRow) -> Line:
    station = padded(row.station, ASIDE_CELLS - 21)
    split = Part(f" {row_split(row):>13}", "text" if row.status == "done" else "faint")
    return (Part(f"│ {row.round:>3}  ", "faint"), Part(station), split)
