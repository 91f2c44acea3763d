"""Who is called: at most three, calm, in words with what would help; chances after them; nobody who was made quiet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from floorclock.clock.state import ClassState
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag, Standing
from floorclock.pace.pacing import Outlook
from floorclock.plan.roster import Athlete
from floorclock.tui.floor.calls import Calls
from floorclock.tui.floor.outlooks import NOTHING_KNOWN, Look, Outlooks
from tests.clock.classes import begun, harbour
from tests.tui.floor.fake_pacing import advice, needs

NAMES = ("Ilka", "Bram", "Noor", "Sefa", "Odd")


class Said(Outlooks):
    """Outlooks that say what they are told to."""

    def __init__(self, state: ClassState) -> None:
        super().__init__(state)
        self.looks: dict[str, Look] = {}
        self.running = True

    @property
    def advising(self) -> bool:
        return self.running

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


def test_calls_go_by_when_the_margin_goes() -> None:
    """Not finished; tight, the least rest first; running out, the earlier round first; fading."""
    _, said, calls = called()
    found = {
        "Ilka": needs("Ilka", Flag.FADING),
        "Bram": needs("Bram", Flag.TIGHT),
        "Noor": needs("Noor", Flag.RUNS_OUT),
        "Sefa": needs("Sefa", Flag.TIGHT),
        "Odd": needs("Odd", Flag.NOT_FINISHED),
    }
    found["Sefa"] = replace(found["Sefa"], standing=replace(found["Sefa"].standing, latest_rest_ms=5_000))
    order = []
    while found:
        said.say(found, new_fit=True)
        order.append(names(calls)[0])
        del found[order[-1]]
    assert order == ["Odd", "Sefa", "Bram", "Noor", "Ilka"]


def test_of_two_as_urgent_the_one_whom_the_key_can_help_comes_first() -> None:
    _, said, calls = called()
    helpless = replace(needs("Ilka"), advice=())
    said.say({"Ilka": helpless, "Bram": needs("Bram")}, new_fit=True)
    assert names(calls) == ["Bram", "Ilka"]
    assert calls.make("")[0].hint == "give 8"


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
    missed = Standing(Flag.NOT_FINISHED, "", 0, (Flag.NOT_FINISHED,), move="kettlebell swing", round=2, margin_ms=15_000)
    without = Outlook(standing=missed)
    said.say({"Ilka": without, "Bram": needs("Bram")}, new_fit=True)
    views = calls.make("")
    assert [view.hint for view in views] == ["", "give Bram 8"]
    assert views[0].words == "Ilka not finished in round 2 at kettlebell swing"
    assert views[1].words == "Bram tight at kettlebell swing: rest 12 s, margin 15. Drop to 8 reps?"
    assert calls.first is not None
    assert calls.first.athlete == "Bram"


def test_a_line_names_one_move_and_gives_that_move() -> None:
    _, said, calls = called()
    said.say({"Ilka": needs("Ilka", Flag.TIGHT, advice("Ilka", 6, station=1, move="step-up"))}, new_fit=True)
    view = calls.make("")[0]
    assert view.words == "Ilka at step-up: rest 34, 33 s. Drop to 6 reps?"
    assert view.hint == "give 6"
    assert all("swing" not in words for words in (view.words, *view.shorter))


def test_what_helps_at_the_station_of_the_flag_is_given_before_what_helps_elsewhere() -> None:
    _, said, calls = called()
    both = (advice("Ilka", 6, station=1, move="step-up"), advice("Ilka", 8))
    said.say({"Ilka": replace(needs("Ilka"), advice=both)}, new_fit=True)
    assert calls.make("")[0].hint == "give 8"


def test_nothing_is_offered_for_a_part_that_is_over() -> None:
    _, said, calls = called()
    said.say({"Ilka": needs("Ilka")}, new_fit=True)
    said.running = False
    view = calls.make("")[0]
    assert (view.hint, calls.first) == ("", None)
    assert "Drop" not in view.words


def test_beside_the_key_the_number_goes_before_the_reasons_do() -> None:
    _, said, calls = called()
    said.say({"Ilka": needs("Ilka"), "Bram": needs("Bram")}, new_fit=True)
    first, second = calls.make("")
    at = "tight at kettlebell swing"
    assert first.shorter == (
        f"Ilka {at}: rest 12 s, margin 15", f"Ilka {at}: rest 12 s", f"Ilka {at}: 12 s", f"Ilka {at}"
    )  # fmt: skip
    holds = ". Drop to 8 reps?"
    assert second.shorter == (
        f"Bram {at}: rest 12 s{holds}", f"Bram {at}: 12 s{holds}", f"Bram {at}{holds}", f"Bram {at}"
    )  # fmt: skip


def test_a_margin_of_their_own_is_said_as_long_as_there_is_any_room() -> None:
    state, said, calls = called()
    state.athletes["Ilka"] = replace(state.athletes["Ilka"], rest_margin_ms=20_000)
    own = replace(needs("Ilka"), standing=replace(needs("Ilka").standing, rests="rest 25, 12 s", margin_ms=20_000))
    said.say({"Ilka": own}, new_fit=True)
    at = "Ilka tight at kettlebell swing"
    shorter = (f"{at}: rest 25, 12 s, margin 20", f"{at}: rest 12 s, margin 20", f"{at}, margin 20", at)
    assert calls.make("")[0].shorter == shorter


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
    assert [(call.athlete, call.is_chance) for call in calls.now] == [("Ilka", False), ("Sefa", True)]
    assert views[1].kind == "chance"
    assert views[1].words == "Sefa has rest to spare at kettlebell swing: rest 34, 33 s. Drop to 16 reps?"
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


def test_who_was_given_a_number_stands_below_those_who_were_not_until_the_next_fit() -> None:
    _, said, calls = called()
    both = {"Ilka": needs("Ilka"), "Bram": needs("Bram")}
    said.say(both, new_fit=True)
    assert names(calls) == ["Ilka", "Bram"]
    calls.was_given("Ilka")
    assert names(calls) == ["Ilka", "Bram"], "nothing new is known of her yet"
    said.say(both)
    assert names(calls) == ["Bram", "Ilka"]
    said.say(both)
    assert names(calls) == ["Bram", "Ilka"]
    said.say(both, new_fit=True)
    assert names(calls) == ["Ilka", "Bram"]


def test_whom_the_coach_has_dealt_with_is_called_last() -> None:
    _, said, calls = called()
    done = replace(needs("Ilka"), advice=(), standing=replace(needs("Ilka").standing, dealt_with=True))
    said.say({"Ilka": done, "Bram": needs("Bram", Flag.FADING)}, new_fit=True)
    assert names(calls) == ["Bram", "Ilka"]
