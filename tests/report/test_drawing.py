"""Shapes and words as SVG and as PNG."""

from __future__ import annotations

import io
import logging
from xml.etree import ElementTree

import pytest
from PIL import Image

from floorclock.report.colours import DARK, LIGHT, Ink
from floorclock.report.drawing import Drawing
from tests.report.outlooks import HOSTILE
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


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
def test_the_png_has_the_wanted_width_and_the_colours_of_the_scheme(scheme: object) -> None:
    assert scheme in (LIGHT, DARK)
    chosen = LIGHT if scheme is LIGHT else DARK
    picture = pixels(drawing().png(chosen, 800))
    assert picture.size == (800, 400)
    found = [f"#{red:02X}{green:02X}{blue:02X}" for red, green, blue in (picture.getpixel((4, 4)), picture.getpixel((140, 120)))]  # type: ignore[misc]
    assert found == [chosen.ground, chosen.inks[Ink.HELD]]


def test_a_hatched_box_is_neither_empty_nor_full() -> None:
    made = Drawing(60, 60)
    made.hatched(Ink.TIGHT, 10, 10, 40, 40)
    inside = pixels(made.png(LIGHT, 240)).crop((48, 48, 192, 192))
    dark = sum(inside.convert("L").histogram()[:200]) / (144 * 144)
    assert 0.2 < dark < 0.8


@pytest.mark.parametrize("name", HOSTILE)
def test_any_name_is_drawn_without_a_warning_and_leaves_ink(name: str, caplog: pytest.LogCaptureFixture) -> None:
    made = Drawing(300, 40)
    made.text((10, 25), name, bold=True)
    with caplog.at_level(logging.WARNING):
        picture = pixels(made.png(LIGHT, 600)).convert("L")
    assert sum(picture.histogram()[:100]) > 20
    assert caplog.records == []


def test_a_dollar_is_a_dollar() -> None:
    formula, plain = Drawing(200, 40), Drawing(200, 40)
    formula.text((10, 25), "$x$")
    plain.text((10, 25), "x")
    widths = [pixels(made.png(LIGHT, 400)).convert("L").point(lambda ink: 255 - ink).getbbox() for made in (formula, plain)]
    assert widths[0] is not None
    assert widths[1] is not None
    assert widths[0][2] - widths[0][0] > 2 * (widths[1][2] - widths[1][0])
