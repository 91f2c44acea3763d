"""The reader sees scalars as written, says where everything stands, and cannot be made to work for long."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from floorclock.plan.document import Document, Tree, path_words
from floorclock.plan.reader import MOST_BYTES, MOST_DEPTH, MOST_NODES, read_yaml
from tests.checks.reading import rows


def surprises() -> list[tuple[str, str]]:
    """What a YAML 1.1 loader makes of scalars: PyYAML 6.0.4, run for `yaml_sexagesimal.csv`; its sources stand in the file."""
    return [(row["text"], row["type"]) for row in rows("yaml_sexagesimal.csv")]


def read(text: str | bytes) -> Document:
    document, problems = read_yaml(text, "plan.yaml")
    assert problems == []
    assert document is not None
    return document


@pytest.mark.parametrize(("text", "type_1_1"), surprises())
def test_a_scalar_stays_the_text_that_was_written(text: str, type_1_1: str) -> None:
    loaded = yaml.safe_load(f"k: {text}")["k"]
    assert type(loaded).__name__ == type_1_1, "the published row no longer holds, so this test proves nothing"
    assert read(f"k: {text}\n").tree == {"k": text}


def test_the_table_of_surprises_is_whole() -> None:
    assert len(surprises()) == 42
    assert sum(kind != "str" for _, kind in surprises()) > 15


def test_values_and_keys_know_their_line_and_column() -> None:
    document = read('a: 1:30\nb:\n  - {c: "x"}\n  - d\n')
    assert document.places[("a",)] == (1, 4)
    assert document.places["b", 0, "c"] == (3, 9)
    assert document.key_places["b", 0, "c"] == (3, 6)
    assert document.place(("b", 1, "nowhere")) == (4, 5)
    assert path_words(("parts", 1, "stations", 0, "target")) == "parts[1].stations[0].target"


def test_a_repeated_value_stands_where_it_was_written() -> None:
    document = read("a: &x {c: d}\nb: *x\n")
    assert document.tree == {"a": {"c": "d"}, "b": {"c": "d"}}
    assert document.places["b", "c"] == (1, 11)


def test_a_byte_order_mark_is_no_part_of_the_first_key() -> None:
    assert read("\ufeffa: b".encode()).tree == {"a": "b"}


def size_of(tree: Tree) -> tuple[int, int]:
    """How many nodes and how many levels."""
    inner = [size_of(item) for item in (tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ())]
    return 1 + sum(nodes for nodes, _ in inner), 1 + max((levels for _, levels in inner), default=0)


BOMB = "a: &a [x,x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{','.join(['*' + chr(97 + i)] * 10)}]\n" for i in range(12)
)
TABS = "a:\n\t- b\n"
NESTED_BOMB = "a: &a [x]\n" + "".join(f"{chr(98 + i)}: &{chr(98 + i)} [*{chr(97 + i)}]\n" for i in range(24))


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("", 1, "empty"),
        ("# nothing but a comment\n", 1, "empty"),
        ("[" * 900, 1, "nested too deep"),
        ("[" * MOST_BYTES, 1, "not YAML"),
        ("{a: " * 200_000, 1, "nested too deep"),
        ("- " * 500_000, 1, "nested too deep"),
        ("\n".join(" " * i + "a:" for i in range(500)), 25, "nested too deep"),
        ("- a\n" * 250_000, MOST_NODES, "too much"),
        ("[" + "a," * 500_000 + "]", 1, "too much"),
        (BOMB, 5, "too much"),
        (NESTED_BOMB, 23, "nested too deep"),
        ("a: &a [*a]\n", 1, "stands for nothing"),
        ("a: *b\n", 1, "stands for nothing"),
        ("a: b\n---\nc: d\n", 2, "second document"),
        ("[a, b]: c\n", 1, "cannot be a key"),
        ("? {a: b}\n: c\n", 1, "cannot be a key"),
        ("a: &x [1]\n*x : b\n", 2, "cannot be a key"),
        (b"a: b\nc: \xff\xfe\n", 2, "not UTF-8"),
        ("a: b\nc: \x1b[2J\n", 2, "U+001B"),
        ("a: \ud800", 1, "U+D800"),
        ("a: b\x85c", 1, "U+0085"),
        (TABS, 2, "not YAML"),
        ("a: b: c\n", 1, "not YAML"),
        ("a:\n  b: 1\n c: 2\n", 3, "not YAML"),
        ('a: "never closed', 1, "not YAML"),
        ("x" * (MOST_BYTES + 1), 0, "too large"),
    ],
    ids=lambda value: repr(value)[:25],
)
def test_what_cannot_be_read_is_one_problem_with_its_place(text: str | bytes, line: int, words: str) -> None:
    document, problems = read_yaml(text, "plan.yaml")
    assert document is None
    assert [problem.line for problem in problems] == [line]
    assert words in problems[0].message
    assert problems[0].hint
    assert ("not with tabs" in problems[0].hint) is (text == TABS)
    assert len(str(problems[0])) < 400


@pytest.mark.parametrize(("key", "again"), [("a", "a"), ("Zoë", "Zoe\u0308")])
def test_a_key_written_twice_in_whatever_normal_form_is_a_problem_and_the_first_counts(key: str, again: str) -> None:
    document, problems = read_yaml(f"{key}: 1\nb: 2\n{again}: 3\n", "plan.yaml")
    assert document is not None
    assert document.tree == {key: "1", "b": "2"}
    assert [(p.line, p.column) for p in problems] == [(3, 1)]
    assert "first on line 1" in problems[0].message


@pytest.mark.parametrize("tag", ["!!python/object/apply:os.system", "!!binary", "!mine", "!!int"])
def test_a_tag_does_nothing_and_is_a_problem(tag: str) -> None:
    document, problems = read_yaml(f"a: {tag} '12'\n", "plan.yaml")
    assert document is not None
    assert document.tree == {"a": "12"}
    assert [(p.line, p.column) for p in problems] == [(1, 4)]


PIECES = st.sampled_from(
    [
        *("a", "- ", ": ", "\n", "  ", "{", "}", "[", "]", ",", "&x ", "*x", "!t "),
        *("|", ">", "'", '"', "#", "\t", "---", "? ", "é", "%", "\u2028"),
    ]
)


@settings(max_examples=300)
@given(st.lists(PIECES, max_size=60).map("".join))
def test_whatever_is_written_gives_a_small_tree_or_a_problem(text: str) -> None:
    document, problems = read_yaml(text, "plan.yaml")
    assert (document is None) <= bool(problems)
    if document is not None:
        nodes, levels = size_of(document.tree)
        assert nodes <= MOST_NODES
        assert levels <= MOST_DEPTH
    for problem in problems:
        assert 0 <= problem.line <= text.count("\n") + text.count("\u2028") + 2


@given(st.binary(max_size=200))
def test_any_bytes_give_a_tree_or_a_problem(source: bytes) -> None:
    document, problems = read_yaml(source, "plan.yaml")
    assert (document is None) <= bool(problems)
