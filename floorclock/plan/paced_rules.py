"""What must fit together in a part to a beat or with a shuttle ladder.

Invariant: as in `rules`, works on any tree, and passes over what cannot be read.
"""

from __future__ import annotations

from fractions import Fraction

from floorclock.errors import Problem
from floorclock.plan.durations import parse_duration_ms
from floorclock.plan.quantities import parse_beat, parse_count, parse_length_mm, parse_speed_kmh, shuttles_nearest
from floorclock.plan.rule_base import MOST_INTERVALS, Mapped, PartRules, mappings, readable, whole_number

MOST_BEATS = 20_000
_SHORT_FORM = ("start", "step", "stage", "count")


class PacedRules(PartRules):
    """The rules of one `paced` part."""

    def problems(self) -> list[Problem]:
        """Everything in the part that does not fit."""
        if "beat" in self.part and "shuttle" in self.part:
            self.say(("shuttle",), "a part has a `beat` or a `shuttle`, not both", "take one out", at_key=True)
        elif "shuttle" in self.part:
            for key in ("time", "beats_per_rep"):
                if key in self.part:
                    self.say((key,), f"`{key}` means nothing with a `shuttle`", "take it out", at_key=True)
            self._shuttle()
        elif "beat" not in self.part:
            self.say((), "the pace is missing", "write beat: 96 per minute and time: 3:00, or shuttle: and its stages")
        else:
            self._beats()
        return self.found

    def _beats(self) -> None:
        beat, time = readable(self.part, "beat", parse_beat), self.duration("time")
        if "time" not in self.part:
            self.say((), "`time` is missing", "write time: 3:00")
        elif beat and time and beat * time / 60_000 > MOST_BEATS:
            self.say(("time",), f"{int(beat * time / 60_000):,} beats are too many", f"at most {MOST_BEATS:,} in a part")

    def _shuttle(self) -> None:
        shuttle = self.part.get("shuttle")
        if not isinstance(shuttle, dict):
            return
        used = [key for key in _SHORT_FORM if key in shuttle]
        if "stages" in shuttle and used:
            message = f"`stages` are written out, so `{used[0]}` means nothing"
            self.say(("shuttle", used[0]), message, "keep one of the two forms", at_key=True)
        elif "stages" not in shuttle:
            for key in _SHORT_FORM:
                if key not in shuttle and used:
                    self.say(("shuttle",), f"`{key}` is missing", "the short form has start, step, stage and count")
            if not used:
                self.say(("shuttle",), "the stages are missing", "write stages:, or start, step, stage and count")
        self._speeds(shuttle)
        self._not_too_many(sum(whole_number(stage, "shuttles") or 0 for _, stage in mappings(shuttle, "stages")), "stages")

    def _speeds(self, shuttle: Mapped) -> None:
        start, step = (readable(shuttle, key, lambda text: parse_speed_kmh(text, Fraction(0))) for key in ("start", "step"))
        many, stage = (
            readable(shuttle, "count", lambda text: parse_count(text, 1, 100)),
            readable(shuttle, "stage", parse_duration_ms),
        )
        if start is None or step is None or not many:
            return
        fastest = start + step * (many - 1)
        if fastest > 50:
            self.say(("shuttle", "count"), f"the last stage would be at {float(fastest):g} km/h", "at most 50 km/h")
        distance = readable(shuttle, "distance", parse_length_mm)
        if distance and stage:
            speeds = [start + step * number for number in range(many)]
            self._not_too_many(sum(shuttles_nearest(distance / 1000, speed, stage) for speed in speeds), "count")

    def _not_too_many(self, shuttles: int, key: str) -> None:
        if shuttles > MOST_INTERVALS:
            self.say(("shuttle", key), f"{shuttles:,} shuttles are too many", f"at most {MOST_INTERVALS:,} in a part")
