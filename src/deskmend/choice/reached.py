"""Masks that bar what no assignment worth looking at passes, as a search of a looser problem shows.

They are implied by a limit on the value, so no answer within it changes; what is searched afterwards pairs
far less.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from math import prod

import numpy as np

from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.elimination.search import CaseSearch
from deskmend.choice.elimination.tree import Objective
from deskmend.choice.gates import cases_of, gates_of
from deskmend.choice.network import VariableNumbers, build, settled
from deskmend.choice.problem import BoolArray, Mask, Problem
from deskmend.choice.stock import with_masks, without_stock

MOST_MASK_CELLS = 100_000
"""Larger masks would take longer to make than they save."""


def with_stock(problem: Problem, search: CaseSearch, most: int | None = None) -> Problem:
    """A problem without what a search of it without its stock shows not to be wanted.

    Wanted is what keeps all limits with at most so much of the figure that leads; None: what the search has
    not let go of.  With its stock nothing is better than without, so all that is wanted is left.
    """
    return with_masks(problem, *masks_of(problem, search, search.cells_within(most)))


class ReachedValues:
    """What assignments up to some value pass, whatever things cost and however much may be spent.

    One search serves every price and every limit; where it would be too entangled nothing is barred.
    """

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._searches: list[CaseSearch] = []
        self._known: dict[int, list[Mask]] = {}
        try:
            for case in cases_of(replace(problem, money=None, minutes=None, first="value")):
                case = without_stock(case)
                network = build(case)
                if settled(case, network) is None:
                    self._searches.append(CaseSearch(case, network))
        except TooWide:
            self._searches = []

    def up_to(self, value: int) -> list[Mask]:
        """Masks that every assignment of at most a value keeps."""
        if value not in self._known:
            masks = []
            for search in self._searches:
                if search.any() is not None:
                    reached = search.tree.cells_up_to(Objective(), value - search.shift)
                    masks += masks_of(self._problem, search, reached)
            self._known[value] = masks
        return self._known[value]


def masks_of(
    problem: Problem, search: CaseSearch, reached: Iterable[tuple[VariableNumbers, BoolArray]]
) -> list[Mask]:
    """Masks of a problem from what a search of it, or of one of its cases, reached over its variables.

    Of a case they hold where its gates stand as they do there.
    """
    network, case = search.network, search.problem
    sizes = {d.name: len(d.options) for d in problem.decisions} | {n.name: n.size for n in problem.nodes}
    kept = {network.names[v]: positions for v, positions in enumerate(network.kept)}
    for decision in case.decisions:
        options = [decision.options[k].name for k in kept[decision.name].tolist()]
        kept[decision.name] = np.array([problem.state_of(decision.name, name) for name in options])
    single = {decision.name for decision in case.decisions if len(decision.options) == 1}
    gates = [name for name in gates_of(problem) if name in single and sizes[name] > 1]
    masks = []
    for scope, allowed in reached:
        own = tuple(network.names[variable] for variable in scope)
        names = (*(gate for gate in gates if gate not in own), *own)
        shape = [sizes[name] for name in names]
        if allowed.all() or prod(shape) > MOST_MASK_CELLS:
            continue
        # states that the search left out are never better than others, but others may not be to be had
        whole = np.ones(shape, dtype=np.bool_)
        whole[np.ix_(*(kept[name] for name in names))] = allowed[(None,) * (len(names) - len(own))]
        masks.append(Mask(names, whole, implied=True))
    return masks
