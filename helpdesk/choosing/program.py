"""Mixed-integer programmes: a builder, and the only door to the solver (HiGHS).

One thread and one seed: the same programme gives the same solution on every run. The gap is 0, so
the solver stops only when nothing better is left.
"""

import math
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import highspy
import numpy as np

from helpdesk.choosing.errors import OutOfTimeError, SolverError

SLACK = 1e-6  # what a float may differ from the whole number it stands for
INFINITY = highspy.kHighsInf
LONGEST_S = 120.0  # for one programme; without a proof it is refused, never guessed


class _QuietHighs(highspy.Highs):
    """The solver without its banner, which would stand amid what a command prints."""

    def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
        """Hear nothing while it runs; enabling this prints before output can be switched off."""
        self.setOptionValue("output_flag", False)


@dataclass(frozen=True)
class Solution:
    """Whole values of the variables, and the bound no solution can pass."""

    values: tuple[int, ...]
    bound: float


@dataclass(frozen=True)
class Relaxed:
    """The optimum when parts of a case were allowed: its worth, values and reduced costs.

    By duality, a solution that holds a variable whose value here is 0 is worth at most `worth`
    plus that variable's reduced cost, which is not above 0.
    """

    worth: float
    values: tuple[float, ...]
    reduced: tuple[float, ...]


class Program:
    """Maximise a whole-numbered sum over whole variables, each within bounds, under rows."""

    def __init__(self) -> None:
        """Start with nothing."""
        self._costs: list[int] = []
        self._uppers: list[int] = []
        self._lowers: list[int] = []
        self._rows: list[tuple[float, float]] = []
        self._starts: list[int] = [0]
        self._places: list[int] = []
        self._factors: list[float] = []

    def add_variable(self, *, cost: int = 0, most: int = 1, least: int = 0) -> int:
        """Add a whole variable and return its place."""
        self._costs.append(cost)
        self._uppers.append(most)
        self._lowers.append(least)
        return len(self._costs) - 1

    def fix(self, place: int, value: int) -> None:
        """Hold a variable at a value."""
        self._lowers[place] = self._uppers[place] = value

    def set_costs(self, costs: Mapping[int, int]) -> None:
        """Maximise another sum; variables that are not named count nothing."""
        self._costs = [costs.get(place, 0) for place in range(len(self._costs))]

    def add_row(
        self,
        terms: Iterable[tuple[int, float]],
        *,
        least: float = -INFINITY,
        most: float = INFINITY,
    ) -> None:
        """Keep a sum of variables between two numbers."""
        for place, factor in terms:
            self._places.append(place)
            self._factors.append(factor)
        self._starts.append(len(self._places))
        self._rows.append((least, most))

    def maximise(self, *, until_s: float | None = None) -> Solution | None:
        """Return a proven optimum, or None when nothing keeps to the rows.

        Raises SolverError when the solver gives no proof, OutOfTimeError when it has none at
        `until_s` on the monotonic clock.
        """
        solver = self._run(is_whole=True, until_s=until_s)
        if solver is None:
            return None
        found = np.asarray(solver.getSolution().col_value)
        values = np.rint(found)
        if np.abs(found - values).max(initial=0.0) > 1e-4:
            raise SolverError("The solver gave parts of a case.")
        bound = solver.getInfo().mip_dual_bound
        return Solution(values=tuple(int(v) for v in values), bound=bound)

    def relax(self) -> Relaxed | None:
        """Return the optimum over fractions, or None when even these cannot keep to the rows."""
        solver = self._run(is_whole=False)
        if solver is None:
            return None
        solution = solver.getSolution()
        return Relaxed(
            worth=solver.getInfo().objective_function_value,
            values=tuple(solution.col_value),
            reduced=tuple(solution.col_dual),
        )

    def _run(self, *, is_whole: bool, until_s: float | None = None) -> _QuietHighs | None:
        """Return the solver after an optimal run, or None when nothing keeps to the rows."""
        left_s = LONGEST_S if until_s is None else min(LONGEST_S, until_s - time.monotonic())
        if left_s <= 0:
            raise OutOfTimeError("There was no time left for a proof.")
        solver = _QuietHighs()  # type: ignore[no-untyped-call]
        for name, value in OPTIONS.items():
            solver.setOptionValue(name, value)
        solver.setOptionValue("time_limit", left_s)
        solver.passModel(self._as_model(is_whole=is_whole))
        solver.run()
        status = solver.getModelStatus()
        if status in NOTHING_FITS:
            return None
        if status == highspy.HighsModelStatus.kTimeLimit:
            raise OutOfTimeError(f"The solver found no proof within {left_s:.0f} seconds.")
        if status != highspy.HighsModelStatus.kOptimal:
            raise SolverError(f"The solver stopped without a proof: {status.name}.")
        return solver

    def _as_model(self, *, is_whole: bool) -> highspy.HighsLp:
        """Return the programme as the solver takes it."""
        model = highspy.HighsLp()
        count = len(self._costs)
        model.num_col_ = count
        model.num_row_ = len(self._rows)
        model.sense_ = highspy.ObjSense.kMaximize
        model.col_cost_ = np.array(self._costs, dtype=float)
        model.col_lower_ = np.array(self._lowers, dtype=float)
        model.col_upper_ = np.array(self._uppers, dtype=float)
        model.row_lower_ = np.array([least for least, _ in self._rows], dtype=float)
        model.row_upper_ = np.array([most for _, most in self._rows], dtype=float)
        if is_whole:
            model.integrality_ = [highspy.HighsVarType.kInteger] * count
        matrix = model.a_matrix_
        matrix.format_ = highspy.MatrixFormat.kRowwise
        matrix.start_ = np.array(self._starts, dtype=np.int32)
        matrix.index_ = np.array(self._places, dtype=np.int32)
        matrix.value_ = np.array(self._factors, dtype=float)
        return model


# Every variable is bounded, so nothing here is ever unbounded.
NOTHING_FITS = (
    highspy.HighsModelStatus.kInfeasible,
    highspy.HighsModelStatus.kUnboundedOrInfeasible,
)
OPTIONS: Mapping[str, int | float] = {
    "threads": 1,
    "random_seed": 0,
    "mip_rel_gap": 0.0,
    "mip_abs_gap": 0.0,
    # Good sets are found before the solver starts; looking for more of them was seen to cost three
    # times the whole proof where worths are all alike, and to win nothing elsewhere.
    "mip_heuristic_effort": 0.0,
}


def whole_bound(bound: float) -> int:
    """Return the highest whole worth a bound lets through."""
    return math.floor(bound + SLACK * max(1.0, abs(bound)))
