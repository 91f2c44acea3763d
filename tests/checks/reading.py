"""Published values beside the tests: CSV files whose `# ` lines name the source and say how each value is known."""

from __future__ import annotations

import csv
from pathlib import Path

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a file in this folder, by column name, without its `# ` lines."""
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("# ")))
