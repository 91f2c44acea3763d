"""The rest picture: what a shape says, it says without colour."""

from __future__ import annotations

from floorclock.digest.class_digest import PartDigest
from floorclock.report.rest_picture import BAR_ROOM, LEGEND, NUMBER_ROOM, ROW, rest_picture
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
