"""Where the shipped sessions and sounds are: inside an installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent
DEMO_SESSION = "harbour.yaml"
DEMO_ROSTER = "harbour-roster.yaml"
DEMO_SEED = 9


def folder(kind: str) -> Path:
    """The folder of shipped `sessions` or `sounds`."""
    installed = _PACKAGE / "shipped" / kind
    return installed if installed.is_dir() else _PACKAGE.parent / kind
