"""What the keys do in the review. The one table that the screens obey and the help page shows.

Invariant: a key that is listed here works on the screens that it is listed for, and every key that works is listed.
"""

from __future__ import annotations

from typing import Final

from floorclock.tui.base.keys_line import Keys
from floorclock.tui.floor.dialogs.help_page import KeyLine

ALL_KEYS: Final[tuple[KeyLine, ...]] = (
    ("views", "1 to 5", "class, rest, athlete, results, effort (in effort digits rate: use Tab)"),
    ("views", "Tab, Shift+Tab", "the next view, the one before"),
    ("views", "p", "the next part of the class"),
    ("lists", "↑ ↓", "the next line, the one before"),
    ("lists", "Page Up, Page Down", "a page of it"),
    ("lists", "Home, End", "its begin, its end"),
    ("rest", "o", "another order: board, name, least rest, drift"),
    ("rest", "s", "another station, or the least rest of each round"),
    ("rest", "← →", "other rounds, where not all of them fit"),
    ("rest", "Enter", "the chosen athlete (a click on them does the same); Esc comes back"),
    ("athlete", "← →", "the athlete before, the next one"),
    ("athlete", "s", "other stations in the plot, where not all of them fit"),
    ("effort", "0 to 10", "the chosen athlete's rating; a half is typed as 7.5"),
    ("effort", "← →", "half a step less, half a step more"),
    ("effort", "Backspace", "takes the rating back; one that took another's place gives it back"),
    ("effort", "Enter", "the next athlete"),
    ("the review", "?", "this page"),
    ("the review", "Esc", "back from an athlete to where Enter or a click was, else leave"),
    ("the review", "q, F10", "leave"),
)

LAST: Final[Keys] = (("q", "leave"), ("?", "all keys"))
TURN: Final[Keys] = (("1-5 Tab", "views"),)
GLANCE: Final[Keys] = (*TURN, ("↑↓", "more"), *LAST)
REST: Final[Keys] = (("↑↓", "choose"), ("Enter", "athlete"), ("o", "order"), ("s", "station"), *TURN, *LAST)
ATHLETE: Final[Keys] = (("←→", "athlete"), ("s", "stations"), ("↑↓", "more"), *TURN, *LAST)
RESULTS: Final[Keys] = (("↑↓", "choose"), *TURN, *LAST)
EFFORT: Final[Keys] = (("0-10", "rate"), ("Enter", "next"), ("Tab", "views"), ("Backspace", "take back"), ("←→", "half"), *LAST)
PART: Final[Keys] = (("p", "part"),)
"""Stands with the others where there is more than one part."""
