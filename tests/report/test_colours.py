"""Contrast by the formula of WCAG 2.2 (`tests/floor/test_palette.py` checks it against published values), light and dark."""

from __future__ import annotations

import pytest

from floorclock.report.colours import DARK, LIGHT, TEXT_INKS, ColourScheme, Ink
from tests.checks.reading import rows
from tests.tui.base.test_palette import SHAPE_CONTRAST, TEXT_CONTRAST, contrast

SCHEMES = pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])


@SCHEMES
@pytest.mark.parametrize("ink", TEXT_INKS)
def test_every_text_stands_out_from_both_grounds(scheme: ColourScheme, ink: Ink) -> None:
    for ground in (scheme.ground, scheme.raised):
        assert contrast(scheme.inks[ink], ground) >= TEXT_CONTRAST


@SCHEMES
@pytest.mark.parametrize("ink", Ink)
def test_every_shape_stands_out_from_the_ground(scheme: ColourScheme, ink: Ink) -> None:
    assert contrast(scheme.inks[ink], scheme.ground) >= SHAPE_CONTRAST


@SCHEMES
def test_data_are_in_the_hues_of_okabe_and_ito(scheme: ColourScheme) -> None:
    published = {row["hex"] for row in rows("okabe_ito.csv")}
    assert {scheme.inks[ink] for ink in (Ink.HELD, Ink.TIGHT, Ink.AHEAD)} <= published


@SCHEMES
def test_every_ink_has_a_colour_of_its_own(scheme: ColourScheme) -> None:
    assert len(set(scheme.inks.values())) == len(Ink) == len(scheme.inks)
