"""Wall times against the examples of RFC 3339 and against the standard library's own reader."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.journal.instants import instant_text, read_instant

# RFC 3339 section 5.8; the five examples are known from memory, surely. The leap second is read as the instant after it.
RFC_3339_EXAMPLES = [
    ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, 50, 520_000, UTC)),
    ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, 0, UTC)),
    ("1990-12-31T23:59:60Z", datetime(1991, 1, 1, tzinfo=UTC)),
    ("1990-12-31T15:59:60-08:00", datetime(1991, 1, 1, tzinfo=UTC)),
    ("1937-01-01T12:00:27.87+00:20", datetime(1937, 1, 1, 11, 40, 27, 870_000, UTC)),
]
instants = st.datetimes(
    min_value=datetime(2, 1, 1), max_value=datetime(9998, 12, 31), timezones=st.just(UTC) | st.integers(-1439, 1439).map(
        lambda minutes: timezone(timedelta(minutes=minutes))
    )
)  # fmt: skip


@pytest.mark.parametrize(("text", "instant"), RFC_3339_EXAMPLES)
def test_the_examples_of_rfc_3339_are_the_instants_it_says(text: str, instant: datetime) -> None:
    assert read_instant(text) == instant


def test_an_unknown_local_offset_is_utc() -> None:
    # RFC 3339 section 4.3: `-00:00` says that UTC is known and the local offset is not.
    assert read_instant("2026-11-25T18:31:04-00:00") == datetime(2026, 11, 25, 18, 31, 4, 0, UTC)


def test_t_and_z_may_be_lower_case_on_the_way_in_and_are_upper_case_on_the_way_out() -> None:
    # RFC 3339 section 5.6, note.
    assert read_instant("1985-04-12t23:20:50.52z") == read_instant("1985-04-12T23:20:50.52Z")
    assert "T" in instant_text(datetime(1985, 4, 12, tzinfo=UTC))


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-25",
        "2026-11-25T18:31:04",
        "2026-11-25 18:31:04Z",
        "20261125T183104Z",
        "2026-W48-3T18:31:04Z",
        "2026-11-25T18:31Z",
        "2026-11-25T24:00:00Z",
        "2026-02-30T00:00:00Z",
        "2026-11-25T18:31:60Z",
        "2026-11-25T18:31:61Z",
        "2026-11-25T18:31:04+24:00",
        "2026-11-25T18:31:04+01:60",
        "2026-11-25T18:31:04,5Z",
        "٢٠٢٦-11-25T18:31:04Z",
        "2026-11-25T18:31:04Z\n",
        "",
    ],
)
def test_what_is_no_rfc_3339_time_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".+"):
        read_instant(text)


@given(instants)
def test_a_written_time_reads_back_to_the_millisecond_with_its_offset(wall: datetime) -> None:
    text = instant_text(wall)
    back = read_instant(text)
    assert back == wall - timedelta(microseconds=wall.microsecond % 1_000)
    assert back.utcoffset() == wall.utcoffset()
    assert datetime.fromisoformat(text) == back


def test_a_time_without_an_offset_gets_the_machines_own() -> None:
    local = datetime(2026, 11, 25, 18, 31)
    assert read_instant(instant_text(local)) == local.astimezone()


def test_an_offset_with_seconds_is_written_in_utc() -> None:
    # Local mean time of Amsterdam until 1937 was 19 min 32 s ahead; RFC 3339 knows whole minutes only.
    wall = datetime(1930, 6, 1, 12, 0, 0, tzinfo=timezone(timedelta(minutes=19, seconds=32)))
    assert instant_text(wall) == "1930-06-01T11:40:28.000+00:00"
