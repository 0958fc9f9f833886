"""Exact choice by integer programming: one level of preference after the other, each proven.

The solver works in floating numbers, so nothing it says is reported.  Its solutions are rounded and scored
again in whole numbers; an assignment that breaks a limit by a hair is excluded and the search goes on; a
level counts as proven only when the solver's bound leaves no room for a better whole number.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from deskmend.choice.network import Network
from deskmend.choice.problem import Problem
from deskmend.choice.program.formulation import (
    Formulation,
    add_agreement,
    formulate,
    whole_states,
    without_idle_nodes,
)
from deskmend.choice.program.solver import Backend, Coefficients, Outcome, Row
from deskmend.choice.result import Choice, ProofStatus, Scored, best_choice, evaluate, no_choice, preference

LARGEST_LEVEL = 500_000
"""Levels of preference are solved together while their combined coefficients stay below this."""

LARGEST_SPAN = 2**46
"""The value or cost may span no more than this; beyond it floating numbers cannot tell neighbours apart."""

MOST_RETRIES = 60
"""Solver answers that may fail to hold in whole numbers before a level is given up as not proven."""

MANY_COLUMNS = 2_000
"""From so many on it pays to close those that cannot be used after the first level."""

BOUND_TOLERANCE = 0.1
"""By how much the solver's bound may overshoot a whole number."""


class SpanTooLarge(ValueError):
    """The numbers of a problem are too large for a solver that works in floating numbers."""


@dataclass(frozen=True)
class Candidate:
    """An allowed assignment found on the way."""

    states: tuple[int, ...]
    scored: Scored


@dataclass(frozen=True)
class Criterion:
    """One thing to keep small: its coefficients, how far it can span, and its exact figure."""

    terms: Coefficients
    span: int
    figure: Callable[[Candidate], int]


@dataclass(frozen=True)
class PreferenceLevel:
    """Criteria minimised together, each weighed by the spans of those after it: the first decides first."""

    criteria: Sequence[Criterion]
    weights: Sequence[int]

    @property
    def terms(self) -> Coefficients:
        """Coefficients of all of them together."""
        terms: dict[int, int] = {}
        for criterion, weight in zip(self.criteria, self.weights, strict=True):
            for column, factor in criterion.terms.items():
                terms[column] = terms.get(column, 0) + factor * weight
        return terms

    def figure(self, candidate: Candidate) -> int:
        """Give the exact level of a candidate, with the same zero as the coefficients."""
        parts = zip(self.criteria, self.weights, strict=True)
        return sum(criterion.figure(candidate) * weight for criterion, weight in parts)


def solve_program(problem: Problem, network: Network, seconds: float | None = None) -> Choice:
    """Find the best assignment by integer programming, within some seconds if any are given.

    ``optimal`` only when all levels of preference are proven.  SpanTooLarge when values or costs span too
    much for floating numbers.
    """
    formulation = formulate(without_idle_nodes(network))
    add_agreement(formulation)
    return _LevelSearch(problem, formulation, seconds).run()


