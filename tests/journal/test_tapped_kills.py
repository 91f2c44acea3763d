"""Running classes killed while taps flow: nothing acknowledged is lost, nothing is invented, and what goes on is the same class.

`tests/bench/kills.py` does a thousand. And the judge is judged: each thing that it looks for is put before it once.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from floorclock.clock.events import Event, PartBegun, Tapped
from floorclock.journal.reading import Header
from floorclock.plan.roster import Roster
from tests.journal.sample_class import WALL, journal_of
from tests.journal.tapped_class import PLAN, ROSTER, SESSION, digest
from tests.journal.tapped_kills import Judge, WithoutScreen

KILLS, SEED = 20, 7
HEADER = Header(id="a", started=WALL, session="Killed on the quay", session_file="quay.yaml", session_text=SESSION, roster=ROSTER)
EVENTS: tuple[Event, ...] = (
    PartBegun(at_ms=0, part=0),
    *(Tapped(at_ms=9_000 + number, athlete=ROSTER.athletes[number].name) for number in range(4)),
)


def test_running_classes_killed_at_random_lose_nothing_and_invent_nothing(tmp_path: Path) -> None:
    ends = WithoutScreen()
    ends.learn(tmp_path)
    judge = Judge(tmp_path, ends)
    number = SEED * 1_000
    # How many deaths it takes until a class has gone on a few times is up to chance and the machine.
    while judge.found.kills < KILLS or judge.found.states < 3 or judge.found.kept < 10 * KILLS:
        judge.one_life(number)
        number += 1
    assert judge.found.faults == {}


class Script:
    """Instead of a class that dies: what it told, and what is in its journal."""

    def __init__(
        self, on_disk: Iterable[Event], told: Iterable[dict[str, Any]], header: Header = HEADER, more: bytes = b""
    ) -> None:
        self.journal = journal_of(header, on_disk) + more
        self.told = [*sent(EVENTS), *told]

    def __call__(self, home: Path, told: Path, seed: int) -> bool:
        """One death."""
        (home / "classes" / "a.jsonl").write_bytes(self.journal)
        told.write_text("".join(json.dumps(line) + "\n" for line in self.told), encoding="utf-8")
        return True


def sent(events: Iterable[Event]) -> list[dict[str, Any]]:
    return [{"word": "sent", "event": event.to_dict()} for event in events]


def kept(count: int) -> list[dict[str, Any]]:
    return [{"word": "kept", "seq": seq} for seq in range(1, count + 1)]


@pytest.mark.parametrize(
    ("script", "faults"),
    [
        (Script(EVENTS[:3], kept(3)), {}),
        (Script(EVENTS[:4], kept(3)), {}),
        (Script(EVENTS[:2], kept(3)), {"lost": 1}),
        (Script((*EVENTS[:2], EVENTS[3]), kept(3)), {"lost": 1, "invented": 1}),
        (Script((*EVENTS[:2], Tapped(at_ms=5, athlete="Nobody")), kept(2)), {"invented": 1}),
        (Script((*EVENTS, Tapped(at_ms=9_999, athlete="Nobody")), kept(5)), {"invented": 1}),
        (Script(EVENTS[:3], kept(3), more=b"rubbish\n"), {"damaged": 1}),
        (
            Script(EVENTS[:3], kept(3), header=Header(**{**vars(HEADER), "roster": Roster(title="x", athletes=())})),
            {"damaged": 1},
        ),
        (Script(EVENTS[:3], [*kept(2), {"word": "refused", "seq": 3}]), {"refused": 1}),
        (Script(EVENTS[:3], [*kept(3), {"word": "closed", "lost": 2}]), {"lost": 2}),
    ],
)
def test_the_judge_finds_what_is_wrong_and_only_that(tmp_path: Path, script: Script, faults: dict[str, int]) -> None:
    judge = Judge(tmp_path, script)
    judge.one_life(1)
    assert judge.found.faults == faults


@pytest.mark.parametrize("same", [True, False])
def test_the_judge_compares_the_state_with_which_a_class_goes_on(tmp_path: Path, same: bool) -> None:
    from floorclock.journal.replay import replay

    script = Script(EVENTS[:3], kept(3))
    judge = Judge(tmp_path, script)
    judge.one_life(1)
    state = replay(HEADER, EVENTS[: 3 if same else 2])
    state.advance(20_000)
    script.told = [{"word": "reopened", "took_ms": 5.0, "now_ms": 20_000, "digest": digest(state), "damage": 0}]
    judge.one_life(2)
    assert judge.found.states == 1
    assert judge.found.faults == ({} if same else {"other_states": 1})


def test_the_class_under_test_is_as_it_would_be_read_from_its_journal() -> None:
    assert (PLAN.text, PLAN.roster) == (SESSION, ROSTER)
    assert PLAN.session.title == HEADER.session
