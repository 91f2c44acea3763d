"""Targets, distances, speeds, beats, counts and flags, from the text as written.

Invariant: amounts are exact fractions, and everything has an upper bound, so a huge number is a problem and never a hang.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from floorclock.plan.durations import LONGEST_TEXT, UnreadableError, duration_words, parse_duration_ms, shown
from floorclock.plan.work import Load, LoadUnit, Target, Unit

_NUMBER = re.compile(r"(?P<sign>[+-]?)(?P<number>[0-9]{1,12}(?:\.[0-9]{1,6})?)\s*(?P<unit>[a-z/ ]*)")
_TARGET_UNITS: dict[str, tuple[Unit, int]] = {
    **dict.fromkeys(("", "rep", "reps", "times"), (Unit.REPS, 1)),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), (Unit.METRES, 1)),
    "km": (Unit.METRES, 1000),
    **dict.fromkeys(("cal", "cals", "calorie", "calories"), (Unit.CALORIES, 1)),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), (Unit.SECONDS, 1)),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), (Unit.SECONDS, 60)),
}
MOST: dict[Unit, int] = {Unit.REPS: 100_000, Unit.METRES: 100_000, Unit.CALORIES: 10_000, Unit.SECONDS: 86_400}
_WORDS: dict[Unit, str] = {Unit.REPS: "reps", Unit.METRES: "metres", Unit.CALORIES: "calories", Unit.SECONDS: "seconds"}
_LENGTH_MM = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "km": Fraction(1_000_000), "in": Fraction(254, 10)}
LEAST_CONFIDENCE, MOST_CONFIDENCE = 50, 99
"""Advice that fails every second time is none, and nobody can be surer than 99 in 100 of a round to come."""
_FLAGS = {"true": True, "yes": True, "on": True, "false": False, "no": False, "off": False}
_TARGET_HINT = "write it like 14 reps, 200 m, 12 cal or 0:40"
_MOST_LOAD = {LoadUnit.PERCENT: 150, LoadUnit.KG: 1_000, LoadUnit.LB: 2_200}
_EACH_SIDE = " each side"
_ROUND_BY_ROUND = re.compile(r"(?P<amounts>[0-9]{1,5}(?:-[0-9]{1,5}){1,19}) ?(?P<unit>[a-z]*)")
_LOAD = re.compile(r"(?P<number>[0-9]{1,4}(?:\.[0-9]{1,3})?) *(?P<unit>kgs?|lbs?|%)")


def _number(text: str, kind: str, hint: str) -> tuple[Fraction, str]:
    tidy = text.strip().lower()
    found = _NUMBER.fullmatch(tidy) if len(tidy) <= LONGEST_TEXT else None
    if found is None:
        raise UnreadableError(f"{shown(text)} is no {kind}", hint)
    amount = Fraction(found["number"])
    return (-amount if found["sign"] == "-" else amount), found["unit"].strip()


def _within(value: Fraction, low: int | Fraction, high: int | Fraction, text: str, unit: str = "") -> Fraction:
    if not low <= value <= high:
        side = f"at least {float(low):g}" if value < low else f"at most {float(high):,.15g}"
        raise UnreadableError(f"{shown(text)} is out of bounds", f"{side}{unit}")
    return value


def parse_target(text: str) -> Target:
    """A target: `14 reps`, `14`, `200 m`, `0.4 km`, `12 cal`, `0:40`, `40 s`.

    Besides: `21-15-9 reps` round by round, `10 reps each side`, `8 to 10 cal`, `max reps`, `max reps in 0:40`.

    Raises:
        UnreadableError: not a target, not above zero, or more than anybody does.
    """
    tidy = " ".join(text.lower().split())
    if tidy == "max" or tidy.startswith("max "):
        return _most(tidy.removeprefix("max").strip(), text)
    if tidy.endswith(_EACH_SIDE):
        one_side = parse_target(tidy.removesuffix(_EACH_SIDE))
        if one_side.amounts or one_side.upper is not None:
            raise UnreadableError(f"{shown(text)} is no target: each side goes with one amount", "write 10 reps each side")
        return replace(one_side, amount=2 * one_side.amount, each_side=True)
    low, between, high = tidy.partition(" to ")
    if between:
        return _range(low, high, text)
    listed = _ROUND_BY_ROUND.fullmatch(tidy) if len(tidy) <= LONGEST_TEXT else None
    if listed is not None:
        rounds = [parse_target(f"{amount} {listed['unit']}") for amount in listed["amounts"].split("-")]
        return replace(rounds[0], amounts=tuple(target.amount for target in rounds))
    amount, unit = _amount(text, "target", _TARGET_HINT)
    if unit in (None, Unit.REPS) and amount.denominator != 1:
        raise UnreadableError(f"{shown(text)} is no target: a rep is whole", _TARGET_HINT)
    return Target(amount, unit or Unit.REPS)


def _most(rest: str, text: str) -> Target:
    """`reps`, or `cal in 0:40`."""
    word, inside, time = rest.partition(" in ")
    if word not in _TARGET_UNITS or not word:
        raise UnreadableError(f"{shown(text)} is no target", "write it like max reps, or max cal in 0:40")
    return Target(Fraction(0), _TARGET_UNITS[word][0], most=True, within_ms=parse_duration_ms(time) if inside else None)


def _range(low: str, high: str, text: str) -> Target:
    """The athlete's choice between two amounts; the unit may stand behind the second only."""
    upper = parse_target(high)
    lower = parse_target(low if not low.replace(".", "").isdigit() else f"{low} {high.partition(' ')[2]}")
    if lower.unit is not upper.unit or lower.amount >= upper.amount:
        raise UnreadableError(f"{shown(text)} is no target: the first amount is the smaller", "write it like 8 to 10 cal")
    return replace(lower, upper=upper.amount)


