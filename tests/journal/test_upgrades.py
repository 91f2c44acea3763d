"""Lines of older builds say today what they said then."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from floorclock.clock.events import Paused, Resumed
from floorclock.journal.lines import VERSION, encode
from floorclock.journal.reading import read_bytes
from floorclock.journal.upgrades import STEPS, UnknownVersion, upgraded
from tests.journal.sample_class import journal_bytes, sample_header

HEAD = journal_bytes(0)


def in_seconds(values: Mapping[str, Any]) -> Mapping[str, Any]:
    """An invented step: the version after it counts in milliseconds."""
    return {**{key: value for key, value in values.items() if key != "at_s"}, "at_ms": values["at_s"] * 1000}


def renamed(values: Mapping[str, Any]) -> Mapping[str, Any]:
    """An invented step: the version after it has another word for a tap."""
    return {**values, "event": "tap"} if values["event"] == "touch" else values


INVENTED = {1: in_seconds, 2: renamed, 3: lambda values: values}


def test_every_version_that_was_ever_written_has_a_step_and_the_chain_has_no_gap() -> None:
    assert sorted(STEPS) == list(range(1, VERSION + 1))


def test_steps_are_taken_one_after_the_other_from_the_version_of_the_line() -> None:
    first = {"v": 1, "event": "touch", "at_s": 5}
    assert upgraded(first, INVENTED, newest=3) == {"v": 3, "event": "tap", "at_ms": 5_000}
    assert upgraded({"v": 2, "event": "touch", "at_ms": 5_000}, INVENTED, newest=3) == {"v": 3, "event": "tap", "at_ms": 5_000}
    assert first == {"v": 1, "event": "touch", "at_s": 5}


@pytest.mark.parametrize("version", [0, VERSION + 1, 99])
def test_a_version_that_nobody_wrote_is_not_guessed_at(version: int) -> None:
    with pytest.raises(UnknownVersion):
        upgraded({"v": version, "event": "tap"})


def test_a_line_of_a_version_that_nobody_wrote_is_kept_aside_and_what_follows_it_is_read() -> None:
    tap = {"event": "tap", "at_ms": 5, "athlete": "Ilka"}
    reading = read_bytes(HEAD + encode({"seq": 1, **tap, "v": 0}) + encode({"seq": 2, **tap}))
    assert [values["v"] for values in reading.aside] == [0]
    assert [str(damage) for damage in reading.damage] == ["line 2: was written by another version of floorclock; kept aside"]
    assert len(reading.events) == 1


def test_keys_that_came_later_mean_what_they_meant_before_they_were_there() -> None:
    reading = read_bytes(
        HEAD
        + encode({"seq": 1, "event": "pause", "at_ms": 5})
        + encode({"seq": 2, "event": "resume", "at_ms": 9, "count_in_ms": 3_000})
        + encode({"seq": 3, "event": "resume", "at_ms": 9, "count_in_ms": 3_000, "lead_ms": 300})
    )
    assert reading.damage == ()
    assert reading.events == (
        Paused(at_ms=5, interrupted=""),
        Resumed(at_ms=9, count_in_ms=3_000, lead_ms=0),
        Resumed(at_ms=9, count_in_ms=3_000, lead_ms=300),
    )


def test_the_header_of_the_first_build_is_a_class_of_taps_with_the_cues_of_its_plan() -> None:
    values = {key: value for key, value in sample_header().to_dict().items() if key not in ("cues", "paper")}
    reading = read_bytes(encode(values))
    assert reading.header == sample_header(cues="", paper=False)
    assert reading.damage == ()


def test_a_header_with_a_changed_version_is_still_worth_more_than_none() -> None:
    reading = read_bytes(HEAD.replace(b'{"v":1,', b'{"v":3,'))
    assert reading.header == sample_header()
    assert {damage.line for damage in reading.damage} == {1}
