"""Carries the records out of the data folder and back: paper in, tables out, backup and restore.

Invariant: a backup brings back what went in to the byte, and nothing that comes in is ever put over something else.
"""

from floorclock.transfer.backup import back_up
from floorclock.transfer.export import export
from floorclock.transfer.restore import restore

__all__ = ["back_up", "export", "restore"]
