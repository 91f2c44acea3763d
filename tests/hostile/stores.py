"""An index whose command is killed, and a PostgreSQL server that goes away in the middle of it.

Invariant: whatever was cut off, the next `index` makes the store say what one that was never cut off says.
"""

from __future__ import annotations

import atexit
import contextlib
import itertools
import subprocess
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from random import Random

from sqlalchemy import Engine, event

from tests.commands import command, environment
from tests.hostile.files import base, journals, records
from tests.hostile.harness import Broken, typed
from tests.store.postgres_server import Server, running_server

ASKED = (("trends", "--since", "2026-10-01", "--json"), ("athlete", "Ilka", "--json"))


@cache
def truth() -> list[str]:
    """What a store says that nothing ever happened to."""
    return [typed(base() / "home", *asked, allowed=(0,)).out for asked in ASKED]


def compare(home: Path, *store: str) -> None:
    """Brings the store up to date, and raises `Broken` where it says anything else than the truth."""
    typed(home, "index", *store, allowed=(0,))
    for asked, true in zip(ASKED, truth(), strict=True):
        if typed(home, *asked, *store, allowed=(0,)).out != true:
            raise Broken(f"`{' '.join(asked)}` says something else after the store was cut off")


def killed_index(dice: Random, folder: Path) -> None:
    """`kill -9` at any instant of the first index, of an update, of a rebuild."""
    truth()
    home = records(folder)
    extra = folder / "kept.jsonl"
    if dice.random() < 0.7:
        (home / "store.sqlite3").unlink()
    for _ in range(dice.randrange(1, 4)):
        journal = dice.choice(journals(home))
        if dice.random() < 0.5:
            # A class that is gone, indexed or not, and back.
            journal.rename(extra)
            typed(home, "index", allowed=(0, 1, 3))
            extra.rename(journal)
        arguments = ("index", *dice.choice(((), ("--rebuild",))))
        nowhere = subprocess.DEVNULL
        process = subprocess.Popen(command(*arguments), env=environment(home), stdin=nowhere, stdout=nowhere, stderr=nowhere)
        store = home / "store.sqlite3"
        until = time.monotonic() + 20
        # Most of a command is its start: it is killed from when it begins to write.
        while process.poll() is None and time.monotonic() < until and not any(home.glob("store.sqlite3*")):
            time.sleep(0.002)
        if store.exists() and dice.random() < 0.5:
            time.sleep(dice.uniform(0, 1.5))
        time.sleep(dice.uniform(0, 0.3))
        process.kill()
        process.wait()
    compare(home)


@cache
def server() -> Server:
    """One server for all cases; it goes when this process goes."""
    started = contextlib.ExitStack()
    atexit.register(started.close)
    return started.enter_context(running_server())


@contextlib.contextmanager
def lost_at(number: int, way: str) -> Iterator[None]:
    """At that statement of whatever is asked inside, the server ends its connections, or itself; afterwards it is there again."""
    statements = itertools.count(1)

    def lose(*statement: object) -> None:
        if next(statements) != number:
            return
        if way == "connections":
            server().end_connections()
        else:
            server().stop(way.partition(" ")[0])
            stack.callback(server().start)
            if way.endswith("restarted"):
                stack.close()

    event.listen(Engine, "before_cursor_execute", lose)
    with contextlib.ExitStack() as stack:
        try:
            yield
        finally:
            event.remove(Engine, "before_cursor_execute", lose)


def lost_server(dice: Random, folder: Path) -> None:
    """A PostgreSQL server that goes away at any statement of an index, a question, a class that is opened with its history."""
    truth()
    home = records(folder)
    url = server().new_database()
    ways = ("connections", "fast", "immediate", "fast restarted")
    wanted = (("index",), ("index", "--rebuild"), *ASKED, ("review", journals(home)[-1].stem, "--json"))
    for _ in range(dice.randrange(1, 4)):
        asked, way = dice.choice(wanted), dice.choice(ways)
        with lost_at(dice.randrange(1, 100), way):
            answer = typed(home, *asked, allowed=(0,) if asked[0] == "review" else (0, 3), FLOORCLOCK_STORE=url)
        if server().password in answer.err + answer.out or (answer.status and answer.err.count("\n") != 1):
            raise Broken(f"`{' '.join(asked)}` said {answer.err!r}")
    compare(home, "--store", url)


STORES = {"killed": killed_index, "server": lost_server}
