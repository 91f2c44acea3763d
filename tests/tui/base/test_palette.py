"""Contrast by the formula of WCAG 2.2, and the hues of Okabe and Ito."""

from __future__ import annotations

import pytest
from rich.color import ColorSystem
from rich.style import Style

from floorclock.tui.base import palette
from floorclock.tui.base.digits import numeral, size_of
from floorclock.tui.base.lines import drawn
from floorclock.tui.base.palette import ALL_STYLES, GROUND, LOOKS, Mood
from tests.checks.reading import rows

TEXT_CONTRAST = 4.5
"""WCAG 2.2, success criterion 1.4.3 (AA, text)."""
MOODS: tuple[Mood, ...] = ("work", "rest", "paused")
SHAPE_CONTRAST = 3.0
"""WCAG 2.2, success criteria 1.4.3 (AA, large text) and 1.4.11 (shapes)."""


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.x defines it."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("row", rows("contrast.csv"), ids=lambda row: row["hex"])
def test_the_formula_gives_the_published_contrasts(row: dict[str, str]) -> None:
    assert luminance(row["hex"]) == pytest.approx(float(row["rel_luminance"]), abs=5e-7)
    assert contrast(row["hex"], "#FFFFFF") == pytest.approx(float(row["vs_white"]), abs=5e-5)
    assert contrast(row["hex"], "#000000") == pytest.approx(float(row["vs_black"]), abs=5e-5)


def test_the_hues_are_those_of_okabe_and_ito() -> None:
    published = {row["name"].replace(" ", "_").upper(): row["hex"] for row in rows("okabe_ito.csv")}
    ours = {name: getattr(palette, name) for name in published if hasattr(palette, name)}
    assert set(ours) == {"ORANGE", "SKY_BLUE", "BLUISH_GREEN", "YELLOW", "VERMILLION", "REDDISH_PURPLE"}
    assert ours == {name: published[name] for name in ours}


@pytest.mark.parametrize("style", [style for style in ALL_STYLES if style.color is not None], ids=str)
def test_every_text_stands_out_from_its_ground(style: Style) -> None:
    assert style.color is not None
    assert style.bgcolor is not None
    assert contrast(style.color.name, style.bgcolor.name) >= TEXT_CONTRAST


@pytest.mark.parametrize("mood", LOOKS)
def test_the_big_digits_stand_out_from_the_ground(mood: Mood) -> None:
    assert contrast(LOOKS[mood].colour, GROUND) >= SHAPE_CONTRAST


@pytest.mark.parametrize("style", [style for style in ALL_STYLES if style.color is not None], ids=str)
def test_every_text_can_be_read_in_16_colours(style: Style) -> None:
    assert style.color is not None
    assert style.bgcolor is not None
    ink, ground = (colour.downgrade(ColorSystem.STANDARD).number for colour in (style.color, style.bgcolor))
    assert ink != ground
    assert 8 not in (ink, ground)
    # Many terminals of 16 colours draw bold black as grey.
    assert not (ink == 0 and style.bold)


def test_no_text_is_dimmed_by_the_terminal() -> None:
    assert not any(style.dim or style.blink for style in ALL_STYLES)


def test_work_rest_and_pause_are_told_apart_without_colour() -> None:
    row = numeral("8", size_of(18, 15))[0]
    texts = {mood: "".join(segment.text for segment in drawn(row, LOOKS[mood])).strip() for mood in MOODS}
    textures = {LOOKS[mood].texture for mood in MOODS}
    assert len(set(texts.values())) == 3
    assert textures == {"solid", "louvre", "slats"}
