"""How far two plans can be told apart: what errors of measures and estimates leave of their difference.

Every measure and every estimate is off by its standard deviation, one at a time, up and down, in both plans
at once with their fixes kept. What that changes in the difference of their strains is added up in squares.
What an error does to both plans alike falls out, so a plan is told from another long before the strain of
either is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from math import isqrt

import numpy as np

from deskmend.intake.case import Case
from deskmend.intake.reading.fields import ranges
from deskmend.intake.reading.given_measure import spread_of
from deskmend.measures import Micro, Mm
from deskmend.planning.draws import (
    UncertainLength,
    case_with,
    residuals_given,
    state_with_body,
    uncertain_lengths,
)
from deskmend.planning.model.options import OptionSpec, refitted
from deskmend.planning.model.states import SlotChanges, StateArrays, alike_in
from deskmend.planning.score import strain_of_block
from deskmend.planning.selection import moves_of
from deskmend.workstation.body import DIMENSIONS
from deskmend.workstation.effects import by_slot
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.graph import Array
from deskmend.workstation.state import Owner, State, state_of

__all__ = ["LEAST_SHARE_TOLD", "Noise"]

LEAST_SHARE_TOLD = 100
"""A difference is worth telling where it is more than one part in so many of today's strain (judgement)."""

LIGHT_OFF = 0.2
"""Standard deviation of light read off a telephone or a plain meter, as a share of it (judgement: what meters
of the simplest class may be off, from memory)."""

World = tuple[Case, State]
"""What may be there instead of what the case says."""
PlanKey = frozenset[tuple[Owner, str]]


