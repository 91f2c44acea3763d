"""Journals as released builds wrote them: what an old class says may never change.

`golden/` has one or more classes of every build that changed what is written, each with what that build said of it: `came_to`,
as JSON. A release that changes the format adds its own, played with it and put beside the others, and never touches those of
before. A test that fails here says that the fold, or the way to read a line, gives an old class another meaning: see
`journal/upgrades.py`.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.journal.lines import VERSION
from floorclock.journal.reading import event_line, header_line, read_bytes, read_journal
from floorclock.journal.replay import replay

GOLDEN = sorted((Path(__file__).parent / "golden").glob("*.jsonl"))
OF_SPLIT = (
    "athlete", "part", "interval", "round", "station", "window_ms", "margin_ms", "status", "split_ms", "move", "amount", "unit",
    "credited", "corrected",
)  # fmt: skip
OF_RESULT = ("athlete", "part", "time_ms", "rounds", "reps", "laps_ms", "choice", "not_finished")
"""The fields that the oldest build knows."""


def came_to(state: ClassState) -> dict[str, list[dict[str, Any]]]:
    """What a class came to, as JSON has it."""

    def plain(value: object) -> object:
        return str(value) if isinstance(value, Fraction) else list(value) if isinstance(value, tuple) else value

    made = {"splits": (splits(state), OF_SPLIT), "results": (results(state), OF_RESULT)}
    return {kind: [{name: plain(getattr(row, name)) for name in names} for row in rows] for kind, (rows, names) in made.items()}


@pytest.mark.parametrize("path", GOLDEN, ids=lambda path: path.stem)
def test_a_class_of_an_older_build_comes_to_what_that_build_said(path: Path) -> None:
    reading = read_journal(path)
    assert (reading.damage, reading.aside, reading.torn) == ((), (), False)
    assert reading.header is not None
    said = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    assert said["splits"]
    assert came_to(replay(reading.header, reading.events)) == said
    lines = [
        event_line(seq, event, wall)
        for seq, event, wall in zip(reading.seqs, reading.events, reading.walls, strict=True)
        if wall is not None
    ]
    again = read_bytes(header_line(reading.header) + b"".join(lines))
    assert (again.header, again.events, again.walls, again.damage) == (reading.header, reading.events, reading.walls, ())


def test_every_version_has_its_golden_classes_and_the_first_lacks_what_came_later() -> None:
    assert {path.name.partition("-")[0] for path in GOLDEN} == {f"v{number}" for number in range(1, VERSION + 1)}
    first = b"".join(path.read_bytes() for path in GOLDEN if "-first-" in path.name)
    assert b'"event":"pause"' in first
    assert not any(key in first for key in (b'"cues":', b'"paper":', b'"interrupted":', b'"lead_ms":'))
