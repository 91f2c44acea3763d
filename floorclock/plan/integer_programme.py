"""Whole numbers that keep every row and make a sum as small as it can be, by HiGHS.

Invariant: an answer keeps every row, counted again here in whole numbers. HiGHS is loaded when a programme is first solved, and
never gets a start (with one, 1.16 has handed the start back as the answer).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING

from floorclock.errors import FloorclockError

if TYPE_CHECKING:
    from highspy._core import _Highs

Terms = Mapping[int, int]
"""Column: coefficient."""
OPTIONS: Mapping[str, bool | int | float] = {
    **{"output_flag": False, "threads": 1, "random_seed": 0, "mip_rel_gap": 0.0, "mip_abs_gap": 0.999},
    **dict.fromkeys(("mip_heuristic_run_feasibility_jump", "mip_detect_symmetry", "mip_allow_restart"), False),
}
"""Sums of whole numbers: less than one from the bound is the best. What is off made programmes of a class a third slower."""
LIMIT_S = 2.0
LEAST_S = 0.05
"""What a solve gets where nothing is left, so that something easy is found all the same."""


class SolveStatus(Enum):
    """How a solve ended: the best there is; something good, or nothing yet, when the time was up; no answer exists."""

    BEST = "best"
    FOUND = "found"
    NOT_FOUND = "not found"
    IMPOSSIBLE = "impossible"


class WrongAnswer(FloorclockError):
    """What the solver found does not keep the rows: a defect of the solver, never an answer."""

    exit_status = 3


@dataclass(slots=True)
class Budget:
    """The seconds that several solves share."""

    left_s: float = LIMIT_S


@dataclass
class Programme:
    """Columns between two bounds, and rows over them. `values` is the last answer, by column."""

    bounds: list[tuple[int, int]] = field(default_factory=list)
    rows: list[tuple[Terms, int | None, int | None]] = field(default_factory=list)
    values: list[int] = field(default_factory=list)

    def column(self, low: int, high: int) -> int:
        """A new whole number."""
        self.bounds.append((low, high))
        return len(self.bounds) - 1

    def row(self, terms: Terms, low: int | None = None, high: int | None = None) -> None:
        """The sum of the terms lies between `low` and `high`; None for no bound."""
        self.rows.append((terms, low, high))

    def in_order(self, costs: Sequence[tuple[Terms, int]], budget: Budget) -> SolveStatus:
        """Makes the first sum as small as it can be, then the next with the first held, and so on.

        Args:
            costs: each sum with a value that it cannot go below; where it is there already, nothing is solved.
            budget: the time for all of them.
        """
        best = True
        for terms, floor in costs:
            if not self.values or _sum(terms, self.values) > floor:
                status = self.minimise(terms, budget)
                if not self.values:
                    return status
                # Whatever this solve came to, the answer before it is one.
                best = best and status is SolveStatus.BEST
            self.row(terms, None, _sum(terms, self.values))
        return SolveStatus.BEST if best else SolveStatus.FOUND

    def minimise(self, cost: Terms, budget: Budget) -> SolveStatus:
        """One sum. Where the time is up before anything was found, the last answer stays.

        Raises:
            WrongAnswer: what was found is none.
        """
        import highspy

        solver = self._solver(cost, max(LEAST_S, budget.left_s))
        solver.run()
        budget.left_s -= solver.getRunTime()
        status, known = solver.getModelStatus(), highspy.HighsModelStatus
        if status in (known.kInfeasible, known.kUnboundedOrInfeasible):
            return SolveStatus.IMPOSSIBLE
        if status != known.kOptimal and solver.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return SolveStatus.NOT_FOUND
        found = [round(value) for value in solver.getSolution().col_value]
        self._count_again(found, cost, solver.getInfo().objective_function_value)
        if status == known.kOptimal or not self.values or _sum(cost, found) < _sum(cost, self.values):
            self.values = found
        return SolveStatus.BEST if status == known.kOptimal else SolveStatus.FOUND

    def _solver(self, cost: Terms, seconds: float) -> _Highs:
        import highspy
        from highspy._core import _Highs

        # The bare solver: the class around it prints a banner to the standard output.
        solver = _Highs()
        for name, value in {**OPTIONS, "time_limit": seconds}.items():
            solver.setOptionValue(name, value)
        model, endless = highspy.HighsLp(), highspy.kHighsInf
        model.num_col_, model.num_row_ = len(self.bounds), len(self.rows)
        model.col_cost_ = [cost.get(column, 0) for column in range(len(self.bounds))]
        model.col_lower_, model.col_upper_ = [low for low, _ in self.bounds], [high for _, high in self.bounds]
        model.row_lower_ = [-endless if low is None else low for _, low, _ in self.rows]
        model.row_upper_ = [endless if high is None else high for _, _, high in self.rows]
        starts = [0]
        for terms, _, _ in self.rows:
            starts.append(starts[-1] + len(terms))
        matrix = model.a_matrix_
        matrix.format_, matrix.start_ = highspy.MatrixFormat.kRowwise, starts
        matrix.index_ = [column for terms, _, _ in self.rows for column in terms]
        matrix.value_ = [many for terms, _, _ in self.rows for many in terms.values()]
        model.integrality_ = [highspy.HighsVarType.kInteger] * len(self.bounds)
        solver.passModel(model)
        return solver

    def _count_again(self, found: Sequence[int], cost: Terms, said: float) -> None:
        kept = all(low <= value <= high for value, (low, high) in zip(found, self.bounds, strict=True))
        for terms, low, high in self.rows if kept else ():
            total = _sum(terms, found)
            kept = kept and (low is None or low <= total) and (high is None or total <= high)
        if not kept or abs(_sum(cost, found) - said) > 0.5:
            raise WrongAnswer("the solver's answer does not add up; nothing was changed")


def _sum(terms: Terms, values: Sequence[int]) -> int:
    """What terms come to, with these values by column."""
    return sum(many * values[column] for column, many in terms.items())
