"""Strain of states, straight from the posture functions: no table, no solver."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from deskmend.intake.case import Case
from deskmend.measures import Micro
from deskmend.planning.model.tables import (
    KEPT_TASKS,
    ChangedStates,
    SlotChanges,
    StateArrays,
    Worked,
    alike_in,
    follows,
    layout_of,
    worked_out,
)
from deskmend.risk.severity import REGIONS, curves_moved
from deskmend.risk.strain import (
    Exposure,
    exposure_parts,
    exposures,
    exposures_in,
    mean_millionths,
    strain_terms,
)
from deskmend.workstation.graph import ROLES, Evaluation
from deskmend.workstation.state import State

__all__ = [
    "PLAIN",
    "Score",
    "StrainAfter",
    "StrainTerm",
    "modes_in",
    "score",
    "scores_of_many",
    "strain_of_many",
    "weights_of",
]

PLAIN: Mapping[str, float] = dict.fromkeys(REGIONS, 1.0)
"""Region weights that leave discomfort out."""

KEPT_SCORES = 512
"""Scores of single states that are kept for whoever asks for the same again."""


@dataclass(frozen=True)
class StrainTerm:
    """Strain of one exposure of one task."""

    task: str
    exposure: str
    region: str
    roles: Mapping[str, str]
    value: Micro


@dataclass(frozen=True)
class Score:
    """Strain of a state, term by term: every exposure that has a share of the time."""

    terms: tuple[StrainTerm, ...]

    @property
    def total(self) -> Micro:
        """All strain."""
        return sum(term.value for term in self.terms)

    @property
    def by_region(self) -> dict[str, Micro]:
        """Strain of each region."""
        out = dict.fromkeys(REGIONS, 0)
        for term in self.terms:
            out[term.region] += term.value
        return out


def weights_of(case: Case) -> dict[str, float]:
    """Region weights of a person: 1 + discomfort / 10."""
    return {region: 1.0 + (getattr(case.person.discomfort, region) or 0) / 10.0 for region in REGIONS}


def score(state: State, weights: Mapping[str, float]) -> Score:
    """Score a state, by region weights [-]; the integers are those that the optimiser's tables hold."""
    return _scored(state, tuple(weights.items()), curves_moved())


@lru_cache(maxsize=KEPT_SCORES)
def _scored(state: State, weighing: tuple[tuple[str, float], ...], _: object) -> Score:
    weights = dict(weighing)
    terms = _terms(StateArrays([state]), weights)
    return Score(
        tuple(StrainTerm(task, name, region, roles, int(n)) for task, name, region, roles, n in terms)
    )


def scores_of_many(states: Sequence[State], weights: Mapping[str, float]) -> list[Score]:
    """Score of each state of one person, as `score` gives it for one; those alike are worked out together."""
    out: dict[int, Score] = {}
    for alike in alike_in(map(layout_of, states)):
        block = StateArrays([states[i] for i in alike])
        for chosen in alike_in(_exposed(block)):
            terms = [
                (task, name, region, roles, np.broadcast_to(value, len(chosen)).tolist())
                for task, name, region, roles, value in _terms(block.part(chosen), weights)
            ]
            for place, index in enumerate(chosen):
                out[alike[index]] = Score(
                    tuple(
                        StrainTerm(task, name, region, roles, values[place])
                        for task, name, region, roles, values in terms
                    )
                )
    return [out[i] for i in range(len(states))]


def strain_of_many(states: Sequence[State], weights: Sequence[Mapping[str, float]]) -> list[Micro]:
    """Total strain of each state by its region weights, as `score` gives it for one.

    Raises ValueError where there are not as many weights as states.
    """
    if len(states) != len(weights):
        raise ValueError(f"weights: {len(weights)} of them for {len(states)} states")
    out = [0] * len(states)
    for members in alike_in(map(layout_of, states)):
        block = StateArrays([states[i] for i in members])
        for chosen in alike_in(_exposed(block)):
            part = block if len(chosen) == len(members) else block.part(chosen)
            total: Any = np.zeros(len(chosen), dtype=np.int64)
            for *_, value in _terms(part, _by_region([weights[members[i]] for i in chosen])):
                total += value
            for index, one in zip(chosen, total.tolist(), strict=True):
                out[members[index]] = one
    return out