class Noise:
    """Tells the plans of one case apart; a plan is the options it takes.

    - `case`, `state`: what the case says.
    - `weights`: of the regions [-].
    """

    def __init__(self, case: Case, state: State, weights: dict[str, float]) -> None:
        self._case, self._state, self._weights = case, state, weights
        self._strains: dict[PlanKey, list[Micro]] = {}

    def strain(self, options: Iterable[OptionSpec]) -> Micro:
        """Strain that a plan leaves where every measure and estimate holds."""
        return self._strains_of(tuple(options))[0]

    def sd(self, one: Iterable[OptionSpec], other: Iterable[OptionSpec]) -> Micro:
        """Standard deviation of the difference of strain of two plans, rounded down to whole units."""
        return isqrt(self._variance_twice(tuple(one), tuple(other)) // 2)

    def told_apart(self, one: Iterable[OptionSpec], other: Iterable[OptionSpec]) -> bool:
        """Whether the strains of two plans differ by more than their noise and by what is worth telling."""
        plans = tuple(one), tuple(other)
        difference = abs(self._strains_of(plans[0])[0] - self._strains_of(plans[1])[0])
        if LEAST_SHARE_TOLD * difference <= self._now:
            return False
        return 2 * difference**2 > self._variance_twice(*plans)

    def least_sure(
        self, one: Sequence[OptionSpec], other: Sequence[OptionSpec]
    ) -> tuple[UncertainLength, Micro] | None:
        """Measure or estimate that moves the difference of two plans most when it alone is off by its SD.

        With it by how much, over both its ends. None where nothing moves it.
        """
        length, by = max(self.moves(one, other), key=lambda each: each[1], default=(None, 0))
        return (length, by) if length is not None and by else None

    def hides(self, better: Sequence[OptionSpec], given: Sequence[OptionSpec]) -> UncertainLength | None:
        """Measure that moves their difference most, where that would be worth telling; else None."""
        if LEAST_SHARE_TOLD * (self.strain(given) - self.strain(better)) <= self._now:
            return None
        found = self.least_sure(better, given)
        return None if found is None else found[0]

    def moves(
        self, one: Sequence[OptionSpec], other: Sequence[OptionSpec]
    ) -> list[tuple[UncertainLength, Micro]]:
        """Every measure and estimate, with how far each alone moves the difference of two plans."""
        worlds = [(self._case, self._state), *(world for _, ends in self._each_alone for world in ends)]
        here, there = (self._after([tuple(plan)], self._moved(plan), worlds)[0] for plan in (one, other))
        said, *rest = (a - b for a, b in zip(here, there, strict=True))
        ends_of = iter(rest)
        return [
            (length, isqrt(sum((next(ends_of) - said) ** 2 for _ in ends) // len(ends)))
            for length, ends in self._each_alone
        ]

    @cached_property
    def _each_alone(self) -> list[tuple[UncertainLength, tuple[World, ...]]]:
        """Every measure and estimate that can be off, with its worlds."""
        return [(length, ends) for length in uncertain_lengths(self._case) if (ends := self._alone(length))]

    def _moved(self, plan: Iterable[OptionSpec]) -> State:
        """The state with tasks where a plan puts them."""
        return self._state.with_values({}, {**self._state.place_of, **moves_of(plan)})

    def variance(self, of: Callable[[State], Array]) -> Array:
        """Variance that the errors leave of what follows from a state as it is, figure by figure."""
        said = of(self._state)
        offs = [of(state) - said for _, state in self._worlds[1:]]
        out: Array = np.zeros_like(said)
        for weight, off in zip(self._halves, offs, strict=True):
            out += 0.5 * weight * off**2
        return out

    def _alone(self, length: UncertainLength) -> tuple[World, ...]:
        if not length.estimated:
            return self._measured(length)
        name = str(length.path[-1])
        offs = [length.value + sign * length.sd for sign in (-1.0, 1.0)]
        return tuple(
            (self._case, state_with_body(self._state, {name: value}))
            for value in offs
            if _possible({name: value})
        )

    def know(self, plans: Iterable[Sequence[OptionSpec]]) -> None:
        """Score many plans at once that will be asked about, which takes far less than one by one."""
        waiting = {_key(plan): plan for plan in plans}
        fresh = [(key, plan) for key, plan in waiting.items() if key not in self._strains]
        for alike in alike_in(tuple(sorted(moves_of(plan).items())) for _, plan in fresh):
            first = self._moved(fresh[alike[0]][1])
            found = self._after([fresh[i][1] for i in alike], first, self._worlds)
            for i, one in zip(alike, found, strict=True):
                self._strains[fresh[i][0]] = one

    def _after(
        self, plans: Sequence[Sequence[OptionSpec]], first: State, worlds: Sequence[World]
    ) -> list[list[Micro]]:
        """Strain after plans that move the same tasks, each in every world, tasks lying as in `first`."""
        changes: list[SlotChanges] = []
        for plan in plans:
            if all(refitted(option, self._case) is option for option in plan):
                alike = by_slot(change for option in plan for change in option.changes)
                changes += [alike] * len(worlds)
                continue
            for case, _ in worlds:
                there = [refitted(option, case) for option in plan]
                changes.append(by_slot(change for one in there for change in one.changes))
        count = len(worlds)
        states = [state for _, state in worlds] * len(plans)
        strains = strain_of_block(StateArrays(states, changes, first), [self._weights] * len(states))
        return [strains[k : k + count] for k in range(0, len(strains), count)]

    def _strains_of(self, plan: Sequence[OptionSpec]) -> list[Micro]:
        """Strain of a plan in every world, first in that of the case."""
        key = _key(plan)
        if key not in self._strains:
            self.know([plan])
        return self._strains[key]

    @cached_property
    def _now(self) -> Micro:
        return self._strains_of(())[0]

    def _variance_twice(self, one: Sequence[OptionSpec], other: Sequence[OptionSpec]) -> int:
        """Twice the variance of the difference; whole, since the mean of two ends of a measure is not."""
        here, there = self._strains_of(one), self._strains_of(other)
        difference = here[0] - there[0]
        offs = [a - b - difference for a, b in zip(here, there, strict=True)]
        return sum(weight * off**2 for weight, off in zip(self._halves, offs[1:], strict=True))

    @cached_property
    def _worlds(self) -> tuple[World, ...]:
        return ((self._case, self._state), *(world for ends in self._off for world in ends))

    @cached_property
    def _halves(self) -> list[int]:
        """Halves of a square that each world but the first counts: two where it is the only end."""
        return [2 // len(ends) for ends in self._off for _ in ends]

    @cached_property
    def _off(self) -> tuple[tuple[World, ...], ...]:
        """Worlds of each measure and estimate: up and down by its standard deviation, as far as it may be."""
        taken = [one for one in uncertain_lengths(self._case) if not one.estimated]
        found = [self._measured(length) for length in taken]
        return tuple(ends for ends in (*found, *self._lit(), *self._estimated()) if ends)

    def _measured(self, length: UncertainLength) -> tuple[World, ...]:
        offs = [-length.sd] * (length.down >= length.sd) + [length.sd] * (length.up >= length.sd)
        cases = [case_with(self._case, {length.path: length.value + off}) for off in offs]
        return tuple((case, state_of(case)) for case in cases)

    def _lit(self) -> Iterator[tuple[World, ...]]:
        """Worlds of the light that is measured at each place."""
        for number, place in enumerate(self._case.places):
            lux = place.light.lux
            if lux is None:
                continue
            spread, allowed = spread_of(lux, "light.lux"), ranges()["light.lux"]
            sd = LIGHT_OFF * lux if spread is None else spread.sd
            cases = [
                case_with(self._case, {("places", number, "light", "lux"): lux + off})
                for off in (-sd, sd)
                if lux + off in allowed
            ]
            yield tuple((case, state_of(case)) for case in cases)

    def _estimated(self) -> list[tuple[World, ...]]:
        """Worlds of estimates, which go together: each moves all by a column of their covariance's root.

        What the columns add up to in squares is the variance with all correlations.
        """
        body = self._state.body
        names = tuple(name for name in body.estimated if f"body.{name}" in FIELDS)
        if not names:
            return []
        known = tuple(name for name in DIMENSIONS if not body.dimensions[name].estimated)
        _, factor = residuals_given(names, known, np.zeros(len(known)), body.spreads)
        out = []
        for column in factor.T:
            offs = [round(float(off), 1) for off in column]
            ends = [
                state_with_body(self._state, lengths)
                for sign in (-1.0, 1.0)
                if _possible(lengths := {n: body[n] + sign * off for n, off in zip(names, offs, strict=True)})
            ]
            out.append(tuple((self._case, state) for state in ends))
        return out


def _possible(lengths: dict[str, Mm]) -> bool:
    """Whether body dimensions lie within their ranges."""
    return all(FIELDS[f"body.{n}"].low <= one <= FIELDS[f"body.{n}"].high for n, one in lengths.items())


def _key(plan: Iterable[OptionSpec]) -> PlanKey:
    return frozenset((option.owner, option.name) for option in plan)
