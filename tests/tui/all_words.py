"""Every sentence that the screens say, file by file, to be read in one sitting with a coach's ear.

python -m tests.tui.all_words
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import floorclock

ROOMS = ("tui", "digest", "pace")


def sentences(source: str) -> Iterator[tuple[int, str]]:
    """(line, words) of each text of more than a word in some code, in order; what is put in at run time is `{}`."""
    tree = ast.parse(source)
    inside = {part for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    notes = {node.value for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            found.append(
                (node.lineno, "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values))
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in inside | notes:
            found.append((node.lineno, node.value))
    yield from ((line, words) for line, words in sorted(found) if " " in words.strip() and "\n" not in words)


def main() -> None:
    """Prints them."""
    home = Path(floorclock.__file__).parent
    for path in sorted(path for room in ROOMS for path in (home / room).rglob("*.py")):
        for line, words in sentences(path.read_text(encoding="utf-8")):
            print(f"{path.relative_to(home)}:{line}  {words}")


if __name__ == "__main__":
    main()
