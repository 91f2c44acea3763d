"""Reading journals: whole, torn, damaged, from a newer floorclock."""

from __future__ import annotations

from dataclasses import fields
from datetime import timedelta
from fractions import Fraction
from itertools import accumulate
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.events import EVENTS
from floorclock.errors import NotFound, ResourceError
from floorclock.journal.lines import encode
from floorclock.journal.reading import Header, JournalReading, header_line, read_bytes, read_journal
from floorclock.plan.work import Load, LoadUnit
from tests.journal.sample_class import WALL, event_numbered, events_through, journal_bytes, sample_header

EVENTS_IN_IT = 12
WHOLE = journal_bytes(EVENTS_IN_IT)
LINES = WHOLE.splitlines(keepends=True)
TAP: dict[str, Any] = {"seq": 1, "event": "tap", "at_ms": 5, "athlete": "Ilka"}


def read_lines(*lines: bytes) -> JournalReading:
    return read_bytes(b"".join((LINES[0], *lines)))


class TestAWholeJournal:
    def test_gives_back_everything_that_was_written(self) -> None:
        reading = read_bytes(WHOLE)
        assert len(LINES) == 1 + EVENTS_IN_IT
        assert reading.header == sample_header()
        assert reading.events == events_through(EVENTS_IN_IT)
        assert reading.seqs == tuple(range(1, EVENTS_IN_IT + 1))
        assert reading.walls == tuple(WALL + timedelta(seconds=seq) for seq in range(1, EVENTS_IN_IT + 1))
        assert (reading.damage, reading.aside, reading.torn, reading.ends_open) == ((), (), False, False)
        assert (reading.good_length, reading.next_seq) == (len(WHOLE), EVENTS_IN_IT + 1)

    def test_reads_the_same_with_the_line_ends_of_another_system_and_blank_lines(self) -> None:
        reading = read_bytes(WHOLE.replace(b"\n", b"\r\n\r\n"))
        assert (reading.events, reading.damage) == (events_through(EVENTS_IN_IT), ())

    @pytest.mark.parametrize("margin", [None, 0, 15_000])
    def test_keeps_the_header_to_the_letter(self, margin: int | None) -> None:
        header = sample_header(rest_margin_ms=margin, rehearsal=True, speed=12.5)
        assert Header.from_dict(header.to_dict()) == header
        assert read_bytes(header_line(header)).header == header


class TestATornEnd:
    def test_costs_at_most_the_last_line_at_every_byte(self) -> None:
        header = len(LINES[0])
        for length in (*range(0, header - 2, 41), *range(header - 2, len(b"".join(LINES[:4])) + 2)):
            cut = WHOLE[:length]
            reading = read_bytes(cut)
            ended = cut.count(b"\n")
            # A line that lacks nothing but its line end is whole.
            open_whole = length < len(WHOLE) and WHOLE[length : length + 1] == b"\n"
            events = max(0, ended + open_whole - 1)
            assert reading.events == events_through(events)
            assert reading.damage == ()
            assert reading.torn == (length > 0 and not cut.endswith(b"\n") and not open_whole)
            assert reading.ends_open == open_whole
            assert reading.good_length == (length if open_whole else cut.rfind(b"\n") + 1)
            assert (reading.header is None) == (ended + open_whole == 0)

    def test_of_zeros_as_a_dead_battery_leaves_them_is_torn(self) -> None:
        reading = read_bytes(WHOLE + bytes(4_096))
        assert reading.torn
        assert reading.events == events_through(EVENTS_IN_IT)
        assert reading.good_length == len(WHOLE)


