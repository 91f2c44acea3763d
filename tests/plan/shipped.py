"""The files that come with the tool, for tests that go through all of them."""

from __future__ import annotations

from pathlib import Path

from floorclock.live.plan_files import Plan, read_plan
from floorclock.plan.read_session import read_session
from floorclock.plan.session import Session

CHECKOUT = Path(__file__).resolve().parents[2]
SESSIONS, SOUNDS = CHECKOUT / "sessions", CHECKOUT / "sounds"
ROSTER_NAMES = ("harbour-roster.yaml", "full-house.csv")
SESSION_NAMES = tuple(sorted(path.name for path in SESSIONS.glob("*.yaml") if path.name not in ROSTER_NAMES))


def source(name: str) -> bytes:
    """The bytes of a shipped file."""
    return (SESSIONS / name).read_bytes()


def session(name: str) -> Session:
    """A shipped session; it has to be without problems."""
    made, problems = read_session(source(name), name)
    assert made is not None, problems
    return made


def plan(session: str, roster: str = "harbour-roster.yaml") -> Plan:
    """A shipped session with a shipped roster."""
    return read_plan(SESSIONS / session, SESSIONS / roster)


def session_of(text: str) -> Session:
    """A session from its parts, written as YAML under `parts:`; it has to be without problems."""
    made, problems = read_session(text if text.startswith("session:") else f"session: A test\nparts:\n{text}", "plan.yaml")
    assert made is not None, problems
    return made
