"""The commands: parse, call, print. The only place that sees every room.

Invariant: whatever goes wrong ends in a few plain lines on standard error and an exit status, never in a traceback;
a command imports what it needs when it needs it.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from floorclock import __version__
from floorclock.errors import FloorclockError, InputProblems, MachineLacks, Problem

if TYPE_CHECKING:
    from rich.console import Console

    from floorclock.plan.roster import Roster
    from floorclock.plan.session import Session

app = typer.Typer(
    name="floorclock",
    help="An interval clock and pacing coach for the gym floor.\n\n"
    "Write a plan (floorclock demo shows one), check it, rehearse it, run it on the wall, review it afterwards.",
    epilog="Exit status: 0 done; 1 the input has problems, or there was nothing to do; 2 wrong usage; "
    "3 the machine lacks something (no terminal, no room on the disk).",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)

SessionFile = Annotated[Path, typer.Argument(metavar="SESSION", help="The session file (YAML).")]
RosterFile = Annotated[Path | None, typer.Option("--roster", "-r", metavar="ROSTER", help="Who is here: YAML or CSV.")]
NeededRoster = Annotated[Path, typer.Option("--roster", "-r", metavar="ROSTER", help="Who is here: YAML or CSV.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
Margin = Annotated[str | None, typer.Option("--margin", metavar="0:15", help="The smallest rest wanted every round, for this class.")]
Speed = Annotated[float, typer.Option("--speed", min=0.1, max=1000, help="Run the class clock faster; the record is a rehearsal.")]


def main() -> None:
    """The entry point: runs a command and turns every known trouble into words and an exit status."""
    try:
        app()
    except InputProblems as error:
        print(error, file=sys.stderr)
        sys.exit(error.exit_status)
    except FloorclockError as error:
        print(f"floorclock: {error}", file=sys.stderr)
        sys.exit(error.exit_status)
    except BrokenPipeError:
        sys.exit(0)


@app.callback(invoke_without_command=True)
def top(version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False) -> None:
    """An interval clock and pacing coach for the gym floor."""
    if version:
        print(f"floorclock {__version__}")
        raise typer.Exit


@app.command()
def demo(speed: Speed = 1.0) -> None:
    """Open the floor on the shipped session, with invented athletes who tap by themselves."""
    from floorclock import files

    folder = files.shipped("sessions")
    session_file, roster_file = folder / files.DEMO_SESSION, folder / files.DEMO_ROSTER
    if sys.stdin.isatty() and sys.stdout.isatty():
        from floorclock.opening import FloorRequest
        from floorclock.wall import demo_on_the_wall

        demo_on_the_wall(FloorRequest(session_file, roster_file, rate=speed))
    else:
        _rehearse(session_file, roster_file, seed=7, as_json=False)


@app.command()
def check(session: SessionFile, roster: RosterFile = None, json_: AsJson = False) -> None:
    """Read, validate, time and cost a plan; say everything that is wrong with it at once."""
    from floorclock.plan.check import check_files

    checked = check_files(_text(session), session.name, None if roster is None else _text(roster), roster and roster.name)
    if json_:
        _print_json(checked.to_json())
    else:
        from floorclock.report.check_text import print_check

        print_check(checked, _console())
    if checked.has_errors:
        raise typer.Exit(1)


def _rehearse(session_file: Path, roster_file: Path, *, seed: int, as_json: bool) -> None:
    raise NotImplementedError


def _text(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        words = error.strerror or "cannot be read"
        raise InputProblems([Problem(str(path), 0, 0, "", words.lower(), "name a file that is there")]) from error


def _print_json(values: Any) -> None:
    print(json.dumps(values, ensure_ascii=False, indent=2))


def _console() -> Console:
    from rich.console import Console

    return Console(highlight=False, markup=False, emoji=False)