def parse_load(text: str) -> Load:
    """A load: `24 kg`, `53 lb`, or `70 %` of the athlete's best.

    Raises:
        UnreadableError: no load, or more than anybody moves.
    """
    hint = "write it like 24 kg, 53 lb or 70 %"
    found = _LOAD.fullmatch(text.strip().lower()) if len(text) <= LONGEST_TEXT else None
    if found is None:
        raise UnreadableError(f"{shown(text)} is no load", hint)
    unit = LoadUnit(found["unit"].removesuffix("s"))
    amount = Fraction(found["number"])
    if amount <= 0:
        raise UnreadableError(f"{shown(text)} is no load: there is nothing to move", hint)
    return Load(_within(amount, 0, _MOST_LOAD[unit], text, f" {unit}"), unit)


def parse_weight(text: str) -> Load:
    """A load in kg or lb: a percentage of something is none here."""
    load = parse_load(text)
    if load.unit is LoadUnit.PERCENT:
        raise UnreadableError(f"{shown(text)} is no weight", "write it like 100 kg or 225 lb")
    return load


def parse_least(text: str) -> tuple[Fraction, Unit | None]:
    """The smallest amount of some work and its unit, None where none is written: `6`, `6 reps`, `150 m`, `0:20`.

    Raises:
        UnreadableError: as for a target.
    """
    hint = "write it like 6 reps, 150 m, 8 cal or 0:20"
    amount, unit = _amount(text, "amount", hint)
    if unit is Unit.REPS and amount.denominator != 1:
        raise UnreadableError(f"{shown(text)} is no amount: a rep is whole", hint)
    return amount, unit


def _amount(text: str, kind: str, hint: str) -> tuple[Fraction, Unit | None]:
    """How much of what, above zero; the unit is None where none is written."""
    if ":" in text:
        amount, unit, word = Fraction(parse_duration_ms(text), 1000), Unit.SECONDS, ":"
    else:
        number, word = _number(text, kind, hint)
        if word not in _TARGET_UNITS:
            raise UnreadableError(f"{shown(text)} is no {kind}", hint)
        unit, factor = _TARGET_UNITS[word]
        amount = number * factor
    if amount <= 0:
        raise UnreadableError(f"{shown(text)} is no {kind}: there is nothing to do", hint)
    return _within(amount, 0, MOST[unit], text, f" {_WORDS[unit]}"), unit if word else None


def parse_step(text: str) -> tuple[Fraction, Unit | None]:
    """The step of a ladder and its unit, None where none is written: `1`, `-1`, `+5 m`, `0:05`."""
    hint = "write it like 1, -1 or 5 m"
    if ":" in text:
        sign = -1 if text.strip().startswith("-") else 1
        return sign * Fraction(parse_duration_ms(text.strip().lstrip("+-")), 1000), Unit.SECONDS
    number, word = _number(text, "step", hint)
    if word not in _TARGET_UNITS:
        raise UnreadableError(f"{shown(text)} is no step", hint)
    unit, factor = _TARGET_UNITS[word]
    step = number * factor
    _within(abs(step), 0, MOST[unit], text)
    return step, unit if word else None


