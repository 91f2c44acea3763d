"""Journals as released builds wrote them: what an old class says may never change.

`golden/` holds them with what the build that wrote each said of it (`golden_classes.py` made them: `first` with the build of
1192c65, `sound` with that of a8bb54c, `coach` with that of the pacing coach). A test that fails here says that the fold, or the
way to read a line, gives an old class another meaning: see `record/upgrades.py`.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from floorclock.clock.tally import results, splits
from floorclock.journal.lines import VERSION
from floorclock.journal.reading import event_line, header_line, read_bytes, read_journal
from floorclock.journal.replay import replay
from tests.journal.golden_classes import PIER, QUAY, plainly

GOLDEN = sorted((Path(__file__).parent / "golden").glob("*.jsonl"))
FIRST = [path for path in GOLDEN if "-first-" in path.name]


@pytest.mark.parametrize("path", GOLDEN, ids=lambda path: path.stem)
def test_a_class_of_an_older_build_comes_to_what_that_build_said(path: Path) -> None:
    reading = read_journal(path)
    assert (reading.damage, reading.aside, reading.torn) == ((), (), False)
    assert reading.header is not None
    assert reading.header.session_text == (QUAY if path.stem.endswith("quay") else PIER)
    state = replay(reading.header, reading.events)
    said = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    assert said["splits"]
    for kind, made in (("splits", splits(state)), ("results", results(state))):
        for now, then in zip(made, said[kind], strict=True):
            assert json.loads(json.dumps(plainly(now, tuple(then)))) == then


@pytest.mark.parametrize("path", GOLDEN, ids=lambda path: path.stem)
def test_written_again_by_this_build_it_is_the_same_class(path: Path) -> None:
    reading = read_journal(path)
    assert reading.header is not None
    lines = [
        event_line(seq, event, wall)
        for seq, event, wall in zip(reading.seqs, reading.events, reading.walls, strict=True)
        if wall is not None
    ]
    again = read_bytes(header_line(reading.header) + b"".join(lines))
    assert (again.header, again.events, again.walls, again.damage) == (reading.header, reading.events, reading.walls, ())


def test_every_version_has_its_golden_classes() -> None:
    assert {path.name.partition("-")[0] for path in GOLDEN} == {f"v{number}" for number in range(1, VERSION + 1)}


@pytest.mark.parametrize("path", FIRST, ids=lambda path: path.stem)
def test_the_first_build_really_lacked_what_came_later(path: Path) -> None:
    """Otherwise the golden classes would prove nothing about keys that are not there."""
    data = path.read_bytes()
    assert not any(key in data for key in (b'"cues":', b'"paper":', b'"interrupted":', b'"lead_ms":'))
