"""What comes next, on a terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest
from floorclock.report.text_outlook import last_of_each_station, print_outlook
from rich.cells import cell_len

from floorclock.digest.words import target_words
from floorclock.pace.advice import Way
from floorclock.report.text import print_review
from tests.pace.sample_class import summary
from tests.report.outlooks import advice, to_come, with_outlook
from tests.report.printing import printed


def said(width: int = 100) -> list[str]:
    return [
        " ".join(line.split()) for line in printed(lambda console: print_outlook(with_outlook(), console), width).splitlines()
    ]


def test_a_forecast_has_its_span_and_the_round_in_which_the_margin_goes() -> None:
    lines = said(200)
    at = lines.index("What is to come")
    assert (
        lines[at + 1]
        == "Bram x the margin is likely to go in round 5, swing round 6: 54 s (49 to 59), step-up round 6: 46 s (42 to 51)"
    )


def test_targets_come_in_the_order_of_the_stations_with_a_sign_for_the_way() -> None:
    lines = said()
    assert lines[lines.index("Next targets") + 1] == "Bram swing 8 -, step-up 10 ="


def test_load_is_said_and_what_was_not_rated_too() -> None:
    lines = said()
    at = lines.index("Effort and load")
    assert lines[at + 1 : at + 3] == ["Ilka effort 6 x 42 minutes = load 252", "Bram effort not rated, 42 minutes"]


def test_nothing_is_said_of_what_is_not_known() -> None:
    made = summary()
    unknown = tuple(replace(part, athletes=tuple(replace(one, advice=()) for one in part.athletes)) for part in made.parts)
    nothing = replace(made, parts=unknown, load=())
    assert printed(lambda console: print_outlook(nothing, console)) == ""


def test_who_does_another_move_than_the_station_has_it_named_with_the_number() -> None:
    """Somebody who was never allowed a guarded move must not be given its number."""
    instead = advice(0, Way.KEEP, 12, own_move="box step-up")
    assert target_words(instead) == "box step-up 12"
    made = with_outlook()
    athletes = tuple(replace(one, advice=(instead,)) if one.name == "Bram" else one for one in made.parts[1].athletes)
    changed = replace(made, parts=(replace(made.parts[1], athletes=athletes),))
    text = " ".join(printed(lambda console: print_outlook(changed, console)).split())
    assert "Bram box step-up 12 =" in text
    assert "swing 12" not in text


def test_the_review_ends_with_it() -> None:
    text = printed(lambda console: print_review(with_outlook(), console))
    assert (
        text.index("Who to talk to") < text.index("What is to come") < text.index("Next targets") < text.index("Effort and load")
    )


@pytest.mark.parametrize("width", [20, 40, 80])
def test_nothing_runs_past_the_edge(width: int) -> None:
    text = printed(lambda console: print_outlook(with_outlook(), console), width)
    assert max(cell_len(line) for line in text.splitlines()) <= width
    assert "load252" in "".join(text.split())


def test_the_last_round_of_each_station_is_told() -> None:
    found = last_of_each_station([to_come(1, 5, 1), to_come(0, 6, 2), to_come(0, 5, 3)])
    assert [(one.slot.station, one.slot.round) for one in found] == [(0, 6), (1, 5)]
