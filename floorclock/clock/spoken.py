"""Amounts as they are spoken."""

from __future__ import annotations

from floorclock.plan.work import Target, Unit

SPOKEN = {Unit.REPS: "", Unit.METRES: "metres", Unit.CALORIES: "calories", Unit.SECONDS: "seconds"}


def amount_spoken(target: Target, round_number: int) -> str:
    """`10`, `200 metres`, `40 seconds`: what a voice says of a target in a round."""
    amount = target.in_round(round_number)
    number = str(amount.numerator) if amount.denominator == 1 else f"{float(amount):g}"
    return f"{number} {SPOKEN[target.unit]}".strip()
