"""Carries the records out of the data folder and back: exports, imports, backups.

Invariant: what goes out and comes back is the same to the byte, and nothing that comes in is ever put over something else.
"""

from floorclock.transfer.backup import BackedUp, back_up
from floorclock.transfer.export import Exported, export
from floorclock.transfer.restore import Restored, restore
from floorclock.transfer.taking_in import TakenIn, take_in

__all__ = ["BackedUp", "Exported", "Restored", "TakenIn", "back_up", "export", "restore", "take_in"]
