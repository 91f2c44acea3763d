"""What killed commands left half made beside their target: swept by the next one, unless somebody is making it now."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from floorclock.journal.files import new_file, new_folder, write_atomically

MAKES = """
import pathlib, sys
from floorclock.journal.files import new_file, new_folder
make = {"file": new_file, "folder": new_folder}[sys.argv[1]]
with make(pathlib.Path(sys.argv[2])) as made:
    (made / "people.csv").write_text("Ilka") if sys.argv[1] == "folder" else made.write(b"Ilka")
    print("made", flush=True)
    sys.stdin.readline()
"""


def left_over(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.name.endswith(".new"))


@pytest.mark.parametrize("kind", ["file", "folder"])
def test_what_a_killed_command_left_is_swept_and_what_a_running_one_makes_is_not(kind: str, tmp_path: Path) -> None:
    command = [sys.executable, "-c", MAKES, kind, str(tmp_path / "out")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as maker:
        assert maker.stdout is not None
        assert maker.stdout.readline() == "made\n"
        (beside,) = left_over(tmp_path)
        write_atomically(tmp_path / "page.html", b"x")
        assert left_over(tmp_path) == [beside]
        maker.kill()
    assert left_over(tmp_path) == [beside]
    with new_file(tmp_path / "all.tar.gz") as file:
        file.write(b"x")
    assert left_over(tmp_path) == []


def test_what_looks_alike_and_is_not_ours_stays(tmp_path: Path) -> None:
    for name in (".out.abcdefgh.new", "out.floorclock-abcdefgh.new", ".out.floorclock-abcdefgh.old"):
        (tmp_path / name).write_bytes(b"x")
    with new_folder(tmp_path / "out") as made:
        (made / "a.csv").write_bytes(b"x")
    assert len(list(tmp_path.iterdir())) == 4
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["a.csv"]
