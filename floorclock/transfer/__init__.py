"""Carries the records out of the data folder and back: paper in, tables out, backup and restore.

Invariant: a backup brings back what went in to the byte, and nothing that comes in is ever put over something else.
"""

from floorclock.transfer.backup import BackedUp, back_up
from floorclock.transfer.export import Exported, export
from floorclock.transfer.restore import Restored, restore

__all__ = ["BackedUp", "Exported", "Restored", "back_up", "export", "restore"]
