"""Exact choice by integer programming: one level of preference after the other, each proven.

The solver works in floating numbers, so nothing it says is reported.  Its solutions are rounded and scored
again in whole numbers; an assignment that breaks a limit by a hair is excluded and the search goes on; a
level counts as proven only when the solver's bound leaves no room for a better whole number.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from deskmend.choice.network import Network
from deskmend.choice.problem import Problem
from deskmend.choice.program.formulation import (
    Formulation,
    add_agreement,
    formulate,
    whole_states,
    without_idle_nodes,
)
from deskmend.choice.program.solver import Backend, Outcome, Row, Terms
from deskmend.choice.result import Choice, Scored, Status, choice_from, evaluate, figures_of

ENGINE = "program"

LARGEST_LEVEL = 500_000
"""Levels of preference are solved together while their combined coefficients stay below this."""

LARGEST_SPAN = 2**46
"""The value or cost may span no more than this; beyond it floating numbers cannot tell neighbours apart."""

MOST_RETRIES = 60
"""Solver answers that may fail to hold in whole numbers before a level is given up as not proven."""

WIDE = 2_000
"""Columns from which on it pays to close those that cannot be used after the first level."""

BOUND_TOLERANCE = 0.1
"""By how much the solver's bound may overshoot a whole number."""


class OutOfRange(ValueError):
    """The numbers of a problem are too large for a solver that works in floating numbers."""


@dataclass(frozen=True)
class Candidate:
    """An allowed assignment found on the way."""

    states: tuple[int, ...]
    scored: Scored


@dataclass(frozen=True)
class Measure:
    """One thing to keep small: its coefficients, how far it can span, and its exact figure."""

    terms: Terms
    span: int
    figure: Callable[[Candidate], int]


@dataclass(frozen=True)
class Level:
    """Measures minimised together, the first of them first.

    Parameters
    ----------
    terms : mapping of int to int
        Coefficients.
    figure : callable
        The exact level of a candidate, with the same zero as the coefficients.
    leading : int
        How much of the level one unit of the first measure is.
    """

    terms: Terms
    figure: Callable[[Candidate], int]
    leading: int


def solve_program(problem: Problem, network: Network, seconds: float | None = None) -> Choice:
    """Find the best assignment by integer programming.

    Parameters
    ----------
    problem : Problem
        What to solve.
    network : Network
        The same in numbers, reduced.
    seconds : float or None
        Time allowed [s]; None: no limit.

    Returns
    -------
    Choice
        ``optimal`` only when all levels of preference are proven.

    Raises
    ------
    OutOfRange
        When values or costs span too much for floating numbers.
    """
    if network.impossible:
        return Choice({}, None, True, None, "infeasible", ENGINE)
    formulation = formulate(without_idle_nodes(network))
    add_agreement(formulation)
    return _Search(problem, formulation, seconds).run()


