"""The dialogs that open over the running floor, and the plain values they are given and answer."""

from floorclock.floor.dialogs.add_latecomer import AddLatecomer, NewAthlete
from floorclock.floor.dialogs.ask_margin import AskMargin
from floorclock.floor.dialogs.athlete_sheet import AthleteSheet
from floorclock.floor.dialogs.confirm import Confirm
from floorclock.floor.dialogs.dialog import PassedKey
from floorclock.floor.dialogs.help_page import HelpPage
from floorclock.floor.dialogs.pick_athlete import PersonChoice, PickAthlete
from floorclock.floor.dialogs.results_entry import ResultRow, ResultsEntry
from floorclock.floor.dialogs.resume_question import ResumeAnswer, ResumeQuestion

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