class StrainAfter:
    """Strain of some states of one layout after sets of changes, as `score` gives it for one state.

    What is worked out is kept, so that a set much like those before takes little.
    """

    def __init__(self, states: Sequence[State], weights: Mapping[str, float]) -> None:
        self._states, self._weighing = states, tuple(weights.items())
        self._curves, self._changed = curves_moved(), ChangedStates(states)

    def of(self, plans: Sequence[tuple[Sequence[SlotChanges], Mapping[str, str]]]) -> list[list[Micro]]:
        """Strain of each state after each plan: what it changes, for all or for each, and moves where to."""
        if self._curves != curves_moved():
            self._curves, self._changed = curves_moved(), ChangedStates(self._states)
        sets = [self._changed.changed(changes) for changes, _ in plans]
        total = np.zeros((len(plans), len(self._states)), dtype=np.int64)
        for task, own in self._states[0].place_of.items():
            for there in alike_in(moves.get(task, own) for _, moves in plans):
                place = plans[there[0]][1].get(task, own)
                total[there] += self._of_task(task, place, [sets[number] for number in there])
        strains: list[list[Micro]] = total.tolist()
        return strains

    def _of_task(self, task: str, place: str, sets: Sequence[int]) -> npt.NDArray[np.int64]:
        changed = self._changed
        total = np.zeros((len(sets), len(self._states)), dtype=np.int64)
        for term in _terms_after(task, place, self._weighing):
            spent = changed.values(term.spent, sets)[:, 0].tolist()
            if all(spent):
                total += changed.values(term.strain, sets)
            elif any(spent):
                some = [number for number, time in enumerate(spent) if time]
                total[some] += changed.values(term.strain, [sets[number] for number in some])
        return total


@lru_cache(maxsize=KEPT_TASKS)
def _terms_after(task: str, place: str, weighing: tuple[tuple[str, float], ...]) -> list[_TermAfter]:
    evaluation, weights = worked_out(task, place), dict(weighing)
    return [_TermAfter(evaluation, weights, *one) for one in exposures_in(ROLES["mode"])]


@dataclass(frozen=True, eq=False)
class _TermAfter:
    """One exposure of a task in its roles, all its regions together."""

    evaluation: Evaluation[Worked]
    weights: Mapping[str, float]
    exposure: Exposure
    roles: dict[str, str]

    @cached_property
    def spent(self) -> Worked:
        """Whether any state spends time so; where none does, what it would be like may be nonsense."""
        names = ("mode_share", "lapsed_mode_share", self.exposure.share)
        return follows(_time_is_spent, [self.evaluation(name, **self.roles) for name in names if name])

    @cached_property
    def strain(self) -> Worked:
        """The strain."""
        weighing = [weight * self.weights[region] for region, weight in self.exposure.regions]
        parts = exposure_parts(self.evaluation, self.exposure, self.roles)
        return follows(partial(_of_regions, weighing), parts)


def _time_is_spent(kept: Any, lapsed: Any, *shares: Any) -> Any:
    spent = (kept != 0) | (lapsed != 0)
    for share in shares:
        spent = spent & (share != 0)
    return spent.any(axis=-1, keepdims=True)


def _of_regions(weights: Sequence[float], *parts: Any) -> Any:
    return sum(mean_millionths(weight, *parts) for weight in weights)


def _terms(states: StateArrays, weights: Mapping[str, float]) -> Iterator[tuple[str, str, str, Any, Any]]:
    """Task, exposure, region, roles and strain of states that leave out the same exposures."""
    for task in states.first.tasks:
        evaluation = states.evaluation(task)
        for exposure, region, roles, value in strain_terms(evaluation, weights, modes_in(evaluation)):
            yield task, exposure, region, roles, value


def modes_in(evaluation: Evaluation[Any]) -> tuple[str, ...]:
    """Whether states that sit and stand alike do sit and stand, on days with their habit or without."""
    standing = {float(np.ravel(evaluation(share))[0]) for share in ("stand_share", "lapsed_stand_share")}
    return tuple(mode for mode, never in (("sit", 1.0), ("stand", 0.0)) if standing != {never})


def _by_region(weights: Sequence[Mapping[str, float]]) -> Mapping[str, float]:
    first = weights[0]
    if all(one == first for one in weights):
        return first
    # An array stands in for the number: weights are only ever multiplied, state by state.
    columns = {region: np.array([one[region] for one in weights], dtype=np.float64) for region in REGIONS}
    return cast("Mapping[str, float]", columns)


def _exposed(block: StateArrays) -> list[bytes]:
    """For each state which exposures have a share of the time, and how it stands and sits.

    An exposure without a share is left out, and what is left out may be nonsense, as the height of a screen
    that nobody has. So only states that leave out the same are summed together.
    """
    asked: dict[Hashable, tuple[str, dict[str, str]]] = {}
    for exposure in exposures():
        for case in (ROLES[exposure.role] if exposure.role else ("",)) if exposure.share else ():
            for mode in exposure.modes:
                roles = {"mode": mode} | ({exposure.role: case} if case else {})
                asked.setdefault((exposure.share, *sorted(roles.items())), (exposure.share, roles))
    zero = []
    for task in block.first.tasks:
        evaluation = block.evaluation(task)
        for share in ("stand_share", "lapsed_stand_share"):
            standing = evaluation(share)
            zero += [block.truths(standing == 0.0), block.truths(standing == 1.0)]
        zero += [block.truths(evaluation(share, **roles) == 0) for share, roles in asked.values()]
    return [row.tobytes() for row in np.stack(zero, axis=-1)] if zero else [b""] * len(block.states)
