"""The picture on a card."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

from floorclock.report.drawing import Drawing
from floorclock.report.split_lines import PANEL_HEIGHT, PANEL_WIDTH, split_lines
from tests.pace.sample_class import summary
from tests.report.outlooks import class_of, with_outlook
from tests.report.printing import shapes, texts


def test_there_is_a_panel_for_each_station_with_rounds_end_and_goal() -> None:
    part = summary().parts[1]
    drawn = split_lines(part, part.athletes[0])
    assert (drawn.width, drawn.height) == (2 * PANEL_WIDTH, PANEL_HEIGHT)
    said = texts(drawn)
    assert [said.count(word) for word in ("swing", "step-up", "1:00", "0:45", "4")] == [1, 1, 2, 2, 2]


def test_splits_under_the_margin_untapped_and_unfinished_have_shapes_of_their_own() -> None:
    part = summary().parts[1]
    bram, odd, runa = part.athletes[1], part.athletes[3], part.athletes[4]
    for athlete, dots, slashes, holes in ((bram, 6, 0, 0), (odd, 6, 1, 1), (runa, 0, 0, 8)):
        drawn = split_lines(part, athlete)
        assert shapes(drawn, "f-held") == dots
        assert shapes(drawn, "s-ink") == slashes
        assert texts(drawn).count("?") == holes


def test_what_is_to_come_is_a_ring_with_its_span_and_the_fitted_line_goes_on_to_it() -> None:
    part = with_outlook().parts[1]
    drawn = split_lines(part, part.athletes[1])
    assert shapes(drawn, "s-ahead") == 4 + 4
    lines = [path for path in ElementTree.fromstring(drawn.svg("x")).iter("path") if path.attrib.get("stroke-width") == "1.2"]
    fitted = [path for path in lines if path.attrib["class"] == "s-dim"]
    assert fitted[0].attrib["d"].count("M") == 2
    assert fitted[0].attrib["d"].count("L") == 2 * (4 + 2 - 1)


def test_a_later_split_stands_higher() -> None:
    part = summary().parts[1]
    drawn = split_lines(part, part.athletes[1])
    svg = ElementTree.fromstring(drawn.svg("x"))
    (dots,) = [path.attrib["d"] for path in svg.iter("path") if path.attrib["class"] == "f-held"]
    heights = [float(circle.split("C")[0].split()[1]) for circle in dots.split("M")[1:]]
    assert heights[0] > heights[1] > heights[2]


def test_only_the_round_whose_interval_was_made_longer_has_its_lines_elsewhere() -> None:
    part = class_of(["Ilka"], ["swing"], 5).parts[0]
    (ilka,) = part.athletes
    longer = replace(
        ilka,
        splits=tuple(
            replace(one, split=replace(one.split, window_ms=70_000 if at == 2 else 60_000)) for at, one in enumerate(ilka.splits)
        ),
    )
    assert [len(set(heights)) for heights in _lines_across(split_lines(part, ilka))] == [1, 1]
    for heights in _lines_across(split_lines(part, longer)):
        usual, own = heights[0], heights[4]
        assert heights == [usual] * 4 + [own] * 2 + [usual] * 4
        assert own < usual


def _lines_across(drawn: Drawing) -> list[list[float]]:
    """The heights of the line of ends and of the line of goals, two for each round."""
    paths = [path.attrib for path in ElementTree.fromstring(drawn.svg("x")).iter("path")]
    lines = [next(path["d"] for path in paths if path["class"] == "s-guide")]
    lines += [path["d"] for path in paths if path["class"] == "s-dim" and "stroke-dasharray" in path]
    return [[float(point.split()[1]) for point in re.split("[ML]", line.split("M")[1]) if point.split()] for line in lines]


def test_thirty_rounds_are_labelled_sparsely() -> None:
    part = class_of(["Ilka"], ["swing"], 30).parts[0]
    drawn = split_lines(part, part.athletes[0])
    assert len([word for word in texts(drawn) if word.isdigit()]) <= 10
