"""Frontiers that several tests look at."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from deskmend.choice import Choice, Problem, frontier
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import load_catalog
from deskmend.intake.prices import load_prices
from deskmend.planning.budgets import Comparison, compared
from deskmend.planning.ready_case import ReadyCase, prepare

ROOT = Path(__file__).resolve().parents[2]


@cache
def prepared(scenario: str) -> ReadyCase:
    """A scenario made ready for choosing."""
    folder = ROOT / "scenarios" / scenario
    return prepare(load_case(folder / "case.yaml"), load_catalog(), load_prices(folder / "prices.csv"))


@cache
def problem_of(scenario: str) -> Problem:
    """Its choice, money left open."""
    ready = prepared(scenario)
    return ready.problem(None, ready.case.means.minutes)


@cache
def ladder(scenario: str) -> Comparison:
    """Its comparison over all budgets, of the best plans."""
    return compared(prepared(scenario), every_gain=True)


@cache
def usual(scenario: str) -> Comparison:
    """Its comparison over all budgets, of the distinct plans."""
    return compared(prepared(scenario))


@cache
def edge(scenario: str) -> tuple[Choice, ...]:
    """Its frontier as the engine gives it."""
    return tuple(frontier(problem_of(scenario)))
