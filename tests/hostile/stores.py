"""An index whose command is killed, and a PostgreSQL server that goes away in the middle of it.

Invariant: whatever was cut off, the next `index` makes the store say what one that was never cut off says.
"""

from __future__ import annotations

import contextlib
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from random import Random

from tests.commands import command, environment
from tests.hostile.commands import Broken, typed
from tests.hostile.files import GOOD_ATHLETE, base, journals, records
from tests.store.postgres_server import Server, missing, running_server

ASKED = (("trends", "--since", "2026-10-01", "--json"), ("athlete", GOOD_ATHLETE, "--json"))


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
        process = subprocess.Popen(
            command(*arguments), env=environment(home), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        store = home / "store.sqlite3"
        until = time.monotonic() + 20
        # Most of a command is its start: it is killed from when it begins to write.
        while process.poll() is None and time.monotonic() < until and not any(home.glob("store.sqlite3*")):
            time.sleep(0.002)
        if store.exists() and dice.random() < 0.5:
            time.sleep(dice.uniform(0, 1.5))
        time.sleep(dice.uniform(0, 0.3))
        process.send_signal(signal.SIGKILL)
        process.communicate()
    compare(home)


class Wire:
    """A way to a server that is cut after some bytes, and stays cut until it is mended."""

    def __init__(self, port: int) -> None:
        self._to = port
        self.left = -1
        """Bytes until the cut; -1 for none."""
        self._open = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._open.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def close(self) -> None:
        """Nobody comes through any more."""
        self._open.close()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                here, _ = self._open.accept()
                if not self.left:
                    here.close()
                    continue
                there = socket.create_connection(("127.0.0.1", self._to))
                for pair in ((here, there), (there, here)):
                    threading.Thread(target=self._carry, args=pair, daemon=True).start()

    def _carry(self, come: socket.socket, go: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := come.recv(4096):
                if self.left >= 0:
                    data, self.left = data[: self.left], max(0, self.left - len(data))
                go.sendall(data)
                if not self.left:
                    break
        for end in (come, go):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


@cache
def server() -> Server:
    """One server for all cases; it goes when this process goes."""
    return _started.enter_context(running_server())


_started = contextlib.ExitStack()


@contextlib.contextmanager
def servers() -> Iterator[str]:
    """Why there can be no server here, empty where there can; stops whatever was started."""
    with _started:
        yield missing()


def lost_server(dice: Random, folder: Path) -> None:
    """A PostgreSQL server that goes away at any byte of an index, by a cut wire or by its own end of the connection."""
    truth()
    home = records(folder)
    url = server().new_database()
    wire = Wire(server().port)
    cut_url = url.replace(f":{server().port}/", f":{wire.port}/")
    try:
        if dice.random() < 0.5:
            typed(home, "index", "--store", url, allowed=(0,))
        for _ in range(dice.randrange(1, 3)):
            wire.left = dice.choice((0, dice.randrange(1, 3_000), dice.randrange(3_000, 200_000)))
            arguments = (*dice.choice((("index",), ("index", "--rebuild"), *ASKED)), "--store", cut_url)
            answer = typed(home, *arguments, allowed=(0, 1, 3))
            if answer.status and server().password in answer.err + answer.out:
                raise Broken("the password was printed")
        compare(home, "--store", url)
    finally:
        wire.close()
        shutil.rmtree(folder, ignore_errors=True)


STORES = {"killed": killed_index, "server": lost_server}