def parse_count(text: str, low: int = 0, high: int = 10_000, kind: str = "number") -> int:
    """A whole number from `low` to `high`, in plain digits: `017` is 17."""
    number, word = _number(text, f"whole {kind}", f"write it like {max(low, 5)}")
    if word or number.denominator != 1 or "." in text:
        raise UnreadableError(f"{shown(text)} is no whole {kind}", f"write it like {max(low, 5)}")
    return int(_within(number, low, high, text))


def parse_percent(text: str, low: int, high: int) -> int:
    """A whole number of percent from `low` to `high`: `90 %`, `90%`, or `90`, which means the same."""
    try:
        return parse_count(text.strip().removesuffix("%"), low, high, "percentage")
    except UnreadableError as error:
        whole = error.message.endswith("out of bounds")
        hint = f"{error.hint} %" if whole else "write it like 90 %"
        raise UnreadableError(f"{shown(text)} {'is out of bounds' if whole else 'is no whole percentage'}", hint) from None


def parse_flag(text: str) -> bool:
    """True for `true`, `yes`, `on`; false for `false`, `no`, `off`."""
    flag = _FLAGS.get(text.strip().lower()) if len(text) <= LONGEST_TEXT else None
    if flag is None:
        raise UnreadableError(f"{shown(text)} is neither true nor false", "write true or false")
    return flag


def parse_length_mm(text: str, low: int = 1, high: int = 1_000_000, hint: str = "write it like 1.40 m") -> Fraction:
    """A length in millimetres: `1.40 m`, `140 cm`, `55 in`, `0.4 km`. A unit is needed."""
    number, unit = _number(text, "length", hint)
    if unit not in _LENGTH_MM:
        raise UnreadableError(f"{shown(text)} is no length", hint)
    mm = number * _LENGTH_MM[unit]
    if not low <= mm <= high:
        raise UnreadableError(f"{shown(text)} is out of bounds", f"from {low / 1000:g} m to {high / 1000:g} m")
    return mm


def parse_speed_kmh(text: str, low: Fraction = Fraction(1, 2), high: Fraction = Fraction(50)) -> Fraction:
    """A speed in km/h, exact: `8.5 km/h` (or `8.5`, which means the same)."""
    number, unit = _number(text, "speed", "write it like 8.5 km/h")
    if unit not in ("", "km/h", "kmh", "kph"):
        raise UnreadableError(f"{shown(text)} is no speed", "write it like 8.5 km/h")
    return _within(number, low, high, text, " km/h")


def parse_beat(text: str) -> Fraction:
    """Beats per minute, exact: `96 per minute` (or `96`, `96/min`)."""
    number, unit = _number(text, "beat", "write it like 96 per minute")
    if unit not in ("", "per minute", "/min", "per min", "a minute", "bpm"):
        raise UnreadableError(f"{shown(text)} is no beat", "write it like 96 per minute")
    return _within(number, 1, 400, text, " per minute")


def bounded_duration_ms(text: str, low_ms: int, high_ms: int) -> int:
    """A duration from `low_ms` to `high_ms`."""
    duration = parse_duration_ms(text)
    if duration < low_ms:
        raise UnreadableError(f"{shown(text)} is too short", f"at least {duration_words(low_ms)}")
    if duration > high_ms:
        raise UnreadableError(f"{shown(text)} is too long", f"at most {duration_words(high_ms)}")
    return duration


def parse_team_size(text: str) -> int:
    """`pairs`, or `teams of 3`."""
    tidy = " ".join(text.lower().split())
    if tidy == "pairs":
        return 2
    if tidy.startswith("teams of "):
        return parse_count(tidy.removeprefix("teams of "), 2, 20)
    raise UnreadableError(f"{shown(text)} is no team", "write pairs, or teams of 3")


def shuttles_nearest(distance_m: Fraction, speed_kmh: Fraction, stage_ms: int) -> int:
    """The whole number of shuttles whose time is nearest to `stage_ms`: halves go up, and there is always one."""
    exact = speed_kmh * stage_ms / (3600 * distance_m)
    return max(1, int(exact + Fraction(1, 2)))
