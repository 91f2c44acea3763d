"""Mangled session and roster files: always problems with places, never an exception, and work bounded by the caps."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floorclock.errors import Problem
from floorclock.plan.check import check_files
from floorclock.plan.document import MOST_PROBLEMS
from floorclock.plan.read_roster import read_roster
from floorclock.plan.read_session import read_session
from tests.plan.shipped import SESSION_NAMES, session, source
from tests.plan.test_read_roster import AS_CSV, AS_YAML
from tests.plan.test_read_session import EVERYTHING

# Thousands of files, and slow to trace; other tests of the plan reach the same lines.
pytestmark = pytest.mark.no_cover

WHOLE_SESSIONS = [EVERYTHING, *(source(name).decode() for name in SESSION_NAMES)]
WHOLE_ROSTERS = [AS_YAML, AS_CSV]
BAD_TEXT = st.sampled_from(
    [
        *(
            "",
            " ",
            "~",
            "null",
            "yes",
            "017",
            "0x1F",
            "1e999",
            "nan",
            "-1",
            "9" * 30,
            "9" * 5000,
            "1:60",
            "99:99:99",
            "0",
            "0:00",
        ),
        *(
            "[]",
            "{}",
            "[[[[[]]]]]",
            "{a: {b: {c: d}}}",
            "*x",
            "&x y",
            "!!python/name:os.system",
            "!!binary aGk=",
            "? ",
            "- ",
            "|",
        ),
        *("[/]", "[@click=app.quit]x", "\x1b[2J", "\x00", "\u202e", "\u200d", "\ufeff", "\ufe0f", "سلمى", "李", "e\u0301" * 40),
        *(
            '"\\ud800"',
            '"\\e"',
            "'",
            '"',
            "a" * 3000,
            "---",
            "...",
            "\t",
            "%YAML 1.1",
            "{start: 5, step: 9999999}",
            "rest",
            "=cmd()",
        ),
    ]
)


def check_problems(problems: tuple[Problem, ...], file: str, text: str) -> None:
    lines = sum(text.count(end) for end in ("\n", "\r", "\u2028", "\u2029")) + 2
    assert len(problems) <= MOST_PROBLEMS + 1
    for problem in problems:
        assert problem.file == file
        assert 0 <= problem.line <= lines
        assert problem.message
        assert str(problem).isprintable()
        assert len(str(problem)) < 900


def read_whatever(text: str, file: str) -> None:
    """Reads a text as a session and as a roster; whatever comes, it is a value or problems."""
    made, problems = read_session(text, file)
    assert (made is None) == any(problem.severity == "error" for problem in problems)
    check_problems(problems, file, text)
    people, problems = read_roster(text, file, session("harbour.yaml"))
    assert (people is None) == any(problem.severity == "error" for problem in problems)
    check_problems(problems, file, text)


def with_value(whole: str, number: int, bad: str) -> str:
    """The text with another value on one of its lines."""
    lines = whole.split("\n")
    at = number % len(lines)
    key, colon, _ = lines[at].partition(": ")
    lines[at] = f"{key}{colon}{bad}" if colon else bad
    return "\n".join(lines)


@settings(max_examples=150)
@given(st.sampled_from(WHOLE_SESSIONS), st.integers(min_value=0, max_value=6000))
def test_a_file_cut_off_anywhere_is_read_or_refused(whole: str, length: int) -> None:
    read_whatever(whole[:length], "cut.yaml")


@settings(max_examples=300)
@given(st.sampled_from(WHOLE_SESSIONS), st.integers(min_value=0, max_value=200), BAD_TEXT)
def test_any_value_can_be_wrong(whole: str, number: int, bad: str) -> None:
    read_whatever(with_value(whole, number, bad), "wrong.yaml")


@settings(max_examples=300)
@given(st.sampled_from(WHOLE_SESSIONS), st.integers(min_value=0, max_value=6000), BAD_TEXT)
def test_anything_can_stand_anywhere(whole: str, at: int, bad: str) -> None:
    read_whatever(whole[:at] + bad + whole[at:], "mixed.yaml")


@settings(max_examples=150)
@given(st.sampled_from(WHOLE_SESSIONS), st.lists(st.integers(min_value=0, max_value=200), max_size=6))
def test_lines_can_be_missing_or_indented_wrongly(whole: str, numbers: list[int]) -> None:
    lines = whole.split("\n")
    for number in numbers:
        at = number % len(lines)
        lines[at] = " " + lines[at] if number % 2 else ""
    read_whatever("\n".join(lines), "lines.yaml")


@settings(max_examples=200)
@given(st.sampled_from(WHOLE_ROSTERS), st.integers(min_value=0, max_value=400), BAD_TEXT, st.booleans())
def test_rosters_can_be_mangled_in_both_formats(whole: str, at: int, bad: str, cut: bool) -> None:
    text = whole[:at] + bad + ("" if cut else whole[at:])
    for file in ("mangled.yaml", "mangled.csv", "mangled"):
        made, problems = read_roster(text, file, session("harbour.yaml"))
        assert (made is None) == any(problem.severity == "error" for problem in problems)
        check_problems(problems, file, text)


BOTH_KEYS = ("every", "rounds", "for", "stations", "work", "shuttle")
KEYS = st.sampled_from([*BOTH_KEYS, "kind", "move", "target", "options", "name", "start"])
PART_KEYS = st.sampled_from([*BOTH_KEYS, "rest", "sets", "cap", "choose", "time", "beat", "title", "notes"])
VALUES = st.recursive(
    st.sampled_from(["", "5", "1:00", "x", "rest", "move", "10 reps", "[", "kettlebell swing", "yes"]),
    lambda inner: (
        st.lists(inner, max_size=4).map(lambda items: f"[{', '.join(items)}]")
        | st.dictionaries(KEYS, inner, max_size=4).map(
            lambda pairs: "{" + ", ".join(f"{key}: {value}" for key, value in pairs.items()) + "}"
        )
    ),
    max_leaves=12,
)


@settings(max_examples=400)
@given(
    st.sampled_from(["rotation", "intervals", "for_time", "amrap", "paced", "open"]),
    st.dictionaries(PART_KEYS, VALUES, max_size=6),
)
@example("rotation", {"every": "1:00", "rounds": "3", "stations": "[{move: a, options: x}]"})
@example("for_time", {"cap": "1:00", "work": "{}", "choose": "[x, {name: {}}]"})
@example("paced", {"shuttle": "[]"})
def test_wrong_types_in_any_part_are_problems(kind: str, keys: dict[str, str]) -> None:
    body = "".join(f", {key}: {value}" for key, value in keys.items())
    read_whatever(f"session: x\nparts:\n  - {{kind: {kind}{body}}}\n", "types.yaml")


@settings(max_examples=100)
@given(st.sampled_from(WHOLE_SESSIONS), st.integers(min_value=0, max_value=200), BAD_TEXT)
def test_whatever_can_be_read_can_be_checked(whole: str, number: int, bad: str) -> None:
    text = with_value(whole, number, bad)
    check = check_files(text.encode("utf-8", "replace"), "plan.yaml", source("full-house.csv"), "full-house.csv")
    assert check.has_errors or check.time_ms >= 0
    assert check.to_json()["session"] == (check.title or None)


BIG = {
    "unknown keys": ("session: x\n" + "".join(f"clss_tim{number}: 1\n" for number in range(9_900)), "big.yaml"),
    "parts": ("session: x\nparts:\n" + "- {kind: open, titl: x}\n" * 4_900, "big.yaml"),
    "stations": (
        "session: x\nparts:\n- kind: rotation\n  stations:\n" + "    - {move: a, target: 9999999 reps}\n" * 6_000,
        "big.yaml",
    ),
    "alias bomb": (
        "athletes:\n- &a {name: x, options: {" + ", ".join(f"m{number}: x" for number in range(90)) + "}}\n" + "- *a\n" * 5_000,
        "big.yaml",
    ),
    "one long text": ('session: "' + "a\u0301" * 300_000 + '"\n', "big.yaml"),
    "csv rows": ("name,key\n" + "x,y\n" * 200_000, "big.csv"),
    "csv columns": ("," * 1_000_000, "big.csv"),
    "csv pairs": ("name,options\n" + ("x," + "a=b;" * 900 + "\n") * 250, "big.csv"),
    "open quote": ('name\n"' + "x\n" * 500_000, "big.csv"),
}


@pytest.mark.parametrize("name", BIG)
def test_a_huge_file_is_cut_short_by_the_caps(name: str) -> None:
    text, file = BIG[name]
    read_whatever(text, file)


def test_the_largest_hostile_file_stays_far_below_200_megabytes() -> None:
    """Peak memory of a process of its own, over what it needs to start (`ru_maxrss` is in KiB on Linux, bytes on macOS)."""
    code = (
        "import resource\n"
        "from floorclock.plan.read_session import read_session\n"
        "read_session('session: x\\nparts: [{kind: open}]', 'warm.yaml')\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "for text in ('- a\\n' * 262000, '[' * 1048576, 'session: x\\n' + ''.join(f'k{n}: 1\\n' for n in range(19990)),\n"
        "             'a: &a [' + 'x,' * 9000 + ']\\nb: [*a, *a, *a]\\n', 'k: ' + 'x' * 1048000):\n"
        "    made, problems = read_session(text, 'big.yaml')\n"
        "    assert made is None and problems\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True)
    unit = 1024 if sys.platform != "darwin" else 1
    assert int(done.stdout) * unit < 150 * 1024 * 1024
