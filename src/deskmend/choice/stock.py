"""The stock of owned pieces, good plans near a known one, and masks of what is worth looking at.

Decision after decision is changed, each time where most is gained, until no single change gains anything.
That proves nothing, but a search that knows its value can leave out whatever leads to more.

Pieces that cannot be bought (a book of one thickness, say) couple every decision that may use them, and that
is seldom decisive.  What is best without a limit and keeps the limit is best with it; only an assignment that
overdraws the stock parts the problem, or has it searched with its stock.

They are implied by a limit on the value, so no answer within it changes; what is searched afterwards pairs
far less.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from math import prod

import numpy as np

from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.elimination.order import KnownOrders
from deskmend.choice.elimination.search import CaseSearch
from deskmend.choice.elimination.tree import Objective
from deskmend.choice.network import VariableNumbers, build, settled
from deskmend.choice.problem import BoolArray, Decision, IntArray, Item, Mask, Option, Problem, most_used
from deskmend.choice.purchases import UNAVAILABLE, cost_of
from deskmend.choice.result import Choice, Scored, evaluate
from deskmend.choice.variants import cases_of, gates_of

MOST_CHANGES = 60
"""Changes after which the search ends; each is the best of all single ones."""


@dataclass
class WarmStart:
    """What answers to problems much alike have shown: it spares work, and changes no answer.

    A local search begins from ``starts``; a unit of money costs ``cost_price`` where what leads counts
    ``scale`` times, 0: not known yet.  ``orders`` are those in which variables left.
    """

    starts: Sequence[Mapping[str, str]] = ({},)
    scale: int = 0
    cost_price: int = 0
    orders: KnownOrders = field(default_factory=KnownOrders)


def local_search(problem: Problem, starts: Iterable[Mapping[str, str]]) -> Scored | None:
    """Find an assignment that keeps to everything, from the best of some starts; None where none is met.

    Of a start counts what the problem has; all else is kept as it is.  Only for problems that look for the
    least value without side limits; of others nothing is told.
    """
    if problem.first != "value" or problem.bounds:
        return None
    assignments = _Assignments(problem)
    columns = [assignments.states(start) for start in starts]
    if not columns:
        return None
    best, rank = assignments.best(np.stack(columns, axis=1))
    for _ in range(MOST_CHANGES):
        better, its_rank = assignments.best(assignments.changes(best))
        if its_rank >= rank:
            break
        best, rank = better, its_rank
    scored = evaluate(problem, assignments.names(best))
    return None if scored.violations else scored


class _Assignments:
    """Assignments of a problem, scored at once: a row a decision, a column an assignment."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._sizes = [len(decision.options) for decision in problem.decisions]
        self._minutes = [np.array([o.minutes for o in d.options], dtype=np.int64) for d in problem.decisions]
        masks: dict[tuple[str, ...], BoolArray] = {}
        for mask in problem.masks:
            if not mask.implied:
                known = masks.get(mask.scope)
                masks[mask.scope] = mask.allowed if known is None else known & mask.allowed
        self._masks = list(masks.items())
        self._forbidden = [
            {name: problem.state_of(name, state) for name, state in entry.items()}
            for entry in problem.forbidden
        ]
        self._uses = []
        for item in problem.items:
            uses = [
                (row, np.array([option.use.get(item.name, 0) for option in decision.options], dtype=np.int64))
                for row, decision in enumerate(problem.decisions)
            ]
            used = [(row, units) for row, units in uses if units.any()]
            if used:
                self._uses.append((item, used))

    def states(self, options: Mapping[str, str]) -> IntArray:
        """An assignment as positions of options, the first where it tells none that there is."""
        places = [{option.name: k for k, option in enumerate(d.options)} for d in self._problem.decisions]
        return np.array(
            [
                place.get(options.get(decision.name, ""), 0)
                for place, decision in zip(places, self._problem.decisions, strict=True)
            ],
            dtype=np.int64,
        )

    def names(self, states: IntArray) -> dict[str, str]:
        """An assignment by names."""
        rows = zip(self._problem.decisions, states.tolist(), strict=True)
        return {decision.name: decision.options[position].name for decision, position in rows}

    def changes(self, states: IntArray) -> IntArray:
        """All assignments that differ from one in a single decision."""
        rows = np.repeat(np.arange(len(self._sizes)), self._sizes)
        out = np.repeat(states[:, np.newaxis], rows.size, axis=1)
        out[rows, np.arange(rows.size)] = np.concatenate([np.arange(size) for size in self._sizes])
        return out

    def best(self, states: IntArray) -> tuple[IntArray, tuple[int, ...]]:
        """The best of some assignments, and its rank: what it breaks, is over the money, and is worth."""
        problem = self._problem
        count = states.shape[1]
        at = {decision.name: row for decision, row in zip(problem.decisions, states, strict=True)}
        for node in problem.nodes:
            at[node.name] = node.index[tuple(at[name] for name in node.scope)]
        broken = np.zeros(count, dtype=np.int64)
        for scope, allowed in self._masks:
            broken += ~allowed[tuple(at[name] for name in scope)]
        for entry in self._forbidden:
            broken += np.logical_and.reduce([at[name] == state for name, state in entry.items()])
        cost = np.zeros(count, dtype=np.int64)
        for item, used in self._uses:
            total = sum(units[states[row]] for row, units in used)
            amounts, which = np.unique(total, return_inverse=True)
            costs = cost_of(item, amounts.tolist())[which.ravel()]
            broken += costs == UNAVAILABLE
            cost += np.where(costs == UNAVAILABLE, 0, costs)
        if problem.minutes is not None:
            minutes = sum(own[row] for own, row in zip(self._minutes, states, strict=True))
            broken += minutes > problem.minutes
        over = np.zeros(count, dtype=np.int64)
        if problem.money is not None:
            over = np.maximum(0, cost - problem.money)
        value = np.zeros(count, dtype=np.int64)
        for table in problem.tables:
            worth = table.values[tuple(at[name] for name in table.scope)]
            if table.when is not None:
                gate = table.when[0]
                worth = np.where(at[gate] == problem.state_of(*table.when), worth, 0)
            value += worth
        first = np.lexsort((cost, value, over, broken))[0]
        rank = tuple(int(figure[first]) for figure in (broken, over, value, cost))
        return states[:, first], rank


