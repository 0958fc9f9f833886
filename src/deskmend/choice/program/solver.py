"""The only module that touches PuLP and HiGHS, and the linear program in whole numbers that it is handed.

PuLP 3.3 and 4 differ in how expressions are made, in what a solve returns and in the order of columns;
what is used here is the same in both, and the state of the solver is asked of HiGHS itself.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Future, wait
from dataclasses import dataclass, field
from functools import cache
from queue import SimpleQueue
from threading import Thread
from typing import Any, Literal

import highspy
import pulp

Sense = Literal["<=", "=", ">="]
Coefficients = Mapping[int, int]


@dataclass(frozen=True)
class Row:
    """One constraint; its name is its family and what it belongs to, such as ``option[seat]``."""

    name: str
    terms: Coefficients
    sense: Sense
    right: int

    @property
    def family(self) -> str:
        """What kind of constraint it is: the name up to the bracket."""
        return self.name.partition("[")[0]


@dataclass
class LinearModel:
    """Columns from 0 upward, each at least 0 and at most ``upper``, rows, and objectives to minimise by name.

    All in whole numbers, and independent of any solver.
    """

    names: list[str] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    integer: list[bool] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    objectives: dict[str, Coefficients] = field(default_factory=dict)

    def column(self, name: str, upper: int = 1, integer: bool = False) -> int:
        """Add a column and return its number."""
        self.names.append(name)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.names) - 1

    def row(self, name: str, terms: Coefficients, sense: Sense, right: int) -> None:
        """Add a constraint."""
        self.rows.append(Row(name, terms, sense, right))


WHOLE_SUMS = frozenset({"money", "minutes", "bound", "level"})
"""Families of rows ``sum <= limit`` whose sum is a whole number in every whole solution."""

SLOW_PRESOLVE_RULES = 3 << 15
"""Probing and enumeration in HiGHS: on these models they took two thirds of the time and removed little."""

Outlook = Literal["optimal", "infeasible", "stopped"]


@dataclass(frozen=True)
class Outcome:
    """What the solver says of one minimisation, in its floating numbers: to be scored again, never believed.

    ``stopped`` covers time limits, interrupts and every state not known here: nothing is proven.  ``values``
    are those of the columns of the best solution, ``bound`` what the objective cannot fall below, it claims.
    """

    outlook: Outlook
    values: list[float] | None
    bound: float | None


class _QuietHighs(highspy.Highs):
    """HiGHS that is silent before it first speaks: its greeting is printed while it is being made."""

    def enableCallbacks(self) -> None:
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


class _ExactHighs(pulp.HiGHS):  # type: ignore[misc]
    """PuLP's HiGHS with every option set before the model is handed over."""

    def __init__(self, options: dict[str, Any], mip: bool = True) -> None:
        super().__init__(msg=False, mip=mip)
        self._exact_options = options

    def createAndConfigureSolver(self, lp: Any) -> None:
        lp.solverModel = _QuietHighs()  # type: ignore[no-untyped-call]
        for name, setting in self._exact_options.items():
            lp.solverModel.setOptionValue(name, setting)

    def findSolutionValues(self, lp: Any) -> Any:
        try:
            return super().findSolutionValues(lp)
        except KeyError:
            # PuLP 3 knows only some states of HiGHS; here the state is asked of HiGHS itself
            return pulp.LpStatusNotSolved, pulp.LpStatusNotSolved

    def callSolver(self, lp: Any) -> None:
        highs = lp.solverModel
        highs.HandleUserInterrupt = True
        running: Future[Any] = Future()
        try:
            _solver_thread(os.getpid()).submit(highs.run, running)
            running.result()
        except KeyboardInterrupt:
            highs.cancelSolve()
            if not running.cancel():
                wait([running])
            raise


class _SolverThread:
    """A lasting thread that solves what it is handed.

    HiGHS holds off signals until it ends, so it runs beside the thread that waits for them; and it sets up
    its own workers anew for each thread it is called from, which a lasting thread saves.  The thread is a
    daemon: an interrupt that comes while a thread of a pool is being started leaves the pool without
    knowledge of it, and the process would wait for it for ever when it ends.
    """

    def __init__(self) -> None:
        self._queue: SimpleQueue[tuple[Callable[[], Any], Future[Any]]] = SimpleQueue()
        Thread(target=self._serve, name="solver", daemon=True).start()

    def submit(self, task: Callable[[], Any], result: Future[Any]) -> None:
        self._queue.put((task, result))

    def _serve(self) -> None:
        while True:
            task, result = self._queue.get()
            if result.set_running_or_notify_cancel():
                try:
                    result.set_result(task())
                except BaseException as fault:  # handed to the thread that waits
                    result.set_exception(fault)
            del task, result


@cache
def _solver_thread(process: int) -> _SolverThread:
    """Give the thread that solves, one for each process: a forked child has none of its parent's."""
    return _SolverThread()


