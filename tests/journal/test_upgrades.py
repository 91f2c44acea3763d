"""Lines of older builds say today what they said then, and lines of unknown builds are not guessed at."""

from __future__ import annotations

import pytest

from floorclock.clock.events import Paused, Resumed
from floorclock.journal.lines import VERSION, encode
from floorclock.journal.reading import read_bytes
from floorclock.journal.upgrades import UnknownVersion, upgraded
from tests.journal.sample_class import journal_bytes, sample_header

HEAD = journal_bytes(0)


@pytest.mark.parametrize("version", [0, VERSION + 1, 99])
def test_a_line_of_a_version_that_nobody_wrote_is_kept_aside_and_what_follows_it_is_read(version: int) -> None:
    tap = {"event": "tap", "at_ms": 5, "athlete": "Ilka"}
    with pytest.raises(UnknownVersion):
        upgraded({"v": version, **tap})
    reading = read_bytes(HEAD + encode({"seq": 1, **tap, "v": version}) + encode({"seq": 2, **tap}))
    assert [values["v"] for values in reading.aside] == [version]
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


def test_a_header_of_the_first_build_or_of_a_newer_one_is_used() -> None:
    first = {key: value for key, value in sample_header().to_dict().items() if key not in ("cues", "paper")}
    reading = read_bytes(encode(first))
    assert (reading.header, reading.damage) == (sample_header(cues="", paper=False), ())
    for changed in (HEAD.replace(b'{"v":1,', b'{"v":3,'), encode({**sample_header().to_dict(), "v": 9, "colour": "blue"})):
        reading = read_bytes(changed)
        assert reading.header == sample_header()
        assert {damage.line for damage in reading.damage} == {1}
