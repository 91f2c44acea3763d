"""The way into floorclock. A coach waits for `floorclock run`, so that command is read in a forked process, with its plan,
while this one imports the floor.

Invariant: where the short way does not lead to a floor, the ordinary way is taken from its beginning, and says what is wrong.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, cast

from floorclock.ahead import ahead

if TYPE_CHECKING:
    from floorclock.plan_files import Plan
    from floorclock.wishes import RunWishes

SHORT = "run"
HELP = {"-h", "--help"}


def main() -> None:
    """The entry point of the command `floorclock`."""
    command = None
    arguments = sys.argv[1:]
    if arguments[:1] == [SHORT] and not HELP & set(arguments) and sys.stdin.isatty() and sys.stdout.isatty():
        # Next to nothing of what is imported is garbage; `keep_waits_short` turns the search for it on again.
        gc.disable()
        command = _run(arguments[1:])
        gc.enable()
    from floorclock import cli

    cli.main(command)


def _run(arguments: Sequence[str]) -> Callable[[], None] | None:
    """Runs the class on the wall; gives what is to be said after it, or None where the short way leads nowhere."""
    reading = ahead(lambda: _read(arguments))
    from floorclock.wall import import_floor

    import_floor()
    asked = reading()
    if asked is None:
        return None
    from floorclock.record.home import data_home
    from floorclock.wall import run_on_the_wall

    try:
        opened = run_on_the_wall(asked[0], data_home(os.environ), asked[1])
    except Exception as error:  # noqa: BLE001
        # Guard: the command line has the words for whatever ends a command, and is imported only now.
        return partial(_raise, error)
    from floorclock.cli import say_goodbye

    return partial(say_goodbye, opened)


def _read(arguments: Sequence[str]) -> tuple[Plan, RunWishes] | None:
    """The plan and the wishes of a `run` that can be run; None for every other one."""
    from typer.main import get_command

    from floorclock.cli import app
    from floorclock.options import run_wishes
    from floorclock.plan_files import read_plan

    try:
        given: dict[str, Any] = cast(Any, get_command(app)).commands[SHORT].make_context(SHORT, list(arguments)).params
        return read_plan(given.pop("session"), given.pop("roster")), run_wishes(**given)
    except Exception:  # noqa: BLE001
        # Guard: it goes wrong again on the ordinary way, and is told there.
        return None


def _raise(error: Exception) -> None:
    raise error
