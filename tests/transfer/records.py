"""A data folder with something of everything: played classes, one from another hand, damage, a merge, settings."""

from __future__ import annotations

from pathlib import Path

from floorclock.journal.settings import Settings, write_settings
from floorclock.people.register import merge
from floorclock.simulate.rehearsal import rehearse_class
from tests.journal.sample_class import journal_at, journal_bytes, sample_header
from tests.opened_classes import SESSION, plan_at

NASTY = '=HYPERLINK("x")'
ROSTER = """\
roster: Three
athletes:
  - {name: Ilka, key: i}
  - {name: '=HYPERLINK("x")', key: b, group: 2}
  - {name: 'Nöor, "the" 紗希', key: n, group: 3}
"""
FINISH = """\
  - {kind: for_time, title: Last, cap: 2:00, rounds: 2, work: [{move: sit-up, target: 15 reps}]}
"""
PLAIN, DAMAGED, OPEN_END, TORN = "20261125-1831-7f3a", "20261126-1831-aaaa", "20261127-1831-bbbb", "20261128-1831-cccc"


def records_at(home: Path, plans: Path) -> Path:
    """Makes the folder and gives it."""
    for seed in (1, 2):
        rehearse_class(plan_at(plans, session=SESSION + FINISH, roster=ROSTER), home, seed=seed)
    classes = home / "classes"
    journal_at(classes / f"{PLAIN}.jsonl", 40)
    lines = journal_bytes(12, sample_header(DAMAGED)).splitlines(keepends=True)
    lines[3] = b"=1+1,\xff\xfe\x00 \r\r\n"
    lines[5] = lines[5].replace(b'"seq":5', b'"seq":6')
    lines[7] = lines[7][:-1] + b"\r\n"
    (classes / f"{DAMAGED}.jsonl").write_bytes(b"".join([*lines, b"\n", b"  \n"]))
    (classes / f"{OPEN_END}.jsonl").write_bytes(journal_bytes(5, sample_header(OPEN_END))[:-1])
    (classes / f"{TORN}.jsonl").write_bytes(journal_bytes(5, sample_header(TORN))[:-20])
    merge(home, "Ilca", "Ilka")
    write_settings(home, Settings(sound_offset_ms=120))
    return home


def journals(home: Path) -> dict[str, bytes]:
    """Every journal by its id."""
    return {path.stem: path.read_bytes() for path in sorted((home / "classes").glob("*.jsonl"))}
