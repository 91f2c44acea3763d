"""Every command and option that a page shows exists, and every file that it names is there."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
import typer.main

from floorclock.cli.app import app
from tests.plan.shipped import CHECKOUT

PAGES = tuple(sorted([*CHECKOUT.glob("*.md"), *(CHECKOUT / "docs").glob("*.md")]))
_BLOCK = re.compile(r"^ *```[^\n]*\n(.*?)^ *```", re.MULTILINE | re.DOTALL)
_INLINE = re.compile(r"`((?:floorclock|make) [^`\n]+)`")
_LINK = re.compile(r"\]\((?!https?:|#|mailto:)([^)#\s]+)")


def shown(page: Path) -> Iterator[list[str]]:
    """The commands on a page, as words: lines of blocks and inline code."""
    text = page.read_text(encoding="utf-8")
    lines = [line.strip().removeprefix("$ ") for block in _BLOCK.findall(text) for line in block.splitlines()]
    for line in [*lines, *_INLINE.findall(text)]:
        for piece in re.split(r"\s*(?:&&|\||;)\s*", line.partition(" #")[0]):
            words = _words(piece)
            if words and words[0].rpartition("/")[2] in ("floorclock", "make") and len(words) > 1:
                yield [words[0].rpartition("/")[2], *words[1:]]


def _words(piece: str) -> list[str]:
    try:
        return shlex.split(piece)
    except ValueError:
        return []


def trouble(words: list[str]) -> str:
    """What is wrong with a command that a page shows; empty when it could be typed."""
    group = typer.main.get_command(app)
    options = {name for param in group.params for name in (*param.opts, *param.secondary_opts)} | {"-h", "--help"}
    if words[1].startswith("-"):
        return "" if words[1] in options else f"no option {words[1]}"
    commands = getattr(group, "commands", {})
    if words[1] not in commands:
        return f"no command {words[1]}"
    command: click.Command = commands[words[1]]
    known = {name for param in command.params for name in (*param.opts, *param.secondary_opts)} | {"-h", "--help"}
    typed = {re.split(r"[=\]\[,]", word.lstrip("["))[0] for word in words[2:] if word.lstrip("[").startswith("-")}
    missing = sorted(typed - known)
    return f"floorclock {words[1]} has no {', '.join(missing)}" if missing else ""


def targets() -> set[str]:
    """The targets of the Makefile."""
    return set(re.findall(r"^([a-z]+):", (CHECKOUT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_command_and_option_on_the_page_exists(page: Path) -> None:
    wrong = [f"{' '.join(words)}: {trouble(words)}" for words in shown(page) if words[0] == "floorclock" and trouble(words)]
    assert wrong == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_make_target_on_the_page_exists(page: Path) -> None:
    wrong = [words[1] for words in shown(page) if words[0] == "make" and words[1] not in targets()]
    assert wrong == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_file_that_the_page_links_to_is_there(page: Path) -> None:
    missing = [link for link in _LINK.findall(page.read_text(encoding="utf-8")) if not (page.parent / link).exists()]
    assert missing == []


def test_the_finder_of_commands_finds_and_judges(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text(
        "Type `floorclock demo` or\n```sh\n$ floorclock check a.yaml --json  # why\n"
        "cd x && make demo\nfloorclock run a --tempo 3\n```\n"
        "and `floorclock sing`, `floorclock --version`, `.venv/bin/floorclock`.\n",
        encoding="utf-8",
    )
    found = [" ".join(words) for words in shown(page)]
    assert found == [
        *("floorclock check a.yaml --json", "make demo", "floorclock run a --tempo 3"),
        *("floorclock demo", "floorclock sing", "floorclock --version"),
    ]
    assert [trouble(words) for words in shown(page) if words[0] == "floorclock"] == [
        "",
        "floorclock run has no --tempo",
        "",
        "no command sing",
        "",
    ]


def test_the_readme_shows_the_ways_in() -> None:
    readme = CHECKOUT / "README.md"
    commands = {" ".join(words[:2]) for words in shown(readme)}
    assert {"make demo", "make test", "floorclock check", "floorclock run", "floorclock resume", "floorclock review"} <= commands
    assert "pip install" in readme.read_text(encoding="utf-8")
