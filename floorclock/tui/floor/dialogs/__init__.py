"""The dialogs that open over the running floor, and the plain values they are given and answer."""

from floorclock.tui.floor.dialogs.add_latecomer import AddLatecomer, NewAthlete
from floorclock.tui.floor.dialogs.ask_margin import AskMargin
from floorclock.tui.floor.dialogs.athlete_sheet import AthleteSheet
from floorclock.tui.floor.dialogs.confirm import Confirm
from floorclock.tui.floor.dialogs.dialog import PassedKey
from floorclock.tui.floor.dialogs.help_page import HelpPage
from floorclock.tui.floor.dialogs.pick_athlete import PersonChoice, PickAthlete
from floorclock.tui.floor.dialogs.results_entry import ResultRow, ResultsEntry
from floorclock.tui.floor.dialogs.resume_question import ResumeAnswer, ResumeQuestion

__all__ = [
    "AddLatecomer",
    "AskMargin",
    "AthleteSheet",
    "Confirm",
    "HelpPage",
    "NewAthlete",
    "PassedKey",
    "PersonChoice",
    "PickAthlete",
    "ResultRow",
    "ResultsEntry",
    "ResumeAnswer",
    "ResumeQuestion",
]