def without_stock(problem: Problem) -> Problem:
    """Let there be any number of items that cannot be bought and that several decisions may use."""
    most = most_used(problem)
    users = Counter(name for decision in problem.decisions for name in _used(decision))
    options = [option for decision in problem.decisions for option in decision.options]
    items = []
    for item in problem.items:
        if item.price is None and users[item.name] > 1:
            # No option may take more alone than there is, whatever the others take.
            if not any(option.use.get(item.name, 0) > item.owned for option in options):
                item = Item(item.name, None, item.pack, max(item.owned, most[item.name]))
        items.append(item)
    return replace(problem, items=items)


def repaired(problem: Problem, choice: Choice) -> Scored | None:
    """Find an assignment that keeps to all limits near one that overdraws the stock; None where none is met.

    One decision after the other takes less of what is overdrawn, each time where least value is lost.
    """
    options = dict(choice.options)
    for _ in problem.decisions:
        guilty = _overdrawing(problem, options)
        if not guilty:
            break
        better = [
            evaluate(problem, options | {decision.name: option.name})
            for decision in guilty
            for option in _taking_less(problem, decision, options[decision.name])
        ]
        if not better:
            return None
        options = dict(min(better, key=lambda one: (len(one.violations), one.value)).options)
    scored = evaluate(problem, options)
    return None if scored.violations else scored


def _taking_less(problem: Problem, decision: Decision, name: str) -> list[Option]:
    """Options of a decision that take less than one of it of what cannot be bought, and no more of any."""
    now = decision.options[problem.state_of(decision.name, name)].use
    owned = [item.name for item in problem.items if item.price is None]
    out = []
    for option in decision.options:
        change = [option.use.get(item, 0) - now.get(item, 0) for item in owned]
        if min(change) < 0 and max(change) <= 0:
            out.append(option)
    return out


def split(problem: Problem, relaxed: Problem, choice: Choice) -> list[Problem]:
    """Part a relaxed problem where its best assignment uses more pieces than are owned.

    Together the parts allow what `relaxed` does but for this overdraft and others of the same decisions.
    Empty where the assignment keeps to what is owned.
    """
    guilty = _overdrawing(problem, choice.options)
    if not guilty:
        return []
    joint = _within_owned(problem, guilty)
    if len(guilty) > 2:
        return [with_masks(relaxed, joint)]
    # Either the other takes none of what both want, or it does and the one takes none, or both take some.
    one, other = guilty
    contested = {item.name for item in problem.items if item.price is None}
    contested &= _used(one) & _used(other)
    takes_one, takes_other = _takers(one, contested), _takers(other, contested)
    parts = [
        with_masks(relaxed, Mask((other.name,), np.logical_not(takes_other))),
        with_masks(relaxed, Mask((other.name,), takes_other), Mask((one.name,), np.logical_not(takes_one))),
    ]
    together = joint.allowed & np.outer(takes_one, takes_other)
    if together.any():
        # Few pieces go round twice, so what is left of both is small.
        alone = [
            Mask((decision.name,), np.array([row.any() for row in rows]))
            for decision, rows in ((one, together), (other, together.T))
        ]
        parts.append(with_masks(relaxed, *alone, Mask(joint.scope, together)))
    return parts


def _overdrawing(problem: Problem, options: Mapping[str, str]) -> list[Decision]:
    """As few decisions as overdraw some item together, by name; empty where none do."""
    taken = [
        decision.options[problem.state_of(decision.name, options[decision.name])].use
        for decision in problem.decisions
    ]
    for item in problem.items:
        if item.price is not None:
            continue
        uses = [(use.get(item.name, 0), d) for use, d in zip(taken, problem.decisions, strict=True)]
        uses.sort(key=lambda entry: (-entry[0], entry[1].name))
        total, count = 0, 0
        while total <= item.owned and count < len(uses):
            total += uses[count][0]
            count += 1
        if total > item.owned:
            return sorted((decision for _, decision in uses[:count]), key=lambda decision: decision.name)
    return []


def with_masks(problem: Problem, *masks: Mask) -> Problem:
    """The same problem with further masks."""
    return replace(problem, masks=(*problem.masks, *masks))


def _used(decision: Decision) -> set[str]:
    return {name for option in decision.options for name, units in option.use.items() if units}


def _takers(decision: Decision, items: set[str]) -> BoolArray:
    """Options of a decision that take any of some items."""
    return np.array([any(option.use.get(name, 0) for name in items) for option in decision.options])


def _within_owned(problem: Problem, guilty: list[Decision]) -> Mask:
    """Combinations of some decisions that together keep to what is owned."""
    allowed = np.ones([len(decision.options) for decision in guilty], dtype=np.bool_)
    for item in problem.items:
        if item.price is None:
            uses = [np.array([o.use.get(item.name, 0) for o in decision.options]) for decision in guilty]
            allowed &= np.asarray(reduce(np.add.outer, uses) <= item.owned)
    return Mask(tuple(decision.name for decision in guilty), allowed)


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
