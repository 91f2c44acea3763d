"""Many splits to come at once: how the logarithm of the seconds of each is spread.

Invariant: each depends on its own athlete and slot alone, whatever is asked beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from floorclock.clock.splits import Coming
from floorclock.pace.model.constants import LEAST_NOISE, UNSURE_OF_AMOUNT, Model
from floorclock.pace.model.kinds import longer
from floorclock.pace.model.personal import Personal
from floorclock.pace.model.posterior import OF_CLASS
from floorclock.pace.model.spread import reaches, t_nodes, unders

Asked = tuple[int, int, Coming, float, float]
"""(place of the athlete among the persons, kind of work, slot, usual amount of that work, amount they did last)."""
Numbers = tuple[float, float, float, float, float]
"""(centre, variance, scale of chance, how far above the centre the upper end is, chance that the rest is tight)."""


def numbers_of(persons: Sequence[Personal], asked: Sequence[Asked], share: float, model: Model) -> Iterator[Numbers]:
    """The numbers of each slot; `share` is that of the cases up to the upper end."""
    who, kinds, slots, usual, done = zip(*asked, strict=True)
    first = np.cumsum([0, *(len(one.means) for one in persons)])[np.array(who)] + np.array(kinds)
    level, drift, settling = np.concatenate([one.means for one in persons])[first].T
    cov = np.concatenate([one.covs for one in persons])[first].reshape(-1, OF_CLASS * OF_CLASS).T
    by_person = np.array([(max(1.0, one.last_round), one.step_variance, one.noise_sd) for one in persons])
    last, step, noise = by_person[np.array(who)].T
    number = np.array([slot.round for slot in slots], dtype=np.float64)
    amount = np.array([slot.amount.numerator / slot.amount.denominator for slot in slots])
    x = number - 1
    s = 0.5**x
    variance = cov[0] + cov[4] * x * x + cov[8] * s * s + 2 * (cov[1] * x + cov[2] * s + cov[5] * x * s)
    most, before = np.array(usual), np.array(done)
    variance = np.maximum(0.0, variance) + step * np.maximum(0.0, number - last)
    variance += (UNSURE_OF_AMOUNT * np.log(longer(amount, before, most))) ** 2
    centre = level + drift * x + settling * s + np.log(longer(amount, most, most))
    scale = np.maximum(LEAST_NOISE, noise)
    nodes = t_nodes(model.freedom)
    wide = reaches(variance, scale, nodes, share)
    room = np.array([slot.window_ms - slot.margin_ms for slot in slots], dtype=np.float64)
    off = np.log(np.maximum(room, 1.0) / 1000) - centre
    tight = np.where(room > 0, 1 - unders(off, variance, scale, nodes), 1.0)
    return zip(centre.tolist(), variance.tolist(), scale.tolist(), wide.tolist(), tight.tolist(), strict=True)
