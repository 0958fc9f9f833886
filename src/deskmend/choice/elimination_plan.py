"""What is joined with what: an elimination order turned into steps over numbered relations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from deskmend.choice.network import Scope


@dataclass(frozen=True)
class Step:
    """One variable leaves.

    Parameters
    ----------
    inputs : tuple of int
        Relations to join, in this order.
    scopes : tuple of tuple of int
        Scope after each of them has been joined.
    onto : tuple of int
        Scope of the result, without the variable that leaves.
    output : int
        Number of the result.
    """

    inputs: tuple[int, ...]
    scopes: tuple[Scope, ...]
    onto: Scope
    output: int


def plan_of(
    scopes: Sequence[Scope],
    sizes: Sequence[int],
    links: Mapping[int, int],
    order: Sequence[int],
) -> list[Step]:
    """Turn an elimination order into steps; the last step joins what has no variable left.

    Parameters
    ----------
    scopes : sequence of tuple of int
        Scope of each relation at the start.
    sizes : sequence of int
        Number of states of each variable.
    links : mapping
        For each node, the relation that ties it to the variables that determine it. A link adds nothing, so
        it may be joined again wherever it keeps combinations out that cannot occur.
    order : sequence of int
        Variables in the order they leave; every variable of the scopes.

    Returns
    -------
    list of Step
        Depending only on scopes and sizes, so that it is the same whatever the relations hold.
    """
    live = dict(enumerate(scopes))
    tied = {number: frozenset(node for node, link in links.items() if link == number) for number in live}
    steps = []
    output = len(live)
    for leaving in [*order, None]:
        bucket = {number: scope for number, scope in live.items() if leaving is None or leaving in scope}
        if not bucket:
            continue
        join = _Join(sizes, scopes, links, tied)
        join.run(bucket)
        for number in bucket:
            del live[number]
        onto = tuple(variable for variable in join.reached[-1] if variable != leaving)
        steps.append(Step(tuple(join.inputs), tuple(join.reached), onto, output))
        live[output] = onto
        left = set(onto)
        tied[output] = frozenset(node for node in join.tied if left.issuperset(scopes[links[node]]))
        output += 1
    return steps


class _Join:
    """The order in which the relations of one step are joined: what keeps the result small comes first.

    So small relations are added up among themselves before a large one is gone through, once for all of them.
    """

    def __init__(
        self,
        sizes: Sequence[int],
        scopes: Sequence[Scope],
        links: Mapping[int, int],
        tied: Mapping[int, frozenset[int]],
    ) -> None:
        self._sizes = sizes
        self._scopes = scopes
        self._links = links
        self._tied_by = tied
        self.inputs: list[int] = []
        self.reached: list[Scope] = []
        self.tied: set[int] = set()

    def run(self, bucket: Mapping[int, Scope]) -> None:
        left = dict(bucket)
        everything = frozenset[int]().union(*left.values())
        for node, link in self._links.items():
            if node in everything and everything.issuperset(self._scopes[link]):
                left.setdefault(link, self._scopes[link])
        held: set[int] = set()
        while left:
            number = min(left, key=lambda number: self._rank(held, number, left[number]))
            scope = left.pop(number)
            if number not in bucket and self._links_known(number, held):
                continue
            held |= set(scope)
            self.tied |= self._tied_by[number]
            self.inputs.append(number)
            self.reached.append(tuple(sorted(held)))

    def _links_known(self, number: int, held: set[int]) -> bool:
        return held.issuperset(self._scopes[number]) and self._tied_by[number] <= self.tied

    def _rank(self, held: set[int], number: int, scope: Scope) -> tuple[int, int, int]:
        return self._cells(held | set(scope), self.tied | self._tied_by[number]), -len(scope), number

    def _cells(self, scope: set[int], tied: set[int] | frozenset[int]) -> int:
        product = 1
        for variable in scope:
            if variable not in tied:
                product *= self._sizes[variable]
        return product