class Backend:
    """One linear model, minimised again and again under more and more rows."""

    def __init__(self, model: LinearModel) -> None:
        # PuLP 3 sorts columns by name, so that names in sorted order keep the order on both lines
        width = len(str(len(model.names)))
        self._names = [f"c{number:0{width}d}" for number in range(len(model.names))]
        self._program = pulp.LpProblem("choice", pulp.LpMinimize)
        self._columns = [
            self._program.add_variable(name, 0, upper, pulp.LpInteger if whole else pulp.LpContinuous)
            for name, upper, whole in zip(self._names, model.upper, model.integer, strict=True)
        ]
        self._rows = 0
        for row in model.rows:
            self.add(row)

    def add(self, row: Row) -> None:
        """Add a row for good.

        Limits on sums that are whole numbers are stated half a unit wide, so that the solver's tolerance
        neither cuts a whole solution off nor lets one in.
        """
        if row.family in WHOLE_SUMS:
            unit = math.gcd(*row.terms.values()) or 1
            terms = {column: factor // unit for column, factor in row.terms.items()}
            constraint = self._expression(terms) <= row.right // unit + 0.5
        elif row.sense == "=":
            constraint = self._expression(row.terms) == row.right
        elif row.sense == "<=":
            constraint = self._expression(row.terms) <= row.right
        else:
            constraint = self._expression(row.terms) >= row.right
        self._program.addConstraint(constraint, f"r{self._rows}")
        self._rows += 1

    def _expression(self, terms: Coefficients) -> Any:
        pairs = [(self._columns[column], factor) for column, factor in terms.items() if factor]
        make = getattr(pulp.LpAffineExpression, "from_list", pulp.LpAffineExpression)
        return make(pairs)

    def relax(self, objective: Coefficients, seconds: float | None) -> tuple[float, list[float]] | None:
        """Minimise an objective over columns that need not be whole, within some seconds.

        Gives the least sum and the reduced cost of each column: what the sum rises by at least for each unit
        of the column.  None when the solver did not get there.
        """
        self._program.setObjective(self._expression(objective))
        self._program.solve(_ExactHighs(self._options(seconds), mip=False))
        highs = self._program.solverModel
        if _outlook(highs.getModelStatus()) != "optimal":
            return None
        reduced = [0.0 if column.dj is None else float(column.dj) for column in self._columns]
        return float(highs.getInfo().objective_function_value), reduced

    def close(self, columns: Iterable[int]) -> None:
        """Hold columns at 0 from now on."""
        for column in columns:
            self._columns[column].upBound = 0

    def minimise(
        self, objective: Coefficients, seconds: float | None, gap: float = 0.5, nodes: int | None = None
    ) -> Outcome:
        """Minimise an objective under all rows so far, until its gap is closed.

        Coefficients are whole, so a gap of half a unit proves the optimum.  ``nodes`` limits the branches
        tried, which unlike time gives the same answer everywhere.
        """
        self._program.setObjective(self._expression(objective))
        options = self._options(seconds) | {"mip_abs_gap": gap}
        if nodes is not None:
            options["mip_max_nodes"] = nodes
        self._program.solve(_ExactHighs(options))
        highs = self._program.solverModel
        return self._outcome(highs, highs.getModelStatus())

    @staticmethod
    def _options(seconds: float | None) -> dict[str, Any]:
        options: dict[str, Any] = {
            "mip_rel_gap": 0.0,
            "mip_abs_gap": 0.5,
            "mip_feasibility_tolerance": 1e-9,
            "primal_feasibility_tolerance": 1e-9,
            "dual_feasibility_tolerance": 1e-9,
            "random_seed": 0,
            "presolve_rule_off": SLOW_PRESOLVE_RULES,
        }
        if seconds is not None:
            options["time_limit"] = max(0.0, seconds)
        return options

    def _outcome(self, highs: Any, state: Any) -> Outcome:
        outlook = _outlook(state)
        info = highs.getInfo()
        values = None
        if outlook != "infeasible" and _has_solution(info):
            values = _values(self._columns)
        bound = float(info.mip_dual_bound)
        return Outcome(outlook, values, bound if math.isfinite(bound) and outlook != "infeasible" else None)


def _has_solution(info: Any) -> bool:
    """Tell whether the solver holds a solution that keeps every row."""
    return bool(info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible)


def _outlook(state: Any) -> Outlook:
    """Translate the state of HiGHS; whatever is not known here proves nothing."""
    known: dict[Any, Outlook] = {
        highspy.HighsModelStatus.kOptimal: "optimal",
        highspy.HighsModelStatus.kInfeasible: "infeasible",
        # every column is bounded, so this can only mean infeasible
        highspy.HighsModelStatus.kUnboundedOrInfeasible: "infeasible",
    }
    return known.get(state, "stopped")


def least_point(
    cost: Sequence[float],
    rows: Sequence[tuple[Sequence[float], float]],
    lower: Sequence[float],
    upper: Sequence[float],
) -> list[float] | None:
    """Minimise a linear function of a few numbers between two ends under ``sum(row * numbers) <= right``.

    Within the solver's tolerance; None when it found none.
    """
    width = len(str(len(cost)))
    program = pulp.LpProblem("point", pulp.LpMinimize)
    columns = [
        program.add_variable(f"c{number:0{width}d}", low, high)
        for number, (low, high) in enumerate(zip(lower, upper, strict=True))
    ]
    make = getattr(pulp.LpAffineExpression, "from_list", pulp.LpAffineExpression)

    def total(factors: Sequence[float]) -> Any:
        return make([(column, factor) for column, factor in zip(columns, factors, strict=True) if factor])

    program.setObjective(total(cost))
    for number, (factors, right) in enumerate(rows):
        program.addConstraint(total(factors) <= right, f"r{number}")
    program.solve(_ExactHighs({"random_seed": 0}, mip=False))
    if _outlook(program.solverModel.getModelStatus()) != "optimal":
        return None
    return _values(columns)


def _values(columns: Sequence[Any]) -> list[float]:
    return [0.0 if column.varValue is None else float(column.varValue) for column in columns]
