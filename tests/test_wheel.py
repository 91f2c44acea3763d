"""The package as people get it: built, installed into an empty environment, and run from an empty folder."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import urllib.error
import urllib.request
import venv
import zipfile
from pathlib import Path

import pytest

from floorclock import __version__
from tests.plan.shipped import CHECKOUT

INDEX = os.environ.get("PIP_INDEX_URL", "https://pypi.org/simple/")


def run(*words: str, cwd: Path | None = None, home: Path | None = None, timeout_s: int = 180) -> subprocess.CompletedProcess[str]:
    """Runs a command with nothing of this checkout around it."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV", "FLOORCLOCK"))}
    env = kept if home is None else {**kept, "FLOORCLOCK_HOME": str(home)}
    return subprocess.run(
        words, cwd=cwd, env=env, capture_output=True, text=True, timeout=timeout_s, check=False, stdin=subprocess.DEVNULL
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from this checkout without leaving anything in it."""
    folder = tmp_path_factory.mktemp("wheel")
    built = run(sys.executable, "-m", "build", "--wheel", "--outdir", str(folder), str(CHECKOUT))
    if built.returncode and _offline():
        pytest.skip("building needs hatchling from the package index, and there is no network")
    assert built.returncode == 0, built.stdout + built.stderr
    (path,) = folder.glob("*.whl")
    return path


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The command of an environment that holds the wheel and what it asks for, and nothing else."""
    folder = tmp_path_factory.mktemp("clean") / "env"
    venv.create(folder)
    pip = (sys.executable, "-m", "pip", "--python", str(folder / "bin" / "python"), "--disable-pip-version-check")
    # Compiling all that is asked for takes longer than these tests; what they import is compiled when they do.
    answer = run(*pip, "install", "--quiet", "--no-compile", str(wheel))
    if answer.returncode and _offline():
        pytest.skip("installing needs packages from the index, and there is no network")
    assert answer.returncode == 0, answer.stderr
    return folder / "bin" / "floorclock"


def _offline() -> bool:
    try:
        with urllib.request.urlopen(INDEX, timeout=5):
            return False
    except urllib.error.HTTPError:
        return False
    except OSError:
        return True


def test_the_wheel_holds_the_sessions_and_the_sounds_and_nothing_of_the_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    for kind, pattern in (("sessions", "*.*"), ("sounds", "*.wav")):
        shipped = {name.rpartition("/")[2] for name in names if name.startswith(f"floorclock/shipped/{kind}/")}
        assert shipped == {path.name for path in (CHECKOUT / kind).glob(pattern)}
        assert shipped
    assert any(name.endswith("floor.tcss") for name in names)
    assert any(name.endswith("dialogs.tcss") for name in names)
    assert "floorclock/plan/moves.yaml" in names
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert [name for name in names if name.startswith("tests/")] == []
    assert wheel.name.startswith(f"floorclock-{__version__}-")


def test_the_installed_command_plays_the_demo_from_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    for _ in range(2):
        answer = run(str(installed), "demo", cwd=empty, home=tmp_path / "home")
        assert (answer.returncode, answer.stderr) == (0, "")
        assert "The harbour" in answer.stdout
        assert "tight" in answer.stdout
    assert list(empty.iterdir()) == []
    listed = json.loads(run(str(installed), "classes", "--json", cwd=empty, home=tmp_path / "home").stdout)
    assert [entry["rehearsal"] for entry in listed["classes"]] == [True, True]


def test_the_installed_command_is_not_the_checkout(installed: Path, tmp_path: Path) -> None:
    where = run(str(installed.with_name("python")), "-c", "import floorclock; print(floorclock.__file__)", cwd=tmp_path)
    assert str(CHECKOUT) not in where.stdout
    assert str(installed.parents[1]) in where.stdout
    missing = run(str(installed.with_name("python")), "-c", "import pytest, scipy", cwd=tmp_path)
    assert missing.returncode != 0, "the environment holds more than the package asks for"


def test_the_installed_command_checks_the_sessions_it_brings(installed: Path, tmp_path: Path) -> None:
    code = "from floorclock.live.shipped import folder; print(folder('sessions')); print(folder('sounds'))"
    where = run(str(installed.with_name("python")), "-c", code, cwd=tmp_path)
    sessions, sounds = (Path(line) for line in where.stdout.splitlines())
    assert sessions.is_relative_to(installed.parents[1])
    assert len(list(sounds.glob("*.wav"))) == 10
    for path in sorted(sessions.glob("*.yaml")):
        if "roster" in path.name:
            continue
        answer = run(str(installed), "check", str(path), "--roster", str(sessions / "harbour-roster.yaml"), cwd=tmp_path)
        assert (answer.returncode, answer.stderr) == (0, "")


def test_the_installed_floor_needs_a_terminal_and_says_so(installed: Path, tmp_path: Path) -> None:
    answer = run(str(installed), "run", str(CHECKOUT / "sessions" / "harbour.yaml"), cwd=tmp_path, home=tmp_path / "home")
    assert (answer.returncode, "terminal" in answer.stderr) == (3, True)
