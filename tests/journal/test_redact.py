"""A journal without one person: nothing of theirs is left, and everybody else's class is as it was."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floorclock.clock.events import (
    ChoiceTaken,
    ClassEnded,
    EffortRated,
    Event,
    Joined,
    Left,
    MarginChanged,
    NotFinished,
    OptionChosen,
    PartBegun,
    PartEnded,
    Paused,
    Quietened,
    Regrouped,
    ResultEntered,
    Resumed,
    Skipped,
    SplitCorrected,
    Stretched,
    Tapped,
    TapTakenBack,
    TargetChanged,
    WentBack,
)
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.journal.lines import encode
from floorclock.journal.reading import Header, event_line, read_bytes
from floorclock.journal.redact import Mentions, without
from floorclock.pace.load import session_loads
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.work import Target, Unit
from tests.journal.sample_class import WALL, class_of, journal_of, sample_header, sealed

ILKA, BRAM, NOOR, LATE, STRANGER = "Ilka", "Bråm", "Noor", "Oda", "Runa"
PEOPLE = (ILKA, BRAM, NOOR, LATE, STRANGER)
PLAN = """\
session: Everything there is
count_in: 0:05
tap_grace: 0:02
parts:
  - {kind: open, title: Warm-up, time: 1:00, max: 2:00}
  - kind: rotation
    title: Round
    every: 0:30
    rounds: 2
    stations: [{move: step-up, target: 10 reps}, {move: row, target: 100 m}, rest]
  - kind: for_time
    title: Quick
    cap: 1:00
    rounds: 2
    tap: round
    wave_every: %s
    work: [{move: sit-up, target: 5 reps}]
    choose: [{name: less, rounds: 1}]
  - {kind: open, title: Breath}
  - {kind: amrap, title: As many, time: 1:00, work: [{move: burpee, target: 3 reps}]}
  - {kind: paced, title: Beat, beat: 60 per minute, time: 0:40}
  - {kind: intervals, title: Bits, work: 0:10, rest: 0:05, sets: 4, stations: [{move: row, target: 20 m}]}
