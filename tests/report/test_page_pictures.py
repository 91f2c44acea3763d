"""The pictures on the page: what a shape says, it says without colour."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

from floorclock.digest.class_digest import PartDigest
from floorclock.report.drawing import Drawing
from floorclock.report.page_pictures import (
    BAR_ROOM,
    LEGEND,
    NUMBER_ROOM,
    PANEL_HEIGHT,
    PANEL_WIDTH,
    ROW,
    rest_picture,
    split_lines,
)
from floorclock.report.terminal import short_name
from tests.pace.sample_class import RESTS, summary
from tests.report.outlooks import class_of, with_outlook
from tests.report.printing import shapes, texts

SAMPLE = 1
"""Every kind of shape is once in the legend."""


def harbour() -> PartDigest:
    return summary().parts[1]


def test_every_status_has_a_shape_of_its_own() -> None:
    part = harbour()
    drawn = rest_picture(part)
    done = [one for athlete in part.athletes for one in athlete.splits if one.split.rest_ms is not None]
    tight = [one for one in done if (one.split.rest_ms or 0) < one.split.margin_ms]
    fading = [one for one in done if "fading" in one.flags and one not in tight]
    assert (len(done), len(tight), len(fading)) == (30, 2, 5)
    assert shapes(drawn, "f-held") == len(done) - len(tight) - len(fading) + SAMPLE
    assert shapes(drawn, "s-held") == len(fading) + SAMPLE
    assert shapes(drawn, "s-ink") == 1 + SAMPLE, "not finished, a slash"
    assert shapes(drawn, "s-tight") > 3 * (len(tight) + SAMPLE), "frames and their hatching"


def test_rest_under_the_margin_is_said_in_seconds_too() -> None:
    part = harbour()
    said = texts(rest_picture(part))
    assert [word for word in said if word in ("12", "14")] == ["12", "14"]
    assert "24" not in said


def test_rows_have_names_and_flags_in_words() -> None:
    said = texts(rest_picture(harbour()))
    assert [word for word in said if word in RESTS] == list(RESTS)
    for words in ("held", "! tight, v fading", "v fading", "/ not finished", "untapped"):
        assert words in said


def test_the_legend_explains_every_shape_and_the_forecast_only_where_there_is_one() -> None:
    part = harbour()
    plain, ahead = texts(rest_picture(part)), texts(rest_picture(with_outlook().parts[1]))
    assert [words for words in LEGEND if words not in plain] == ["forecast"]
    assert [words for words in LEGEND if words not in ahead] == []


def test_what_is_to_come_is_dashed_with_its_seconds_where_the_margin_goes() -> None:
    part = with_outlook().parts[1]
    drawn = rest_picture(part)
    assert shapes(drawn, "s-ahead", dashed=True) == 4 + SAMPLE
    said = texts(drawn)
    row = said[said.index("Bram") : said.index("Sefa")]
    assert row == ["Bram", "12", "10", "6", "14", "13", "! tight, v fading"], (
        "rest 24, 20, 16, 12, then 10, 6; 26, 23, 19, 14, then 16, 13"
    )


def test_forty_athletes_in_thirty_rounds_have_room() -> None:
    part = class_of([f"Athlete {number}" for number in range(40)], ["swing"], 30).parts[0]
    drawn = rest_picture(part)
    assert drawn.height > 40 * ROW
    assert 900 < drawn.width < 1300


def test_a_number_never_stands_on_its_bar() -> None:
    assert BAR_ROOM + 4 <= ROW
    assert NUMBER_ROOM >= 11


def test_a_class_that_never_rested_can_be_drawn() -> None:
    part = class_of(["Ilka"], ["swing"], 1).parts[0]
    assert texts(rest_picture(part))


def test_names_are_cut_by_how_wide_they_are() -> None:
    assert short_name("Ilka", 4) == "Ilka"
    assert short_name("Liselotte", 5) == "Lise…"
    assert short_name("山田花子", 5) == "山田…"


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