class _Search:
    def __init__(self, problem: Problem, formulation: Formulation, seconds: float | None) -> None:
        self.problem = problem
        self.formulation = formulation
        self.network = formulation.network
        self.deadline = None if seconds is None else time.monotonic() + seconds
        self.levels = _levels(formulation, problem.first)
        self.backend: Backend
        self.known: list[Candidate] = []
        self.fixed: list[tuple[Level, int]] = []
        self.bound: int | None = None
        self.excluded = 0

    def run(self) -> Choice:
        self.backend = Backend(self.formulation.model)
        for level in self.levels:
            ended = self._settle(level)
            if ended == "nothing else":
                break
            if ended == "stopped":
                return self._answer("not_proven")
            if level is self.levels[0] and len(self.formulation.model.names) > WIDE:
                self._narrow(level)
        return self._answer("optimal" if self.known else "infeasible")

    def _narrow(self, level: Level) -> None:
        """Close columns that no assignment as good as the best of the first level can use.

        A column's reduced cost is by how much the level rises at least when the column is used; where that
        leads beyond the best, the column stays 0 in everything still searched.
        """
        relaxed = self.backend.relax(level.terms, self._remaining())
        if relaxed is None:
            return
        least, reduced = relaxed
        room = self.fixed[0][1] + 1 - BOUND_TOLERANCE - least
        self.backend.close(column for column, cost in enumerate(reduced) if cost >= room)

    def _settle(self, level: Level) -> str:
        """Minimise one level over everything not known yet, then keep only the best."""
        for _ in range(MOST_RETRIES):
            outcome = self.backend.minimise(level.terms, self._remaining())
            if outcome.outlook == "infeasible":
                return "nothing else"
            fresh = self._read(outcome)
            if outcome.outlook == "stopped":
                self._note_bound(level, outcome)
                return "stopped"
            if fresh is not None and any(figure(fresh) < least for figure, least in self._reached()):
                # a level called proven was not: say so rather than go on from it
                self.bound = None
                return "stopped"
            self._note_bound(level, outcome)
            best = min((level.figure(candidate) for candidate in self.known), default=None)
            if best is not None and outcome.bound is not None and best <= _whole_bound(outcome.bound):
                self._fix(level, best)
                return "settled"
        return "stopped"

    def _read(self, outcome: Outcome) -> Candidate | None:
        """Score the solver's assignment exactly, exclude it from further search, keep it if allowed."""
        if outcome.values is None:
            return None
        states = tuple(whole_states(self.formulation, outcome.values))
        self._exclude(states)
        candidate = Candidate(states, evaluate(self.problem, self.network.names_of(states)))
        if candidate.scored.violations or any(figure(candidate) > least for figure, least in self._reached()):
            return None
        self.known.append(candidate)
        return candidate

    def _reached(self) -> list[tuple[Callable[[Candidate], int], int]]:
        return [(level.figure, least) for level, least in self.fixed]

    def _exclude(self, states: tuple[int, ...]) -> None:
        open_variables = [v for v in range(self.network.decisions) if self.network.sizes[v] > 1]
        terms = {self.formulation.picks[v][states[v]]: 1 for v in open_variables}
        self.backend.add(Row(f"excluded[{self.excluded}]", terms, "<=", len(open_variables) - 1))
        self.excluded += 1

    def _fix(self, level: Level, least: int) -> None:
        self.known = [candidate for candidate in self.known if level.figure(candidate) == least]
        self.backend.add(Row(f"level[{len(self.fixed)}]", level.terms, "<=", least))
        self.fixed.append((level, least))

    def _note_bound(self, level: Level, outcome: Outcome) -> None:
        """Keep the proven lower limit of the leading measure; what is known counts too."""
        if self.fixed or outcome.bound is None:
            return
        limit = _whole_bound(outcome.bound)
        limit = min([limit, *(level.figure(candidate) for candidate in self.known)])
        self.bound = self._leading_of(limit // level.leading)

    def _leading_of(self, units: int) -> int:
        """Turn units of the first level back into value or cost."""
        return units * self.unit + self.shift

    @property
    def unit(self) -> int:
        return _unit(self.formulation.model.objectives[self.problem.first])

    @property
    def shift(self) -> int:
        return self.network.offset if self.problem.first == "value" else 0

    def _remaining(self) -> float | None:
        return None if self.deadline is None else max(0.0, self.deadline - time.monotonic())

    def _answer(self, status: Status) -> Choice:
        if not self.known:
            return Choice({}, None, status == "infeasible", self.bound, status, ENGINE)
        best = min(
            self.known, key=lambda candidate: preference(self.problem, candidate.scored, candidate.states)
        )
        scored = best.scored
        if status == "optimal":
            return choice_from(self.problem, scored, ENGINE)
        return Choice(scored.options, figures_of(scored), False, self.bound, status, ENGINE)


def preference(problem: Problem, scored: Scored, states: tuple[int, ...]) -> tuple[int, ...]:
    """Sort key of the order of preference: the least is the best.

    Parameters
    ----------
    problem : Problem
        Says what comes first.
    scored : Scored
        The assignment's figures.
    states : tuple of int
        Its option positions, in decision order.

    Returns
    -------
    tuple of int
        Comparable between assignments of one problem.
    """
    if problem.first == "cost":
        return (scored.cost, scored.minutes, scored.value, scored.fixes, *states)
    return (scored.value, scored.cost, scored.minutes, scored.fixes, *states)


def _whole_bound(bound: float) -> int:
    return math.ceil(bound - BOUND_TOLERANCE)


def _unit(terms: Mapping[int, int]) -> int:
    return math.gcd(*terms.values()) or 1


def _levels(formulation: Formulation, first: str) -> list[Level]:
    """Order the measures by preference and join neighbours whose coefficients stay small."""
    network, objectives = formulation.network, formulation.model.objectives
    figures: dict[str, Callable[[Candidate], int]] = {
        "value": lambda candidate: candidate.scored.value - network.offset,
        "cost": lambda candidate: candidate.scored.cost,
        "minutes": lambda candidate: candidate.scored.minutes,
        "fixes": lambda candidate: candidate.scored.fixes,
    }
    order = (
        ("cost", "minutes", "value", "fixes") if first == "cost" else ("value", "cost", "minutes", "fixes")
    )
    measures = []
    for name in order:
        terms = objectives[name]
        unit = _unit(terms)
        # each column adds at most its coefficient times its largest value
        span = sum(abs(factor) * formulation.model.upper[column] for column, factor in terms.items()) // unit
        if name in ("value", "cost") and span > LARGEST_SPAN:
            raise OutOfRange(
                f"the {name} spans {span} units; the integer program can tell {LARGEST_SPAN} apart"
            )
        scaled = {column: factor // unit for column, factor in terms.items()}
        measures.append(Measure(scaled, span, _divided(figures[name], unit)))
    for variable in range(network.decisions):
        if network.sizes[variable] > 1:
            terms = {column: state for state, column in enumerate(formulation.picks[variable]) if state}
            measures.append(Measure(terms, network.sizes[variable] - 1, _state_of(variable)))
    return _joined(measures)


def _divided(figure: Callable[[Candidate], int], unit: int) -> Callable[[Candidate], int]:
    return lambda candidate: figure(candidate) // unit


def _state_of(variable: int) -> Callable[[Candidate], int]:
    return lambda candidate: candidate.states[variable]


def _joined(measures: list[Measure]) -> list[Level]:
    levels = []
    position = 0
    while position < len(measures):
        group = [measures[position]]
        weight = measures[position].span + 1
        position += 1
        while position < len(measures) and weight * (measures[position].span + 1) <= LARGEST_LEVEL:
            weight *= measures[position].span + 1
            group.append(measures[position])
            position += 1
        levels.append(_level(group))
    return levels


def _level(group: list[Measure]) -> Level:
    """Weigh each measure by the spans of those after it, so that the first decides first."""
    weights = [1]
    for measure in reversed(group[1:]):
        weights.append(weights[-1] * (measure.span + 1))
    weights.reverse()
    terms: dict[int, int] = {}
    for measure, weight in zip(group, weights, strict=True):
        for column, factor in measure.terms.items():
            terms[column] = terms.get(column, 0) + factor * weight
    return Level(
        terms,
        lambda candidate: sum(
            measure.figure(candidate) * weight for measure, weight in zip(group, weights, strict=True)
        ),
        weights[0],
    )