class TestAMiddleLine:
    @given(st.integers(1, EVENTS_IN_IT - 1), st.data())
    def test_with_a_changed_bit_is_reported_and_the_rest_kept(self, line: int, data: st.DataObject) -> None:
        bit = data.draw(st.integers(0, (len(LINES[line]) - 1) * 8 - 1))
        changed = bytearray(LINES[line])
        changed[bit // 8] ^= 1 << bit % 8
        reading = read_bytes(b"".join((*LINES[:line], changed, *LINES[line + 1 :])))
        assert reading.events == tuple(event for event in events_through(EVENTS_IN_IT) if event != event_numbered(line))
        assert {damage.line for damage in reading.damage} <= {line + 1, line + 2}
        assert reading.damage[0].line == line + 1
        assert not reading.torn

    def test_that_lost_its_line_end_costs_nothing(self) -> None:
        joined = b"".join((*LINES[:3], LINES[3][:-1] + b"\x8a", *LINES[4:]))
        reading = read_bytes(joined)
        assert reading.events == events_through(EVENTS_IN_IT)
        assert [damage.line for damage in reading.damage] == [4]
        assert reading.next_seq == EVENTS_IN_IT + 1

    def test_that_is_missing_is_noticed_after_a_damaged_one_too(self) -> None:
        reading = read_bytes(b"".join((*LINES[:3], *LINES[5:])))
        assert [str(damage) for damage in reading.damage] == ["line 4: 2 lines are missing before it"]
        assert len(reading.events) == EVENTS_IN_IT - 2
        reading = read_bytes(b"".join((*LINES[:2], b"rubbish\n", LINES[3], *LINES[5:])))
        assert [str(damage) for damage in reading.damage] == [
            "line 3: does not fit its check",
            "line 5: a line is missing before it",
        ]

    def test_that_comes_twice_counts_once(self) -> None:
        reading = read_bytes(b"".join((*LINES[:4], LINES[3], *LINES[4:])))
        assert reading.events == events_through(EVENTS_IN_IT)
        assert [str(damage) for damage in reading.damage] == ["line 5: comes out of its order"]

    def test_with_the_number_of_another_is_kept_and_reported(self) -> None:
        reading = read_lines(encode(TAP), encode({**TAP, "at_ms": 6}))
        assert [event.at_ms for event in reading.events] == [5, 6]
        assert [damage.line for damage in reading.damage] == [3]

    def test_is_never_quoted_in_what_is_said_about_it(self) -> None:
        damaged = WHOLE.replace(b"Ilka", b"Ilko")
        assert read_bytes(damaged).damage
        assert not any("Ilko" in str(damage) for damage in read_bytes(damaged).damage)

    @given(st.binary(max_size=2_000))
    def test_and_nothing_else_holds_nothing(self, rubbish: bytes) -> None:
        reading = read_bytes(rubbish)
        assert (reading.header, reading.events) == (None, ())


LONG = journal_bytes(50)
LONG_LINES = LONG.splitlines(keepends=True)
LONG_STARTS = [0, *accumulate(len(line) for line in LONG_LINES)]
edits = st.lists(
    st.tuples(
        st.integers(0, len(LONG) - 1),
        st.one_of(
            st.integers(0, 7).map(lambda bit: ("flip", bit)),
            st.binary(min_size=1, max_size=400).map(lambda data: ("insert", data)),
            st.sampled_from([b"\n", b"\r\n", b'{"v":1,"seq":', b',"check":"00000000"}', bytes(600)]).map(
                lambda data: ("insert", data)
            ),
            st.integers(1, 700).map(lambda length: ("delete", length)),
        ),
    ),
    min_size=1,
    max_size=12,
)


class TestDamageAnywhere:
    @given(edits)
    def test_costs_no_line_that_was_not_touched_and_invents_none(self, changes: list[tuple[int, tuple[str, Any]]]) -> None:
        data, origin = bytearray(LONG), list(range(len(LONG)))
        for place, (kind, how) in changes:
            if kind == "flip" and place < len(data):
                data[place] ^= 1 << how
                origin[place] = -1
            elif kind == "insert":
                data[place:place] = how
                origin[place:place] = [-1] * len(how)
            elif kind == "delete":
                del data[place : place + how], origin[place : place + how]
        reading = read_bytes(bytes(data))
        untouched = lines_untouched(origin)
        kept = dict(zip(reading.seqs, reading.events, strict=True))
        assert [seq for seq in untouched if seq and kept.get(seq) != event_numbered(seq)] == []
        assert [seq for seq, event in kept.items() if event != event_numbered(seq)] == []
        assert len(kept) == len(reading.events)
        assert reading.header is not None or 0 not in untouched
        # What is lost is said, but for lines at the very end, which nothing shows.
        assert reading.damage or reading.torn or list(kept) == list(range(1, len(kept) + 1))


def lines_untouched(origin: list[int]) -> list[int]:
    """The lines (the header is 0) whose bytes, but for the line end, stand together as they did, by where each byte came from."""
    now_at = {was: now for now, was in enumerate(origin) if was >= 0}
    found = []
    for line, start in enumerate(LONG_STARTS[:-1]):
        now, length = now_at.get(start), len(LONG_LINES[line]) - 1
        if now is not None and origin[now : now + length] == list(range(start, start + length)):
            found.append(line)
    return found


class TestADamagedHeader:
    def test_that_still_makes_sense_is_used_and_reported(self) -> None:
        reading = read_bytes(WHOLE.replace(b"quay.yaml", b"quaz.yaml", 1))
        assert reading.header == sample_header(session_file="quaz.yaml")
        assert {damage.line for damage in reading.damage} == {1}
        assert reading.events == events_through(EVENTS_IN_IT)

    def test_that_makes_no_sense_costs_no_event(self) -> None:
        reading = read_bytes(b"\0" * len(LINES[0][:-1]) + b"\n" + b"".join(LINES[1:]))
        assert reading.header is None
        assert [damage.line for damage in reading.damage] == [1]
        assert reading.events == events_through(EVENTS_IN_IT)


class TestAnEvent:
    def test_that_nobody_knows_is_kept_aside(self) -> None:
        for name in ("somersault", None, 7, ["tap"], "opened"):
            reading = read_lines(encode({**TAP, "event": name}))
            assert [values["event"] for values in reading.aside] == [name]
            assert (len(reading.damage), reading.events) == (1, ())

    def test_may_have_more_keys(self) -> None:
        assert read_lines(encode({**TAP, "finger": "left"})).damage == ()

    def test_at_a_wall_time_that_nobody_can_read_is_at_an_unknown_one(self) -> None:
        for wall in ("later", 5, None, "0001-01-01T00:00:00+23:59"):
            reading = read_lines(encode({**TAP, "wall": wall}))
            assert len(reading.events) == 1
            assert reading.walls == (None,) or wall == "0001-01-01T00:00:00+23:59"


def test_every_event_there_is_comes_back_from_the_journal() -> None:
    """Each kind of event, made from its own field types, survives the way to its line and back."""
    load = Load(Fraction(24), LoadUnit.KG)
    kinds: dict[Any, Any] = {int: 7, str: "Ilka", bool: False, float: 6.5, Load: load}
    for name, cls in EVENTS.items():
        hints = get_type_hints(cls)
        sample = next((event_numbered(seq) for seq in range(1, 20) if event_numbered(seq).name == name), None)
        event = sample or cls(
            **{part.name: kinds[(get_args(hints[part.name]) or (hints[part.name],))[0]] for part in fields(cls)}
        )
        reading = read_lines(encode({"seq": 1, **event.to_dict()}))
        assert reading.events == (event,)


def test_no_journal_is_nothing_to_do_and_an_unreadable_one_says_so(tmp_path: Path) -> None:
    with pytest.raises(NotFound):
        read_journal(tmp_path / "20261125-1831-7f3a.jsonl")
    with pytest.raises(ResourceError):
        read_journal(tmp_path)
