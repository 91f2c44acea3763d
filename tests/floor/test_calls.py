"""Who is called: at most three, calm, in words with what would help; chances after them; nobody who was made quiet."""

from __future__ import annotations

from collections.abc import Mapping

from floorclock.clock.state import ClassState
from floorclock.floor.calls import Calls
from floorclock.floor.outlooks import Outlooks
from floorclock.floor.part_looks import NOTHING_KNOWN, Look
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag, Standing
from floorclock.pace.pacing import Outlook
from floorclock.plan.roster import Athlete
from tests.clock.classes import begun, harbour
from tests.floor.fake_pacing import advice, needs

NAMES = ("Ilka", "Bram", "Noor", "Sefa", "Odd")


class Said(Outlooks):
    """Outlooks that say what they are told to."""

    def __init__(self, state: ClassState) -> None:
        super().__init__(state)
        self.looks: dict[str, Look] = {}

    def of(self, name: str) -> Look:
        return self.looks.get(name, NOTHING_KNOWN)

    def say(self, looks: Mapping[str, Outlook], *, new_fit: bool = False) -> None:
        """From now on."""
        self.looks = {name: Look(outlook.standing, outlook) for name, outlook in looks.items()}
        self.number, self.fits = self.number + 1, self.fits + new_fit


def called() -> tuple[ClassState, Said, Calls]:
    """Five people, and their calls."""
    people = [Athlete(name=name, key=name[0].lower()) for name in NAMES]
    state = begun(harbour(), athletes=people, count_in_ms=0)
    said = Said(state)
    return state, said, Calls(state, said)


def names(calls: Calls, selected: str = "") -> list[str]:
    calls.make(selected)
    return [call.athlete for call in calls.now]


def test_at_most_three_are_called_the_worst_flag_first() -> None:
    _, said, calls = called()
    flags = {"Ilka": Flag.FADING, "Bram": Flag.TIGHT, "Noor": Flag.RUNS_OUT, "Sefa": Flag.TIGHT, "Odd": Flag.NOT_FINISHED}
    said.say({name: needs(name, flag) for name, flag in flags.items()}, new_fit=True)
    assert names(calls) == ["Odd", "Noor", "Bram"]


def test_a_new_call_takes_a_free_place_and_moves_nobody_until_the_class_is_fitted_anew() -> None:
    _, said, calls = called()
    said.say({"Ilka": needs("Ilka", Flag.FADING)}, new_fit=True)
    assert names(calls) == ["Ilka"]
    both = {"Ilka": needs("Ilka", Flag.FADING), "Bram": needs("Bram", Flag.NOT_FINISHED)}
    said.say(both)
    assert names(calls) == ["Ilka", "Bram"]
    said.say(both, new_fit=True)
    assert names(calls) == ["Bram", "Ilka"]


def test_who_needs_nobody_any_more_makes_room_and_the_others_keep_their_order() -> None:
    _, said, calls = called()
    everybody = {name: needs(name) for name in NAMES}
    said.say(everybody, new_fit=True)
    assert names(calls) == ["Ilka", "Bram", "Noor"]
    said.say({name: one for name, one in everybody.items() if name != "Ilka"})
    assert names(calls) == ["Bram", "Noor", "Sefa"]


def test_the_key_gives_the_first_advice_there_is_and_the_hint_says_which() -> None:
    _, said, calls = called()
    without = Outlook(standing=Standing(Flag.NOT_FINISHED, "round 2 at kettlebell swing", 0, (Flag.NOT_FINISHED,)))
    said.say({"Ilka": without, "Bram": needs("Bram")}, new_fit=True)
    views = calls.make("")
    assert [view.hint for view in views] == ["", "give 8"]
    assert views[0].words == "Ilka not finished: round 2 at kettlebell swing"
    assert views[1].words == "Bram tight: rest 12 s at kettlebell swing; Bram. 8 reps would hold"
    assert views[1].short == "Bram tight at kettlebell swing. 8 reps would hold"
    assert calls.first is not None
    assert calls.first.athlete == "Bram"


def test_an_advice_for_another_move_than_the_flag_names_it() -> None:
    _, said, calls = called()
    said.say({"Ilka": needs("Ilka", Flag.TIGHT, advice("Ilka", 6, station=1, move="step-up"))}, new_fit=True)
    assert calls.make("")[0].words.endswith(". step-up: 8 reps would hold".replace("8", "6"))


def test_who_is_quiet_is_never_called() -> None:
    state, said, calls = called()
    said.say({"Ilka": needs("Ilka"), "Bram": needs("Bram")}, new_fit=True)
    state.quiet.add("Ilka")
    assert names(calls) == ["Bram"]


def test_one_chance_at_a_time_after_the_calls_and_none_while_three_need_help() -> None:
    _, said, calls = called()
    spare = {name: Outlook(advice=(advice(name, 16, way=Way.MORE),)) for name in ("Sefa", "Odd")}
    said.say({"Ilka": needs("Ilka"), **spare}, new_fit=True)
    views = calls.make("")
    assert [(call.athlete, call.chance) for call in calls.now] == [("Ilka", False), ("Sefa", True)]
    assert views[1].kind == "chance"
    assert views[1].words == "Sefa has rest to spare at kettlebell swing: rest 34, 33 s. 16 reps would hold"
    said.say({name: needs(name) for name in NAMES[:3]} | spare)
    assert names(calls) == ["Ilka", "Bram", "Noor"]


def test_the_chosen_athlete_is_among_the_calls_and_theirs_is_what_the_key_gives() -> None:
    _, said, calls = called()
    said.say({name: needs(name) for name in NAMES}, new_fit=True)
    assert names(calls, "Odd") == ["Ilka", "Bram", "Odd"]
    assert calls.first is not None
    assert calls.first.athlete == "Odd"
    assert names(calls) == ["Ilka", "Bram", "Noor"]


def test_a_chosen_athlete_without_advice_leaves_the_key_nothing_to_give() -> None:
    _, said, calls = called()
    said.say({"Ilka": needs("Ilka")}, new_fit=True)
    assert all(not view.hint for view in calls.make("Odd"))
    assert calls.first is None
