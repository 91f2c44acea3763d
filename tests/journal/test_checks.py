"""Journals whose lines fit their checks and whose values are wrong: each costs itself, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from floorclock.errors import ResourceError
from floorclock.journal.checks import WHOLE_PART
from floorclock.journal.lines import decode, encode
from floorclock.journal.reading import read_bytes, read_journal
from floorclock.journal.shelf import Shelf
from floorclock.people import known_names
from floorclock.transfer import back_up, export
from tests.journal.sample_class import events_through, journal_at, journal_bytes

Values = dict[str, Any]


def first_athlete(key: str, value: object) -> Callable[[Values], None]:
    return lambda values: values["roster"]["athletes"][0].update({key: value})


def header_value(key: str, value: object) -> Callable[[Values], None]:
    return lambda values: values.update({key: value})


WRONG_HEADERS: dict[str, Callable[[Values], None]] = {
    "a name that is a number": first_athlete("name", 5),
    "a name that clears the screen": first_athlete("name", "Ilka\x1b[2J"),
    "a name that turns the text round": first_athlete("name", "Il\u202eka"),
    "no name": first_athlete("name", ""),
    "a group that is a word": first_athlete("group", "x"),
    "a group that is a truth": first_athlete("group", True),
    "an option that is a number": first_athlete("options", {"row": 7}),
    "an amount without an end": first_athlete("targets", {"row": {"amount": "1e999999999", "unit": "m"}}),
    "an amount that is no number": first_athlete("targets", {"row": {"amount": "1/0", "unit": "reps"}}),
    "a rest that is a word": first_athlete("rest_margin_ms", "x"),
    "a key with a command": first_athlete("key", "\x07"),
    "no roster": header_value("roster", None),
    "a roster without athletes": header_value("roster", {"title": "x"}),
    "an athlete that is a number": header_value("roster", {"title": "x", "athletes": [1]}),
    "a title of the roster that is a number": lambda values: values["roster"].update(title=7),
    "a margin that is a word": header_value("rest_margin_ms", "x"),
    "a margin below zero": header_value("rest_margin_ms", -1),
    "a title with a command": header_value("session", "Quay\x1b]0;x\x07"),
    "a plan that is a number": header_value("session_text", 7),
    "the first year": header_value("started", "0001-01-01T00:00:00Z"),
    "the last year": header_value("started", "9999-12-31T23:59:59-12:00"),
    "yesterday": header_value("started", "yesterday"),
    "no time at all": header_value("started", 5),
    "no speed": header_value("speed", 0),
    "a speed that is a word": header_value("speed", "fast"),
    "a speed without end": header_value("speed", 1e300),
    "a truth that is a word": header_value("paper", "yes"),
}
TAP = {"event": "tap", "at_ms": 5_000, "athlete": "Ilka"}
WRONG_EVENTS: tuple[Values, ...] = (
    *({**TAP, "at_ms": value} for value in (-1, 10**25, 5.5, "soon", True, None)),
    *({**TAP, "athlete": value} for value in (5, "Ilka\x1b[31m", ["Ilka"])),
    {"event": "stretch", "at_ms": 5_000, "delta_ms": 1e25},
    {"event": "stretch", "at_ms": 5_000, "delta_ms": 10**25},
    *({**TAP, "event": "effort", "effort": value} for value in (11, "hard", True)),
    *({"event": "margin", "at_ms": 5_000, **values} for values in ({"margin_ms": "x"}, {"margin_ms": 1, "part": "two"})),
    *({"event": "joined", "at_ms": 5_000, "athlete": value} for value in ("Ilka", {"name": "Ilka", "group": "x"})),
    {"event": "joined", "at_ms": 5_000, "athlete": {"name": "x", "options": 7}},
    {**TAP, "event": "group", "group": 0},
    {"event": "part begun", "at_ms": 5_000},
    {"event": "part begun", "at_ms": 5_000, "part": 0, "groups": ["x"]},
    {**TAP, "event": "quiet", "quiet": 1},
    *(
        {**TAP, "event": "target", "move": "row", "target": value}
        for value in ({"amount": "1/0", "unit": "m"}, {"amount": "1", "unit": "sips"}, None)
    ),
)


@pytest.mark.parametrize("change", WRONG_HEADERS.values(), ids=WRONG_HEADERS.keys())
def test_a_header_with_a_wrong_value_is_none_and_costs_no_event(change: Callable[[Values], None]) -> None:
    reading = read_bytes(with_header(change))
    assert reading.header is None
    assert [str(damage) for damage in reading.damage] == ["line 1: the header cannot be read"]
    assert reading.events == events_through(6)


def with_header(change: Callable[[Values], None]) -> bytes:
    header, *rest = journal_bytes(6).splitlines(keepends=True)
    values = decode(header[:-1])
    change(values)
    return b"".join([encode({key: value for key, value in values.items() if key != "v"}), *rest])


def test_a_class_with_a_wrong_header_costs_itself_and_is_named(home: Path, tmp_path: Path) -> None:
    journal_at(home / "classes" / "20261125-1831-0001.jsonl", 6)
    (home / "classes" / "20261126-1831-0002.jsonl").write_bytes(with_header(first_athlete("name", "Ilka\x1b[2J")))
    wrong, good = Shelf(home).classes()
    assert (wrong.unread, good.unread) == ("line 1: the header cannot be read", "")
    assert Shelf(home).latest() == good.path
    assert set(known_names(home)["Ilka"]) == {good.id}
    assert ": 2 classes, " in export(home, tmp_path / "out")
    assert ": 2 classes, " in back_up(home, tmp_path / "b.tar.gz")


def test_a_number_that_is_none_costs_the_line() -> None:
    """`NaN` is no JSON (RFC 8259, section 6); Python writes and reads it all the same."""
    line = journal_bytes(0).replace(b'"speed":1.0', b'"speed":NaN')
    assert read_bytes(line).header is None


@pytest.mark.parametrize("values", WRONG_EVENTS, ids=str)
def test_an_event_with_a_wrong_value_is_kept_aside_and_the_class_goes_on(values: Values) -> None:
    reading = read_bytes(journal_bytes(6) + encode({"seq": 7, **values}) + encode({"seq": 8, **TAP}))
    assert len(reading.events) == 7
    assert len(reading.aside) == 1
    assert [str(damage) for damage in reading.damage] == ["line 8: an event with values that cannot be read; kept aside"]


@pytest.mark.parametrize("change", [{"v": 0.5}, {"v": None}, {"seq": "1"}, {"seq": -1}, {"seq": True}])
def test_a_line_without_a_version_or_number_is_reported(change: Values) -> None:
    reading = read_bytes(journal_bytes(0) + encode({"seq": 1, **TAP, **change}))
    assert (len(reading.damage), reading.events) == (1, ())


@pytest.mark.parametrize(
    "values",
    [
        {"event": "effort", "effort": 10.0},
        {"event": "stretch", "delta_ms": -15_000},
        {"event": "group", "group": 3},
        {"event": "score", "part": 0, "interval": WHOLE_PART, "amount": 12.0},
    ],
)
def test_an_event_with_right_values_is_taken(values: Values) -> None:
    """So that the table above fails for its wrong values and for nothing else. `test_reading.py` has every kind of event."""
    assert len(read_bytes(journal_bytes(0) + encode({"seq": 1, **TAP, **values})).events) == 1


def test_a_folder_and_what_is_too_large_are_no_journal(tmp_path: Path) -> None:
    (tmp_path / "folder.jsonl").mkdir()
    large = tmp_path / "large.jsonl"
    with large.open("wb") as file:
        file.truncate(100 << 20)
    for path, words in ((tmp_path / "folder.jsonl", "that is a folder"), (large, "it is too large")):
        with pytest.raises(ResourceError, match=words):
            read_journal(path)
