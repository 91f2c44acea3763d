"""An invented class whose events can be told from their number, so that a lost, doubled or invented one shows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path
from zlib import crc32

from floorclock.clock.events import Event, Joined, PartBegun, Paused, Resumed, SplitCorrected, Tapped, TapTakenBack, TargetChanged
from floorclock.clock.state import ClassState
from floorclock.journal.reading import Header, event_line, header_line, read_bytes
from floorclock.journal.replay import replay
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.work import Target, Unit

WALL = datetime(2026, 11, 25, 18, 31, 4, 120_000, timezone(timedelta(hours=1)))
NAMES = ("Ilka", "Bråm", "Нура", "紗希", "عُدي", 'Quo"te, \\', "🏋 Runa")
SESSION_TEXT = 'session: Quay "nine"\nparts:\n  - kind: open\n    title: Über\u2028all\n'

_MAKERS: tuple[Callable[[int, str], Event], ...] = (
    lambda at, name: Tapped(at_ms=at, athlete=name),
    lambda at, name: PartBegun(at_ms=at, part=at % 4),
    lambda at, name: Tapped(at_ms=at, athlete=name),
    lambda at, name: TargetChanged(at_ms=at, athlete=name, move="step-up", target=Target(Fraction(at, 7), Unit.REPS)),
    lambda at, name: SplitCorrected(at_ms=at, athlete=name, part=1, interval=at % 20, split_ms=None),
    lambda at, name: Joined(at_ms=at, athlete=Athlete(name=f"{name} {at}", key="q", experienced=frozenset({"row"}))),
    lambda at, name: Paused(at_ms=at),
    lambda at, name: Resumed(at_ms=at, count_in_ms=3_000),
    lambda at, name: TapTakenBack(at_ms=at),
)


def event_numbered(seq: int) -> Event:
    """The event with a number, from 1."""
    return _MAKERS[seq % len(_MAKERS)](seq * 1_337, NAMES[seq % len(NAMES)])


def events_through(seq: int) -> tuple[Event, ...]:
    """The first events of the class."""
    return tuple(event_numbered(number) for number in range(1, seq + 1))


def sample_header(class_id: str = "20261125-1831-7f3a", **values: object) -> Header:
    """The header of the class."""
    athletes = tuple(Athlete(name=name, targets={"step-up": Target(Fraction(10), Unit.REPS)}) for name in NAMES)
    plain = {
        "id": class_id,
        "started": WALL,
        "session": 'Quay "nine"',
        "session_file": "quay.yaml",
        "session_text": SESSION_TEXT,
        "roster": Roster(title="Wednesday", athletes=athletes),
        "rest_margin_ms": 15_000,
        "version": "0.1.0",
    }
    return Header(**{**plain, **values})  # type: ignore[arg-type]


def journal_of(header: Header, told: Iterable[Event]) -> bytes:
    """The journal of a class, each event written at its own time."""
    walls = ((event, header.started + timedelta(milliseconds=event.at_ms)) for event in told)
    return header_line(header) + b"".join(event_line(seq, event, wall) for seq, (event, wall) in enumerate(walls, start=1))


def class_of(data: bytes) -> ClassState:
    """What the events of a journal come to."""
    reading = read_bytes(data)
    assert reading.header is not None
    return replay(reading.header, reading.events)


def journal_bytes(events: int, header: Header | None = None) -> bytes:
    """A whole journal with so many events."""
    lines = [event_line(seq, event_numbered(seq), WALL + timedelta(seconds=seq)) for seq in range(1, events + 1)]
    return header_line(header or sample_header()) + b"".join(lines)


def journal_at(path: Path, events: int, **header: object) -> Path:
    """A journal on the disk."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(journal_bytes(events, sample_header(path.stem, **header)))
    return path


def names_in(folder: Path) -> list[str]:
    """What lies in a folder."""
    return sorted(path.name for path in folder.iterdir())


def rights(path: Path) -> int:
    """Who may do what with a file or a folder."""
    return path.stat().st_mode & 0o777


def sealed(body: bytes) -> bytes:
    """A line whose check fits, of an object (without its last brace) that no floorclock writes: one with `NaN` in it, say."""
    return body + b',"check":"%08x"}\n' % crc32(body + b"}")
