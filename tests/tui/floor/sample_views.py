"""Invented views of the floor, for the tests."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from floorclock.tui.base.palette import Mood
from floorclock.tui.floor.view import (
    BarView,
    BriefView,
    CallLine,
    ClockView,
    CoachView,
    Flag,
    FloorView,
    HeadView,
    LanesView,
    LaneView,
    PersonView,
    RestBar,
    RowView,
)
from tests.odd_names import ODD_NAMES

NAMES = (
    "Ilka", "Bram", "Noor", "Sefa", "Odd", "Runa", "Teo", "Wim", "Aino", "Bela", "Cosmin", "Dagny", "Esko", "Fenna",
    "Gitte", "Hedda", "Ines", "Jorun", "Kalle", "Liv", "Mats", "Nils", "Oona", "Pelle", "Quirin", "Rasmus", "Saga", "Tove",
    "Ulla", "Veikko", "Ylva", "Zora", "Arvo", "Berit", "Ciril", "Detta", "Eskil", "Freya", "Gunn", "Hauk",
)  # fmt: skip

KEYS = "abcdefghijklmnopqrstuvwxyz0123456789ABCDEFGH"

WORDS: dict[Mood, tuple[str, str, str]] = {
    "ready": ("GET READY", "0:00", "press Enter to begin"),
    "count": ("COUNT-IN", "0:07", "until work"),
    "work": ("WORK", "0:27", "left in this minute"),
    "margin": ("WORK", "0:07", "this minute"),
    "rest": ("REST", "0:08", "until the next set"),
    "paused": ("PAUSED", "0:27", "left in this minute"),
    "open": ("OPEN", "11:42", "so far, of 12:00"),
    "over": ("OVER", "42:10", "class time"),
}


def past_of(at: int) -> tuple[RestBar, ...]:
    """Five rounds that shrink for some, hold for others."""
    drift = (0.0, -0.03, -0.07, 0.01, -0.1)[at % 5]
    rests = [max(0.0, 0.52 - 0.05 * (at % 3) + drift * turn) for turn in range(5)]
    bars = [RestBar(rest, under=rest < 0.25) for rest in rests]
    if at % 7 == 3:
        bars[2] = RestBar(None)
    if at % 11 == 5:
        bars[3] = RestBar(None, not_finished=True)
    return tuple(bars)


def row_of(at: int, name: str, mood: Mood) -> RowView:
    """One athlete of the sample class."""
    status: Literal["work", "done", "rest", "idle", "home"] = "work" if at % 3 == 1 else "done" if at % 3 == 0 else "rest"
    if mood != "work":
        status = "idle"
    flags: dict[int, Flag] = {3: "runs out", 4: "tight", 8: "fading", 5: "not finished", 14: "tight"}
    split = f"{30 + (at * 7) % 25}.{at % 10}"
    return RowView(
        athlete=name,
        key=KEYS[at],
        name=name,
        status=status,
        split="" if status == "work" else split,
        left="" if status == "work" else f"{60 - 30 - (at * 7) % 25} left",
        past=past_of(at),
        flag=flags.get(at, ""),
        quiet=at == 14,
    )


def lanes_of(names: tuple[str, ...]) -> LanesView:
    """Three stations with a third of the class at each."""
    third = -(-len(names) // 3)
    groups = [names[at * third : (at + 1) * third] for at in range(3)]
    own = {1: "10 lighter", 6: "8"}
    stations = (("kettlebell swing", "14"), ("box step-up", "10"), ("rest", ""))
    return LanesView(
        tuple(
            LaneView(
                move,
                target,
                tuple(
                    PersonView(name, own.get(at, "") if target else "", done=at % 3 == 0 and bool(target))
                    for at, name in enumerate(group)
                ),
                is_rest=move == "rest",
            )
            for (move, target), group in zip(stations, groups, strict=True)
        ),
        next="next: swing > step-up > rest",
    )


def single_lane(names: tuple[str, ...]) -> LanesView:
    """Everybody at one station."""
    people = tuple(PersonView(name, "200 m" if at == 2 else "", done=at % 4 == 0) for at, name in enumerate(names))
    return LanesView((LaneView("row", "250 m", people),), next="next: rest 0:10, then burpee 12")


BRIEF = BriefView(
    "The harbour",
    (
        ("heading", "Every minute on the minute, 5 rounds of 4 stations"),
        ("text", "1  kettlebell swing, 14 reps: hips and knees straight at the top"),
        ("text", "2  box step-up, 10 reps: whole foot on the box"),
        ("text", "3  plank, 0:40"),
        ("text", "4  rest"),
        ("heading", "Options"),
        ("text", "lighter: kettlebell deadlift, 14 reps"),
        ("caution", "Swing only with the space in front of you clear."),
        (
            "caution",
            "Stop on sharp pain, chest pain or dizziness. This is no medical advice; local rules and qualified staff decide.",
        ),
        ("hint", "Enter starts the part"),
    ),
)


def floor_view(
    people: int = 14, mood: Mood = "work", *, odd_names: bool = False, lane: bool = False, brief: bool = False
) -> FloorView:
    """A whole floor with `people` athletes."""
    names = ((*ODD_NAMES, *NAMES) if odd_names else NAMES)[:people]
    word, text, label = WORDS[mood]
    rows = tuple(row_of(at, name, mood) for at, name in enumerate(names))
    calls = (
        CallLine("Odd tight at kettlebell swing: rest 18 | 22, 12 s, margin 15. Drop to 12 reps?", "give 12"),
        CallLine("Sefa runs out in round 5 at step-up: rest 24, 19, 16 s, margin 15. Drop to 8 reps?"),
        CallLine("Runa has rest to spare at step-up: rest 34, 33, 33 s. Go up to 12 reps, leaving 26 s?", kind="chance"),
    )
    return FloorView(
        head=HeadView(
            "Five trips round the harbour",
            "part 2 of 3  The harbour",
            "round 3 of 5",
            "minute 11 of 20",
            "18:42",
            "rehearsal x10",
        ),
        clock=ClockView(text, label, mood, word),
        bar=BarView(0.55, 0.75, mood, "done with 15 left", "part 9:00   class 31:20 left"),
        lanes=single_lane(names) if lane else lanes_of(names),
        brief=BRIEF if brief else None,
        rows=rows,
        coach=CoachView(
            notice="Ilka 31.4, 28 left",
            calls=calls if mood == "work" else (),
            caution="Stop on sharp pain, chest pain or dizziness; local rules and qualified staff decide.",
        ),
        keys=(
            ("space", "pause"),
            ("backspace", "take back"),
            ("<- ->", "skip"),
            ("F2", "advice"),
            ("F3", "correct"),
            ("?", "all keys"),
        ),
    )


def later(view: FloorView, text: str, done: float) -> FloorView:
    """The same floor a moment later: another clock, another bar."""
    return replace(view, clock=replace(view.clock, text=text), bar=replace(view.bar, done=done))
