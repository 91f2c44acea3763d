"""The same work in three blocks: a person is called once for a move, and has one next target for it."""

from __future__ import annotations

from floorclock.clock.splits import Split
from floorclock.clock.state import new_state
from floorclock.clock.tally import whole_part
from floorclock.digest.build import Label, digest_from
from floorclock.digest.class_digest import ClassDigest
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete
from tests.pace.taps import split

ONE = "{kind: rotation, title: %s, every: 1:00, rounds: 3, stations: [{move: swing, target: 14 reps}]}"
BLOCKS = f"session: x\nparts:\n  - kind: repeat\n    times: 3\n    parts:\n      - {ONE % 'Swings'}\n"
APART = "session: x\nparts:\n" + "".join(f"  - {ONE % title}\n" for title in ("First", "Second", "Third"))
RESTS = ((12, 12, 11), (8, 7, 5), (10, 10, 9))
"""Of the three blocks: the second was the hardest."""


def digest_of(text: str) -> ClassDigest:
    session, _ = read_session(text.encode(), "plan.yaml")
    assert session is not None
    people = (Athlete(name="Ilka"),)
    state = new_state(session, people)
    taken: list[Split] = []
    whole = {}
    for part, rests in enumerate(RESTS):
        taken += [split(rest, round_number=number, part=part) for number, rest in enumerate(rests, 1)]
        whole[part, "Ilka"] = tuple(whole_part(state, state.planned_run(part), "Ilka"))
    return digest_from(session, people, taken, (), label=Label(class_id="x"), rest_margin_s=15, whole=whole)


def test_blocks_call_once_a_move_and_parts_of_their_own_each() -> None:
    assert [(call.athlete, call.part) for call in digest_of(BLOCKS).calls] == [("Ilka", 1)]
    assert len(digest_of(APART).calls) == 3


def test_the_least_of_the_blocks_targets_is_the_one_that_is_said() -> None:
    apart = [part.athletes[0].advice[0].amount for part in digest_of(APART).parts]
    assert apart[1] == min(amount for amount in apart if amount is not None)
    assert len(set(apart)) > 1
    blocks = digest_of(BLOCKS)
    assert [[one.amount for one in part.athletes[0].advice] for part in blocks.parts] == [[], [], [apart[1]]]
    assert blocks.parts[2].athletes[0].advice[0].part == 2
    (call,) = blocks.calls
    assert call.advice == f"{apart[1]} reps next time"
