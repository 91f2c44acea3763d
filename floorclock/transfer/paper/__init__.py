"""Classes that were timed on paper: the sheet is read, and recorded as a class like any other."""

from floorclock.transfer.paper.blank import blank_sheet
from floorclock.transfer.paper.reading import IntakeSheet, PaperResult, PaperSplit, read_intake
from floorclock.transfer.paper.recording import reckoning, record_intake

__all__ = ["IntakeSheet", "PaperResult", "PaperSplit", "blank_sheet", "read_intake", "reckoning", "record_intake"]
