"""What a report prints, at a width."""

from __future__ import annotations

import io
from collections.abc import Callable

from rich.console import Console


def printed(report: Callable[[Console], None], width: int = 100) -> str:
    """The text of a report, with the same console as the commands have."""
    out = io.StringIO()
    report(Console(file=out, width=width, highlight=False, markup=False, emoji=False))
    return out.getvalue()
