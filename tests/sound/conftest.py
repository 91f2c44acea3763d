"""A disk that is full, and things that stand where a file is expected."""

from __future__ import annotations

import os
import resource
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest

FullDisk = Callable[[], AbstractContextManager[None]]


@pytest.fixture
def full_disk() -> FullDisk:
    """Within it this process can't make a file of more than 2,000 bytes: writing on fails with an OSError, as on a full disk."""

    @contextmanager
    def full() -> Iterator[None]:
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (2_000, hard))
        try:
            yield
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))

    return full


@pytest.fixture(params=["folder", "pipe", "device"])
def no_file(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Something that is no file under the name of a cue."""
    path = tmp_path / "go.wav"
    if request.param == "folder":
        path.mkdir()
    elif request.param == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero")
    return path
