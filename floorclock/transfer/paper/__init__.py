"""Classes that were timed on paper: the sheet is read, and recorded as a class like any other."""

from floorclock.transfer.paper.grid import blank_sheet
from floorclock.transfer.paper.reading import parse_minutes, read_intake
from floorclock.transfer.paper.recording import reckoning, record_intake
from floorclock.transfer.paper.sheet import IntakeSheet, PaperResult, PaperSplit

__all__ = [
    "IntakeSheet",
    "PaperResult",
    "PaperSplit",
    "blank_sheet",
    "parse_minutes",
    "read_intake",
    "reckoning",
    "record_intake",
]
