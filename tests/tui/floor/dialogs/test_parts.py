from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.color import Color

from floorclock.tui.floor.dialogs.parts import STYLES, Ink, Part, cells, ends, hint_line, in_width, padded, paragraph, title_line
from tests.tui.floor.dialogs.floor_behind import NAUGHTY_NAMES

NAMES = st.text(st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn")), max_size=40)


def luminance(colour: Color | None) -> float:
    """Relative luminance, WCAG 2.2."""
    assert colour is not None
    parts = [part / 255 for part in colour.get_truecolor()]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Color | None, other: Color | None) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_the_published_values() -> None:
    """WCAG 2.2: white on black is 21:1; #777777 on white just fails 4.5 with 4.48 (w3c/wcag, issue 200)."""
    white, black = Color.parse("#ffffff"), Color.parse("#000000")
    assert contrast(white, black) == pytest.approx(21.0)
    assert contrast(Color.parse("#777777"), white) == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("ink", STYLES)
def test_every_ink_is_read_on_its_ground(ink: Ink) -> None:
    """WCAG 2.2, success criterion 1.4.3: text has a contrast of 4.5 at least."""
    assert contrast(STYLES[ink].color, STYLES[ink].bgcolor) >= 4.5


@settings(max_examples=200, deadline=None)
@given(NAMES, NAMES, st.integers(1, 60))
def test_a_line_fills_its_width_whatever_the_names(one: str, other: str, width: int) -> None:
    assert cells(in_width((Part(one), Part(other, "key")), width)) == width
    assert cell_len(padded(one, width)) == width
    assert cells(title_line(one, "typing", width + 10)) == width + 10
    assert cells(ends((Part(one),), (Part("12"),), width + 2)) == width + 2


@pytest.mark.parametrize("name", NAUGHTY_NAMES)
def test_a_cut_name_keeps_its_start(name: str) -> None:
    assert padded(name, 4)[0] == name[0]


def test_a_paragraph_is_broken_between_words_and_marked_once() -> None:
    lines = paragraph("one two three four", 10, "alert", 3, "!")
    assert [line[0].text for line in lines] == [" ! one", "   two", "   three…"]
    assert paragraph("", 10) == []


def test_hints_that_do_not_fit_whole_are_left_out() -> None:
    hints = (("Enter", "yes"), ("Esc", "no"), ("F2", "more"))
    assert "".join(part.text for part in hint_line(hints, 80)) == " Enter yes  Esc no  F2 more "
    assert "".join(part.text for part in hint_line(hints, 19)) == " Enter yes  Esc no "
    assert hint_line(hints, 5) == ()
