"""Shapes and words as SVG and as PNG, in fonts that have their letters."""

from __future__ import annotations

import io
import logging
from xml.etree import ElementTree

import pytest
from matplotlib.font_manager import fontManager, get_font
from PIL import Image

from floorclock.report.colours import LIGHT, Ink
from floorclock.report.drawing import FIRST, Drawing, families_for, printable
from tests.odd_names import ODD_NAMES
from tests.report.printing import shapes, texts


def drawing() -> Drawing:
    made = Drawing(200, 100)
    made.box(Ink.HELD, 20, 10, 30, 40)
    made.box(Ink.AHEAD, 60, 10, 30, 40, frame=True, dashed=True)
    made.line(Ink.INK, (0, 90), (200, 90), width=2)
    made.text((20, 70), "Ilka", anchor="right", bold=True)
    return made


def pixels(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("RGB")


def test_the_svg_has_our_classes_and_coordinates_and_nothing_of_its_own() -> None:
    root = ElementTree.fromstring(drawing().svg("What it shows"))
    assert root.attrib == {
        "viewBox": "0 0 200 100",
        "role": "img",
        "aria-label": "What it shows",
        "width": "200",
        "height": "100",
    }
    filled, dashed, line, text = list(root)
    assert filled.attrib == {"class": "f-held", "d": "M20 10L50 10L50 50L20 50z"}
    assert dashed.attrib["stroke-dasharray"] == "3 2"
    assert (line.attrib["class"], line.attrib["d"], line.attrib["stroke-width"]) == ("s-ink", "M0 90L200 90", "2")
    assert text.attrib == {"class": "f-ink b", "x": "20", "y": "70", "font-size": "11", "text-anchor": "end"}
    assert {name for element in root.iter() for name in element.attrib} & {"style", "id", "clip-path"} == set()


def test_shapes_of_one_kind_become_one_path() -> None:
    made = Drawing(400, 20)
    for place in range(50):
        made.box(Ink.HELD, 8 * place, 0, 6, 10)
    assert len(list(ElementTree.fromstring(made.svg("x")))) == 1
    assert shapes(made, "f-held") == 50


def test_a_label_and_words_are_escaped() -> None:
    made = Drawing(10, 10)
    made.text((0, 0), "</text><script>&")
    svg = made.svg('"><script>')
    assert "<script>" not in svg
    assert texts(made) == ["</text><script>&"]


def test_a_drawing_placed_in_another_keeps_its_shapes_and_words() -> None:
    page = Drawing(300, 200)
    page.place(drawing(), (100, 50))
    root = ElementTree.fromstring(page.svg("x"))
    assert root[0].attrib["d"] == "M120 60L150 60L150 100L120 100z"
    assert (root[3].attrib["x"], root[3].attrib["y"]) == ("120", "120")


def test_the_png_is_1600_wide_and_in_our_colours() -> None:
    picture = pixels(drawing().png())
    assert picture.size == (1600, 800)
    found = [f"#{red:02X}{green:02X}{blue:02X}" for red, green, blue in (picture.getpixel((8, 8)), picture.getpixel((280, 240)))]  # type: ignore[misc]
    assert found == [LIGHT.ground, LIGHT.inks[Ink.HELD]]


def test_a_hatched_box_is_neither_empty_nor_full() -> None:
    made = Drawing(160, 60)
    made.hatched(Ink.TIGHT, 10, 10, 40, 40)
    inside = pixels(made.png()).crop((120, 120, 480, 480))
    dark = sum(inside.convert("L").histogram()[:200]) / (360 * 360)
    assert 0.2 < dark < 0.8


@pytest.mark.parametrize("name", ODD_NAMES)
def test_any_name_is_drawn_without_a_warning_and_leaves_ink(name: str, caplog: pytest.LogCaptureFixture) -> None:
    made = Drawing(300, 40)
    made.text((10, 25), name, bold=True)
    with caplog.at_level(logging.WARNING):
        picture = pixels(made.png()).convert("L")
    assert sum(picture.histogram()[:100]) > 20
    assert caplog.records == []


def test_a_dollar_is_a_dollar() -> None:
    formula, plain = Drawing(200, 40), Drawing(200, 40)
    formula.text((10, 25), "$x$")
    plain.text((10, 25), "x")
    widths = [pixels(made.png()).convert("L").point(lambda ink: 255 - ink).getbbox() for made in (formula, plain)]
    assert widths[0] is not None
    assert widths[1] is not None
    assert widths[0][2] - widths[0][0] > 2 * (widths[1][2] - widths[1][0])


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
