"""What the commands take and how they print: what several of them share.

Invariant: an option that cannot be meant is refused in words before anything is opened.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from floorclock.errors import ResourceError, WrongUsage

if TYPE_CHECKING:
    from rich.console import Console

    from floorclock.live.class_sound import SoundOptions

Found = TypeVar("Found")

SessionFile = Annotated[Path, typer.Argument(metavar="SESSION", help="The session file (YAML).")]
RosterFile = Annotated[Path | None, typer.Option("--roster", "-r", metavar="ROSTER", help="Who is here: YAML or CSV.")]
NeededRoster = Annotated[Path, typer.Option("--roster", "-r", metavar="ROSTER", help="Who is here: YAML or CSV.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
Margin = Annotated[
    str | None, typer.Option("--margin", metavar="0:15", help="The smallest rest wanted every round, for this class.")
]
Sounds = Annotated[Path | None, typer.Option("--sounds", metavar="DIR", help="A folder with cue sounds of your own (WAV).")]
Output = Annotated[
    str | None,
    typer.Option("--sound", metavar="OUTPUT", help="auto, miniaudio, simpleaudio, bell, none, or the name of a .wav file."),
]
Offset = Annotated[
    int | None, typer.Option("--sound-offset", metavar="MS", help="How late the speaker sounds; `cues --tune` finds it.")
]
CueChoices = Annotated[
    str, typer.Option("--cues", metavar="CHOICES", help="What to change for this run: 'count=5 last_ten=off volume=60 voice=on'.")
]
Speed = Annotated[
    float, typer.Option("--speed", min=0.1, max=1000, help="Run the class clock faster; the record is a rehearsal.")
]


def sound_options(output: str | None, offset_ms: int | None, sounds: Path | None) -> SoundOptions:
    """How a run should sound; what is wrong with this machine's settings is told and the usual ones stand in."""
    from floorclock.journal.settings import read_settings
    from floorclock.live.class_sound import options_from

    settings, problems = read_settings(home())
    for problem in problems:
        print(problem, file=sys.stderr)
    return options_from(settings, output, offset_ms, sounds)


@contextmanager
def read_from(option: str) -> Iterator[None]:
    """Turns what cannot be read in an option into `WrongUsage` that names the option."""
    from floorclock.plan.durations import UnreadableError

    try:
        yield
    except UnreadableError as error:
        raise WrongUsage(f"{option}: {error}") from error


def home() -> Path:
    """The data folder of this user."""
    from floorclock.journal.home import data_home

    return data_home(os.environ)


def home_if_any() -> Path | None:
    """The data folder, None where the machine has no place for one: reading a plan does without."""
    try:
        return home()
    except ResourceError:
        return None


def write_report(path: Path, made: str | bytes, what: str) -> None:
    """Puts what was made in its place, and says what it is.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    from floorclock.journal.files import write_atomically

    write_atomically(path, made.encode("utf-8") if isinstance(made, str) else made)
    print(f"{path}: {what}")


def print_json(values: Any) -> None:
    """Prints what another program reads."""
    print(json.dumps(values, ensure_ascii=False, indent=2))


def show(found: Found, print_it: Callable[[Found, Console], None], *, json_: bool) -> None:
    """Prints an answer of the records, for another program or for people."""
    if json_:
        from floorclock.insight import as_json

        print_json(as_json(found))
    else:
        print_it(found, console())


def console() -> Console:
    """Where words for people go; names are data, so nothing in them is markup."""
    from rich.console import Console

    return Console(highlight=False, markup=False, emoji=False)
