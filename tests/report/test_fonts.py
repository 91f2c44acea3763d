"""Fonts for a PNG. What a machine has differs: what it cannot show is a question mark, never an empty box."""

from __future__ import annotations

import pytest
from matplotlib.font_manager import fontManager, get_font

from floorclock.report.drawing import FIRST, families_for, printable


def some_font_has(letter: str) -> bool:
    """As our own search does not look: every file, by its own table of letters."""
    plain = [
        entry
        for entry in fontManager.ttflist
        if not any(word in entry.name.lower() for word in ("last resort", "emoji", "symbol"))
    ]
    return any(ord(letter) in get_font(entry.fname).get_charmap() for entry in plain)


def test_latin_greek_and_cyrillic_need_no_other_font() -> None:
    assert families_for("Åse Ωmega Нура, 12 %") == [FIRST]


@pytest.mark.parametrize("letter", ["紗", "한", "ع", "ש", "न", "ไ"])
def test_a_letter_that_some_font_has_is_shown_and_another_is_a_question_mark(letter: str) -> None:
    shown = printable(f"A{letter}b", families_for(f"A{letter}b"))
    assert shown == (f"A{letter}b" if some_font_has(letter) else "A?b")


def test_no_letter_is_taken_for_known_without_its_font() -> None:
    assert printable("A\U0001f3cbb", [FIRST]) == "A?b"


def test_marks_go_with_the_letter_that_is_not_there() -> None:
    assert printable("\U0001f3cb\u0301a\u0301", [FIRST]) == "?a\u0301"


def test_spaces_and_joiners_are_left_as_they_are() -> None:
    assert printable("a \u200db", [FIRST]) == "a \u200db"