"""


def plan(*, waves: bool) -> str:
    return PLAN % ("0:20" if waves else "0")


def header_of(groups: dict[str, int], keys: dict[str, str], *, waves: bool) -> Header:
    athletes = tuple(
        Athlete(name=name, key=keys.get(name, ""), group=groups.get(name, 1), options={"Quick": "less"} if name == NOOR else {})
        for name in (ILKA, BRAM, NOOR)
    )
    return sample_header(session_text=plan(waves=waves), roster=Roster(title="Wednesday", athletes=athletes))


names = st.sampled_from(PEOPLE)
part_numbers = st.integers(0, 6)
AN_EVENT: dict[type[Event], dict[str, st.SearchStrategy[Any]]] = {
    PartBegun: {"part": part_numbers},
    Tapped: {"athlete": names},
    TapTakenBack: {"athlete": st.one_of(st.just(""), st.just(""), names)},
    Paused: {},
    Resumed: {"count_in_ms": st.sampled_from([0, 3_000])},
    Skipped: {},
    WentBack: {},
    Stretched: {"delta_ms": st.sampled_from([-5_000, 10_000])},
    PartEnded: {},
    NotFinished: {"athlete": names, "part": part_numbers, "interval": st.integers(0, 5)},
    SplitCorrected: {
        "athlete": names,
        "part": part_numbers,
        "interval": st.integers(0, 5),
        "split_ms": st.sampled_from([None, 5_000, 9_000]),
    },
    ResultEntered: {"athlete": names, "part": part_numbers, "rounds": st.integers(0, 3)},
    TargetChanged: {
        "athlete": names,
        "move": st.sampled_from(["row", "step-up"]),
        "target": st.just(Target(Fraction(8), Unit.REPS)),
    },
    ChoiceTaken: {"athlete": names, "part": part_numbers, "choice": st.sampled_from(["", "less"])},
    Regrouped: {"athlete": names, "group": st.integers(1, 3)},
    Joined: {"athlete": st.builds(Athlete, name=names, key=st.sampled_from(["", "i", "o"]), group=st.integers(1, 3))},
    Left: {"athlete": names},
    MarginChanged: {"margin_ms": st.just(9_000), "athlete": st.one_of(st.just(""), names)},
    Quietened: {"athlete": names},
    EffortRated: {"athlete": names, "effort": st.sampled_from([None, 4.0, 9.5])},
}


@st.composite
def event_lists(draw: st.DrawFn) -> list[Event]:
    """A class that goes through its parts, with anything in between, and stamps that now and then are late."""
    weighted = [Tapped] * 8 + [TapTakenBack] * 3 + [PartBegun] * 2 + list(AN_EVENT)
    told: list[Event] = []
    at_ms, part = 0, 0
    for _ in range(draw(st.integers(0, 45))):
        at_ms += draw(st.sampled_from([0, 40, 1_500, 4_000, 7_000, 20_000, 61_000]))
        kind = draw(st.sampled_from(weighted))
        values = {key: draw(strategy) for key, strategy in AN_EVENT[kind].items()}
        if kind is PartBegun and draw(st.booleans()):
            values["part"], part = part, part + 1
        stamp = max(0, at_ms - draw(st.sampled_from([0, 0, 0, 30, 2_500])))
        told.append(kind(at_ms=stamp, **values))
    return told


def everything_but(state: ClassState, name: str) -> list[object]:
    """All that is known of everybody else, and of the class itself."""
    runs = [(run.index, run.begun_ms, run.ended_ms, run.stretches, run.timeline.intervals) for run in state.runs]
    by_name: tuple[Mapping[str, object], ...] = (state.athletes, state.efforts, state.absences, state.away, state.groups)
    by_place: tuple[Mapping[tuple[str, int], object], ...] = (state.choices, *(run.marks for run in state.runs))
    return [
        (state.now_ms, state.over, state.paused, state.next_part, state.margin_ms),
        runs,
        [split for split in splits(state) if split.athlete != name],
        [result for result in results(state) if result.athlete != name],
        [tap for tap in state.taken.values() if tap.athlete != name],
        [load for load in session_loads(state) if load.name != name],
        [{who: own for who, own in held.items() if who != name} for held in by_name],
        [{place: own for place, own in held.items() if place[0] != name} for held in by_place],
        state.quiet - {name},
    ]


def state_of(data: bytes) -> ClassState:
    assert read_bytes(data).damage == ()
    return class_of(data)


@settings(max_examples=60)
@example(
    # Ilka's tap is the last before the take-back, and it alone moved the clock.
    events=[
        PartBegun(at_ms=0, part=0),
        PartBegun(at_ms=10, part=1),
        Tapped(at_ms=9_000, athlete=BRAM),
        Tapped(at_ms=10_000, athlete=ILKA),
        TapTakenBack(at_ms=11_000),
        Tapped(at_ms=12_000, athlete=ILKA),
        Tapped(at_ms=190_000, athlete=ILKA),
        Tapped(at_ms=60_000, athlete=BRAM),
    ],
    groups={},
    keys={},
    who=ILKA,
)
@given(
    events=event_lists(),
    groups=st.dictionaries(names, st.integers(1, 3)),
    keys=st.dictionaries(names, st.sampled_from("ibo"), max_size=1),
    who=names,
)
def test_for_everybody_else_the_class_is_what_it_was(
    events: list[Event], groups: dict[str, int], keys: dict[str, str], who: str
) -> None:
    data = journal_of(header_of(groups, keys, waves=True), events)
    redacted = without(data, {who})
    assert everything_but(state_of(redacted.data), who) == everything_but(state_of(data), who)
    if redacted.share is None:
        assert redacted.data == data
    assert json.dumps(who, ensure_ascii=False).encode() not in redacted.data
    assert without(redacted.data, {who}).share is None


def told(*events: Event) -> bytes:
    """A class with these events, whose end the coach gave."""
    return journal_of(sample_header(session_text=plan(waves=False), roster=BOARD), [*events, END])


BOARD = Roster(
    title="Wednesday", athletes=(Athlete(name=ILKA, key="i"), Athlete(name=BRAM, key="b"), Athlete(name=NOOR, key="n"))
)
BEGIN = (PartBegun(at_ms=0, part=0), PartBegun(at_ms=10_000, part=1))
END = ClassEnded(at_ms=900_000)


def tap(at_ms: int, name: str) -> Event:
    return Tapped(at_ms=at_ms, athlete=name)


def test_the_last_tap_stays_the_same_tap_after_the_lines_of_somebody_else_are_gone() -> None:
    data = told(*BEGIN, tap(25_000, BRAM), tap(26_000, ILKA), TapTakenBack(at_ms=27_000), tap(28_000, NOOR))
    new = read_bytes(without(data, {ILKA}).data)
    assert [event.name for event in new.events] == ["part begun", "part begun", "tap", "tap", "class ended"]
    assert {split.athlete for split in splits(state_of(without(data, {ILKA}).data)) if split.split_ms} == {BRAM, NOOR}
    data = told(*BEGIN, tap(25_000, ILKA), tap(26_000, BRAM), TapTakenBack(at_ms=27_000))
    new = read_bytes(without(data, {ILKA}).data)
    assert new.events[3] == TapTakenBack(at_ms=27_000)
    assert not [split for split in splits(state_of(without(data, {ILKA}).data)) if split.split_ms]


def test_what_is_left_is_numbered_on_and_the_header_counts_who_was_taken_out() -> None:
    data = told(*BEGIN, tap(25_000, ILKA), tap(26_000, BRAM), tap(45_000, ILKA))
    for who, count in ((ILKA, 1), (BRAM, 2)):
        data = without(data, {who}).data
        reading = read_bytes(data)
        assert reading.damage == ()
        assert reading.seqs == tuple(range(1, len(reading.seqs) + 1))
        assert json.loads(data.split(b"\n", 1)[0])["forgotten"] == count
    assert reading.header is not None
    assert reading.header.roster.athletes == (Athlete(name=NOOR, key="n"),)


def test_what_there_was_of_a_person_is_counted() -> None:
    data = told(
        *BEGIN,
        tap(25_000, ILKA),
        tap(55_000, ILKA),
        NotFinished(at_ms=56_000, athlete=ILKA, part=1, interval=3),
        ResultEntered(at_ms=57_000, athlete=BRAM, part=1, rounds=1),
        EffortRated(at_ms=58_000, athlete=ILKA, effort=7.0),
    )
    share = without(data, {ILKA}).share
    assert share is not None
    assert (share.splits, share.not_finished, share.results, share.efforts, share.lines) == (2, 1, 0, 1, 4)


def test_a_name_inside_another_name_or_in_a_move_is_left_alone() -> None:
    other = Roster(title="x", athletes=(Athlete(name="Ilka Brandt"), Athlete(name="Milka")))
    data = journal_of(sample_header(roster=other, session_text=plan(waves=False)), [tap(1_000, "Milka"), END])
    redacted = without(data, {ILKA})
    assert (redacted.share, redacted.data) == (None, data)
    moved = OptionChosen(at_ms=1, athlete=BRAM, move=ILKA, option=ILKA)
    assert without(told(moved), {ILKA}).data.count(b'"move":"Ilka"') == 1


def test_a_plan_that_names_the_person_is_the_coachs_own_text() -> None:
    text = plan(waves=False).replace("Warm-up", "Warm-up with Ilka")
    redacted = without(journal_of(sample_header(session_text=text, roster=BOARD), [END]), {ILKA})
    assert redacted.in_plan
    assert read_bytes(redacted.data).header.session_text == text  # type: ignore[union-attr]
    assert not without(told(), {ILKA}).in_plan


@pytest.mark.parametrize("name", ['Quo"te, \\', "\U0001f3cb Runa", "عُدي", "Back\\slash"])
def test_a_name_of_any_letters_goes(name: str) -> None:
    roster = Roster(title="x", athletes=(Athlete(name=name), Athlete(name=BRAM)))
    data = journal_of(sample_header(roster=roster, session_text=plan(waves=False)), [*BEGIN, tap(25_000, name), END])
    redacted = without(data, {name})
    assert name not in json.loads(b"[" + b",".join(redacted.data.splitlines()) + b"]").__repr__()
    assert redacted.share is not None
    assert redacted.share.splits == 1
    ascii_only = b"".join(json.dumps(json.loads(line)).encode() + b"\n" for line in data.splitlines())
    assert json.dumps(name).encode() not in without(ascii_only, {name}).data


def test_damage_is_kept_as_it_was_found_but_for_pieces_that_hold_the_name() -> None:
    data = told(*BEGIN, tap(25_000, ILKA), tap(26_000, BRAM), tap(27_000, NOOR), tap(28_000, ILKA), tap(29_000, BRAM))
    lines = data.splitlines(keepends=True)
    lines[4] = lines[4].replace(b"26000", b"26001")
    lines[6] = lines[6].replace(b"28000", b"28001")
    redacted = without(b"".join(lines), {ILKA})
    assert lines[4] in redacted.data
    assert b"Ilka" not in redacted.data
    assert redacted.share is not None
    assert redacted.share.fragments == 1
    old, new = read_bytes(b"".join(lines)), read_bytes(redacted.data)
    assert [event for event in new.events if event in old.events] == list(new.events)
    assert [event for event in old.events if "Ilka" not in str(event)] == list(new.events)
    assert {str(damage) for damage in new.damage} == {"line 4: does not fit its check", "line 6: a line is missing before it"}


def test_a_damaged_header_loses_the_name_and_stays_damaged() -> None:
    data = told(*BEGIN, tap(25_000, ILKA)).replace(b'"title":"Wednesday"', b'"title":"Wednesdax"', 1)
    redacted = without(data, {ILKA})
    assert b"Ilka" not in redacted.data
    reading = read_bytes(redacted.data)
    assert reading.header is not None
    assert [athlete.name for athlete in reading.header.roster.athletes] == [BRAM, NOOR]
    assert "although it does not fit its check" in str(reading.damage)


def test_a_torn_end_goes_with_the_person() -> None:
    data = told(*BEGIN, tap(25_000, ILKA)) + event_line(9, tap(1, ILKA), WALL)[:-30]
    redacted = without(data, {ILKA})
    assert b"Il" not in redacted.data
    assert read_bytes(redacted.data).damage == ()


def test_a_line_of_a_newer_floorclock_that_names_the_person_goes_and_others_stay() -> None:
    newer = [encode({"seq": 2, "event": "cheer", "for": [{"who": name}]}) for name in (ILKA, BRAM)]
    data = told(END) + newer[0] + newer[1]
    kept = without(data, {ILKA}).data
    assert b'"who":"Ilka"' not in kept
    assert b'"who":"Br' in kept


def test_a_whole_line_that_cannot_be_read_goes_where_it_names_the_person() -> None:
    lines = [sealed(b'{"v":1,"seq":2,"event":"effort","athlete":"%s","effort":NaN' % name.encode()) for name in (ILKA, NOOR)]
    redacted = without(told(END) + lines[0] + lines[1], {ILKA})
    assert redacted.share is not None
    assert lines[0] not in redacted.data
    assert lines[1] in redacted.data


def test_a_class_whose_plan_cannot_be_read_loses_the_person_too() -> None:
    header = sample_header(session_text="what: is this", roster=BOARD)
    events = [*BEGIN, tap(20_000, BRAM), tap(25_000, ILKA), TapTakenBack(at_ms=26_000), END]
    redacted = without(journal_of(header, events), {ILKA})
    assert read_bytes(redacted.data).events == (*BEGIN, tap(20_000, BRAM), END)


def test_a_class_that_has_not_ended_is_told_apart() -> None:
    assert without(told(), {ILKA}).ended
    assert not without(journal_of(sample_header(roster=BOARD, session_text=plan(waves=False)), list(BEGIN)), {ILKA}).ended
    # Without a header it can never go on.
    assert without(event_line(1, tap(1, ILKA), WALL), {ILKA}).ended


def test_several_spellings_go_at_once() -> None:
    data = told(*BEGIN, tap(25_000, ILKA), tap(26_000, BRAM))
    reading = read_bytes(without(data, {ILKA, BRAM}).data)
    assert reading.events == (*BEGIN, END)


@given(data=st.binary(max_size=300), cut=st.integers(0, 400))
def test_whatever_the_bytes_are_the_name_goes_and_the_rest_stays(data: bytes, cut: int) -> None:
    sample = told(*BEGIN, tap(25_000, ILKA), tap(26_000, BRAM))
    mixed = sample[:cut] + data + sample[cut:]
    kept = without(mixed, {ILKA}).data
    assert b'"Ilka"' not in kept
    assert without(data, {ILKA}).data == data or b"Ilka" in data


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Ilka", True),
        ("for Ilka's birthday", True),
        ('"athlete":"Ilka","at', True),
        ("Ilkamar", False),
        ("Milka", False),
        ("ilka", False),
        ("Ilka_2", False),
        ("", False),
    ],
)
def test_a_name_is_a_word_of_a_text(text: str, found: bool) -> None:
    assert Mentions([ILKA]).are_words_of(text) is found
    assert Mentions(["Oda", ILKA]).are_words_of(text.encode() + b"\xff") is found


def test_values_and_keys_count_and_parts_of_them_do_not() -> None:
    mentions = Mentions([ILKA])
    assert mentions.stand_in({"a": [{"b": ILKA}]})
    assert mentions.stand_in({"a": {ILKA: 1}})
    assert not mentions.stand_in({"a": ["Ilka Brandt", 3, None, True]})
    assert mentions.are_told_by(Joined(at_ms=0, athlete=Athlete(name=ILKA)))
    assert not mentions.are_told_by(tap(0, "Ilka Brandt"))
    assert not mentions.are_told_by(Paused(at_ms=0))
