"""The index of the records: what the store holds is made here, from the journals and from nothing else.

Invariant: whatever the store held before, it holds afterwards what the journals say, and the journals are only read.
"""

from floorclock.store.indexing.from_journal import class_rows
from floorclock.store.indexing.keeping import Indexed, Progress, bring_up_to_date, home_mark
from floorclock.store.indexing.rebuilding import rebuild

__all__ = ["Indexed", "Progress", "bring_up_to_date", "class_rows", "home_mark", "rebuild"]
