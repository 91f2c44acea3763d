"""A real PostgreSQL server for the tests: its own data, its own port on the loopback, gone afterwards."""

from __future__ import annotations

import os
import pwd
import secrets
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

OWNER = "gym"
PLACES = "/usr/lib/postgresql/*/bin"


@dataclass(frozen=True)
class Server:
    """A server that runs. Its databases are made with `new_database`."""

    port: int
    password: str
    _data: Path
    _settings: str

    def start(self) -> None:
        _run("pg_ctl", "-D", self._data, "-w", "-t", "30", "-l", self._data.parent / "log", "-o", self._settings, "start")

    def stop(self, mode: str) -> None:
        """`smart`, `fast` or `immediate`, as PostgreSQL has it."""
        _run("pg_ctl", "-D", self._data, "-w", "-m", mode, "stop")

    def end_connections(self) -> None:
        self.run("SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE application_name = 'floorclock'")

    def url(self, database: str, password: str | None = None) -> str:
        return f"postgresql://{OWNER}:{self.password if password is None else password}@127.0.0.1:{self.port}/{database}"

    def run(self, statement: str, database: str = "postgres") -> None:
        import psycopg

        with psycopg.connect(self.url(database), autocommit=True) as connection:
            connection.execute(statement.encode())

    def new_database(self) -> str:
        name = f"gym_{secrets.token_hex(4)}"
        self.run(f"CREATE DATABASE {name}")
        return self.url(name)


def missing() -> str:
    """Why there can be no server here, in words; empty where there can."""
    if not _programs():
        return "PostgreSQL is not installed"
    if os.geteuid() == 0 and (not shutil.which("runuser") or not _has_user("postgres")):
        return "PostgreSQL does not run as root, and there is no user for it"
    try:
        import psycopg  # noqa: F401
    except ImportError:
        return "psycopg is not installed"
    return ""


@contextmanager
def running_server(*, as_shipped: bool = False) -> Iterator[Server]:
    """A server that is empty and in nobody's way. Nothing of it must survive, so it waits for no disk; `as_shipped` it does."""
    folder = Path(tempfile.mkdtemp(prefix="floorclock-postgres-"))
    data, password = folder / "data", secrets.token_hex(8)
    secret = folder / "secret"
    secret.write_text(password + "\n")
    if os.geteuid() == 0:
        for path in (folder, secret):
            shutil.chown(path, "postgres")
    port = _free_port()
    settings = f"-p {port} -h 127.0.0.1 -k ''"
    if not as_shipped:
        settings += " -c fsync=off -c full_page_writes=off -c max_connections=30 -c shared_buffers=32MB"
    try:
        _run("initdb", "-D", data, "-U", OWNER, "--pwfile", secret, "-A", "scram-sha-256", "-E", "UTF8", "--no-locale", "-N")
        with _stopped_when_we_are_gone(data):
            server = Server(port, password, data, settings)
            server.start()
            yield server
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _stopped_when_we_are_gone(data: Path) -> Iterator[None]:
    """Somebody who waits for us to let go of a pipe, which we also do when we are killed, and then stops the server."""
    stop = 'read -r _; "$0" -D "$1" -w -m immediate stop; rm -rf "${1%/*}"'
    command = _as_owner("sh", "-c", stop, _program("pg_ctl"), str(data))
    nowhere = subprocess.DEVNULL
    with subprocess.Popen(
        command, cwd="/", stdin=subprocess.PIPE, stdout=nowhere, stderr=nowhere, start_new_session=True
    ) as waiting:
        try:
            yield
        finally:
            assert waiting.stdin is not None
            waiting.stdin.close()
            waiting.wait(timeout=120)


def _programs() -> Path | None:
    found = [path for path in sorted(Path("/").glob(PLACES[1:])) if (path / "initdb").exists()]
    return found[-1] if found else None


def _has_user(name: str) -> bool:
    return any(entry.pw_name == name for entry in pwd.getpwall())


def _program(name: str) -> str:
    programs = _programs()
    assert programs is not None
    return str(programs / name)


def _as_owner(*command: str) -> list[str]:
    """The server refuses to run as root."""
    return ["runuser", "-u", "postgres", "--", *command] if os.geteuid() == 0 else list(command)


def _run(program: str, *arguments: object) -> None:
    command = _as_owner(_program(program), *map(str, arguments))
    # No pipe: the server would keep it open, and the wait for its end would never end.
    nowhere = subprocess.DEVNULL
    done = subprocess.run(command, cwd="/", stdin=nowhere, stdout=nowhere, stderr=nowhere, timeout=60)
    assert done.returncode == 0, f"{program}: exit status {done.returncode}"


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