class _LevelSearch:
    def __init__(self, problem: Problem, formulation: Formulation, seconds: float | None) -> None:
        self.problem = problem
        self.formulation = formulation
        self.network = formulation.network
        self.deadline = None if seconds is None else time.monotonic() + seconds
        self.levels = _levels(formulation, problem.first)
        self.backend: Backend
        self.known: list[Candidate] = []
        self.fixed: list[tuple[PreferenceLevel, int]] = []
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
            if level is self.levels[0] and len(self.formulation.model.names) > MANY_COLUMNS:
                self._narrow(level)
        return self._answer("optimal" if self.known else "infeasible")

    def _narrow(self, level: PreferenceLevel) -> None:
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

    def _settle(self, level: PreferenceLevel) -> str:
        """Minimise one level over everything not known yet, then keep only the best."""
        terms = level.terms
        for _ in range(MOST_RETRIES):
            outcome = self.backend.minimise(terms, self._remaining())
            if outcome.outlook == "infeasible":
                return "nothing else"
            fresh = self._read(outcome)
            if outcome.outlook == "stopped":
                self._note_bound(level, outcome)
                return "stopped"
            if fresh is not None and any(fixed.figure(fresh) < least for fixed, least in self.fixed):
                # A level called proven was not: say so rather than go on from it.
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
        states = whole_states(self.formulation, outcome.values)
        self._exclude(states)
        candidate = Candidate(states, evaluate(self.problem, self.network.names_of(states)))
        worse = any(level.figure(candidate) > least for level, least in self.fixed)
        if candidate.scored.violations or worse:
            return None
        self.known.append(candidate)
        return candidate

    def _exclude(self, states: tuple[int, ...]) -> None:
        open_variables = [v for v in range(self.network.decisions) if self.network.sizes[v] > 1]
        terms = {self.formulation.picks[v][states[v]]: 1 for v in open_variables}
        self.backend.add(Row(f"excluded[{self.excluded}]", terms, "<=", len(open_variables) - 1))
        self.excluded += 1

    def _fix(self, level: PreferenceLevel, least: int) -> None:
        self.known = [candidate for candidate in self.known if level.figure(candidate) == least]
        self.backend.add(Row(f"level[{len(self.fixed)}]", level.terms, "<=", least))
        self.fixed.append((level, least))

    def _note_bound(self, level: PreferenceLevel, outcome: Outcome) -> None:
        """Keep the proven lower limit of the leading criterion; what is known counts too."""
        if self.fixed or outcome.bound is None:
            return
        limit = _whole_bound(outcome.bound)
        limit = min([limit, *(level.figure(candidate) for candidate in self.known)])
        # Back from units of the level to value or cost.
        unit = _unit(self.formulation.model.objectives[self.problem.first])
        offset = self.network.offset if self.problem.first == "value" else 0
        self.bound = limit // level.weights[0] * unit + offset

    def _remaining(self) -> float | None:
        return None if self.deadline is None else max(0.0, self.deadline - time.monotonic())

    def _answer(self, status: ProofStatus) -> Choice:
        if not self.known:
            if status == "infeasible":
                return no_choice("program")
            return Choice({}, None, False, self.bound, status, "program")
        scored = min((one.scored for one in self.known), key=partial(preference, self.problem))
        if status == "optimal":
            return best_choice(self.problem, scored, "program")
        return Choice(scored.options, scored.figures, False, self.bound, status, "program")


def _whole_bound(bound: float) -> int:
    return math.ceil(bound - BOUND_TOLERANCE)


def _unit(terms: Coefficients) -> int:
    return math.gcd(*terms.values()) or 1


def _levels(formulation: Formulation, first: str) -> list[PreferenceLevel]:
    """Order the criteria by preference and join neighbours whose coefficients stay small."""
    network, model = formulation.network, formulation.model
    order = (
        ("cost", "minutes", "value", "fixes") if first == "cost" else ("value", "cost", "minutes", "fixes")
    )
    criteria = []
    for name in order:
        terms = model.objectives[name]
        unit = _unit(terms)
        # Each column adds at most its coefficient times its largest value.
        span = sum(abs(factor) * model.upper[column] for column, factor in terms.items()) // unit
        if name in ("value", "cost") and span > LARGEST_SPAN:
            raise SpanTooLarge(
                f"the {name} spans {span} units; the integer program can tell {LARGEST_SPAN} apart"
            )
        scaled = {column: factor // unit for column, factor in terms.items()}
        offset = network.offset if name == "value" else 0
        criteria.append(Criterion(scaled, span, partial(_figure, name=name, offset=offset, unit=unit)))
    for variable in range(network.decisions):
        if network.sizes[variable] > 1:
            terms = {column: state for state, column in enumerate(formulation.picks[variable]) if state}
            criteria.append(Criterion(terms, network.sizes[variable] - 1, partial(_state, variable=variable)))
    levels: list[list[Criterion]] = []
    weight = math.inf
    for criterion in criteria:
        weight *= criterion.span + 1
        if weight > LARGEST_LEVEL:
            levels.append([])
            weight = criterion.span + 1
        levels[-1].append(criterion)
    return [_level(group) for group in levels]


def _figure(candidate: Candidate, name: str, offset: int, unit: int) -> int:
    figure: int = getattr(candidate.scored, name)
    return (figure - offset) // unit


def _state(candidate: Candidate, variable: int) -> int:
    return candidate.states[variable]


def _level(group: Sequence[Criterion]) -> PreferenceLevel:
    weights = [1]
    for criterion in reversed(group[1:]):
        weights.append(weights[-1] * (criterion.span + 1))
    return PreferenceLevel(group, weights[::-1])
