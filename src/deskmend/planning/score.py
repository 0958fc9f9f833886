"""Strain of a state, straight from the posture functions: no table, no solver."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from deskmend.intake.case import Case
from deskmend.risk.severity import REGIONS
from deskmend.risk.strain import strain_terms
from deskmend.workstation.state import State, evaluate

__all__ = ["PLAIN", "Score", "StrainTerm", "score", "weights_of"]

PLAIN: Mapping[str, float] = dict.fromkeys(REGIONS, 1.0)
"""Region weights that leave discomfort out."""


@dataclass(frozen=True)
class StrainTerm:
    """Strain of one exposure of one task [millionths of h/day]."""

    task: str
    exposure: str
    region: str
    roles: Mapping[str, str]
    value: int


@dataclass(frozen=True)
class Score:
    """Strain of a state.

    Attributes
    ----------
    terms : tuple of StrainTerm
        Every exposure that has a share of the time.
    """

    terms: tuple[StrainTerm, ...]

    @property
    def total(self) -> int:
        """All strain [millionths of h/day]."""
        return sum(term.value for term in self.terms)

    @property
    def by_region(self) -> dict[str, int]:
        """Strain of each region [millionths of h/day]."""
        out = dict.fromkeys(REGIONS, 0)
        for term in self.terms:
            out[term.region] += term.value
        return out


def weights_of(case: Case) -> dict[str, float]:
    """Region weights of a person: 1 + discomfort / 10."""
    return {region: 1.0 + (getattr(case.person.discomfort, region) or 0) / 10.0 for region in REGIONS}


def score(state: State, weights: Mapping[str, float]) -> Score:
    """Score a state.

    Parameters
    ----------
    state : State
        The workstation.
    weights : mapping
        Region weight by region [-].

    Returns
    -------
    Score
        Integers, the same that the optimiser's tables hold.
    """
    return Score(tuple(_terms(state, weights)))


def _terms(state: State, weights: Mapping[str, float]) -> Iterator[StrainTerm]:
    for task in state.tasks:
        evaluation = evaluate(state, task)
        standing = float(evaluation("stand_share"))
        modes = tuple(m for m, never in (("sit", 1.0), ("stand", 0.0)) if standing != never)
        for exposure, region, roles, value in strain_terms(evaluation, weights, modes):
            yield StrainTerm(task, exposure, region, roles, int(value))
