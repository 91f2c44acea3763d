"""Who is the same person: decided, followed through, undone, and refused where it would lead in a circle."""

from __future__ import annotations

import errno
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.journal.kept_lines import lines_of, lock_lines
from floorclock.journal.lines import decode, encode
from floorclock.people.register import canonical_names, keep_apart, merge, read_register, register_of, spellings_of, undo
from tests.journal.failing_disk import RefusingDisk
from tests.journal.sample_class import WALL


def test_a_merge_is_one_line_and_its_undoing_another(home: Path) -> None:
    merged = "Ilka is one person now, also written Ilca; to take that back, undo Ilca"
    assert merge(home, "Ilca", "Ilka", wall=WALL) == merged
    assert canonical_names(home) == {"Ilca": "Ilka"}
    assert undo(home, "Ilca", wall=WALL) == "Ilca and Ilka are two people again"
    assert canonical_names(home) == {}
    path = home / "people.jsonl"
    assert [decode(line) for line in path.read_bytes().splitlines()] == [
        {"v": 1, "at": "2026-11-25T18:31:04.120+01:00", "event": "same person", "name": "Ilca", "is": "Ilka"},
        {"v": 1, "at": "2026-11-25T18:31:04.120+01:00", "event": "not the same", "name": "Ilca", "is": "Ilka"},
    ]
    assert path.stat().st_mode & 0o777 == 0o600
    assert [found.name for found in home.iterdir()] == ["people.jsonl"]


def test_who_was_merged_before_follows(home: Path) -> None:
    merge(home, "ilka", "Ilca")
    merge(home, "Ilca", "Ilka")
    assert canonical_names(home) == {"ilka": "Ilka", "Ilca": "Ilka"}
    assert spellings_of(home, "ilka") == ("Ilka", "Ilca", "ilka")
    undo(home, "Ilca")
    assert canonical_names(home) == {"ilka": "Ilca"}


def test_what_would_lead_in_a_circle_or_a_chain_is_refused_in_words(home: Path) -> None:
    merge(home, "Ilca", "Ilka")
    for name, into, words in [
        ("Ilka", "Ilka", "Ilka is one name already"),
        ("Ilca", "Oda", "Ilca counts as Ilka already; undo that first"),
        ("Ilka", "Ilca", "Ilca counts as Ilka already; to turn it round, undo Ilca first"),
        ("ilka", "Ilca", "Ilca counts as Ilka; merge ilka into Ilka instead"),
        ("", "Ilka", "name two people"),
    ]:
        with pytest.raises(WrongUsage) as refused:
            merge(home, name, into)
        assert str(refused.value) == words
    assert len((home / "people.jsonl").read_bytes().splitlines()) == 1


def test_undoing_what_was_never_done_says_what_was(home: Path) -> None:
    with pytest.raises(NotFound, match=r"Ilka was not merged into another name$"):
        undo(home, "Ilka")
    merge(home, "Ilca", "Ilka")
    with pytest.raises(NotFound, match="Ilka was not merged into another name: Ilca was merged into it"):
        undo(home, "Ilka")


def test_names_are_compared_in_one_form_of_unicode(home: Path) -> None:
    merge(home, "Bra\u030am", "Bram")
    assert canonical_names(home) == {"Br\u00e5m": "Bram"}


def test_two_people_told_apart_are_remembered(home: Path) -> None:
    merge(home, "Ilca", "Ilka")
    keep_apart(home, "Ilka", "Ilca")
    keep_apart(home, "Oda", "Odda")
    register = read_register(home)
    assert register.stands_for == {}
    assert register.apart == {frozenset(("Ilka", "Ilca")), frozenset(("Oda", "Odda"))}
    merge(home, "Ilca", "Ilka")
    assert frozenset(("Ilka", "Ilca")) not in read_register(home).apart


def test_a_damaged_line_costs_no_other_one_and_a_torn_end_is_saved_aside(home: Path) -> None:
    merge(home, "a", "A")
    merge(home, "b", "B")
    merge(home, "c", "C")
    path = home / "people.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(lines[0] + lines[1].replace(b'"b"', b'"x"') + b"\xff\n" + lines[2] + lines[2][:20])
    assert canonical_names(home) == {"a": "A", "c": "C"}
    merge(home, "d", "D")
    assert canonical_names(home) == {"a": "A", "c": "C", "d": "D"}
    assert path.with_suffix(".torn").read_bytes() == lines[2][:20] + b"\n"
    assert b"\xff\n" in path.read_bytes()


def test_lines_that_break_the_rules_are_passed_over() -> None:
    told = [("a", "b"), ("b", "c"), ("c", "a"), ("a", "d"), ("d", "d")]
    lines = [{"event": "same person", "name": name, "is": other} for name, other in told]
    register = register_of([*lines, {"event": "same person", "name": 3, "is": "b"}, {"event": "x"}])
    assert register.stands_for == {"a": "b", "b": "c"}


def test_a_whole_last_line_without_its_end_counts_and_gets_it(home: Path) -> None:
    merge(home, "a", "A")
    path = home / "people.jsonl"
    path.write_bytes(path.read_bytes()[:-1])
    merge(home, "b", "B")
    assert canonical_names(home) == {"a": "A", "b": "B"}
    assert path.read_bytes().count(b"\n") == 2


def test_a_disk_that_refuses_and_somebody_else_at_it_are_said(home: Path) -> None:
    with pytest.raises(ResourceError, match="it was not kept: disk full"):
        merge(home, "a", "A", disk=RefusingDisk(errno.ENOSPC))
    assert canonical_names(home) == {}
    with lock_lines(home / "people.jsonl"), pytest.raises(ResourceError, match="being changed by another floorclock"):
        merge(home, "a", "A")


NAMES = st.sampled_from("abcd")


class Decisions(RuleBasedStateMachine):
    """The register against the plainest thing that it could be: a dictionary, followed by hand."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[dict[str, str]] = []
        self.model: dict[str, str] = {}

    def _say(self, event: str, name: str, other: str) -> Mapping[str, str]:
        self.lines.append({"event": event, "name": name, "is": other})
        return register_of(lines_of(b"".join(encode(line) for line in self.lines))).stands_for

    @rule(name=NAMES, into=NAMES)
    def merge(self, name: str, into: str) -> None:
        if name != into and name not in self.model and into not in self.model:
            self.model[name] = into
        assert self._say("same person", name, into) == self.model

    @rule(name=NAMES, into=NAMES)
    def part(self, name: str, into: str) -> None:
        if self.model.get(name) == into:
            del self.model[name]
        assert self._say("not the same", name, into) == self.model

    @invariant()
    def every_name_leads_to_one_that_stands_for_itself(self) -> None:
        register = register_of(self.lines)
        assert all(register.canonical(name) not in register.stands_for for name in "abcd")


TestDecisions = Decisions.TestCase
TestDecisions.settings = settings(max_examples=30, stateful_step_count=15, deadline=None)
