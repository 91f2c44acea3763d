"""A disk of a given size that is really there: a file system in memory, mounted for as long as it is needed."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path


class CannotMount(Exception):
    """This machine does not give the right to mount."""


def _mount(*arguments: str) -> None:
    done = subprocess.run(["mount", *arguments], capture_output=True, text=True, check=False)
    if done.returncode:
        raise CannotMount(f"this machine does not let us mount a small disk: {done.stderr.strip()}")


@contextlib.contextmanager
def small_disk(folder: Path, kibibytes: int = 64) -> Iterator[Path]:
    """A small disk at a folder, made if it is missing.

    Raises:
        CannotMount: this machine does not let us.
    """
    if os.geteuid() != 0 or shutil.which("mount") is None:
        raise CannotMount("making a small disk takes the right to mount, which this machine does not give")
    folder.mkdir(parents=True, exist_ok=True)
    _mount("-t", "tmpfs", "-o", f"size={kibibytes}k", "tmpfs", str(folder))
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def make_read_only(folder: Path, *, read_only: bool = True) -> None:
    """Turns a small disk read-only, or back. Nothing may be open for writing on it."""
    _mount("-o", f"remount,{'ro' if read_only else 'rw'}", str(folder))


@contextlib.contextmanager
def seen_at(disk: Path, folder: Path) -> Iterator[None]:
    """Lets a folder of a disk be seen in a second place, and pulls it out from there in the end, whoever uses it.

    Raises:
        CannotMount: this machine does not let us.
    """
    _mount("--bind", str(disk), str(folder))
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def fill(folder: Path) -> Path:
    """Takes all the room that is left; remove the file that this gives to make room again."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while file.write(bytes(1_024)):
                pass
        except OSError:
            return filler
    raise AssertionError("the disk took everything")
