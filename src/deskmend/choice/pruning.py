"""Dropping of labels that cannot lead to an assignment as good as wanted.

With a price for each resource instead of its limit, a label and the least that must still be added to it
give a lower limit for every assignment it leads to.  All in whole numbers, so nothing is dropped wrongly,
whatever the prices are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.choice.labels import Keep, Relation
from deskmend.choice.passes import Remainders, Remaining
from deskmend.choice.validation import BoolArray, IntArray


@dataclass(frozen=True)
class Pruning:
    """Drops labels that cannot lead to an assignment as good as wanted.

    Parameters
    ----------
    remaining : Remaining
        What must still be added, in priced units.
    weights : sequence of int
        Price of each resource.
    leading_weight : int
        Weight of what leads the order of preference.
    leading_unit : int
        What one unit of it is in the first word.
    most : int
        Priced sum that no wanted assignment exceeds.
    """

    remaining: Remaining
    weights: Sequence[int]
    leading_weight: int
    leading_unit: int
    most: int

    def on_the_way(self, place: int, joined: int) -> Keep:
        """Tell what to keep of a join on the way.

        Parameters
        ----------
        place : int
            Position of the step.
        joined : int
            Position of the join.

        Returns
        -------
        callable
            True where a label of the relation may still lead to a wanted assignment.
        """
        return self._keep(self.remaining.on_the_way[place][joined])

    def result(self, place: int) -> Keep:
        """Tell what to keep of a step's result.

        Parameters
        ----------
        place : int
            Position of the step.

        Returns
        -------
        callable
            True where a label of the relation may still lead to a wanted assignment.
        """
        return self._keep(self.remaining.results[place])

    def _keep(self, remainders: Remainders) -> Keep:
        def keep(relation: Relation) -> BoolArray:
            priced: IntArray = relation.words[0] // self.leading_unit * self.leading_weight
            for weight, taken in zip(self.weights, relation.taken, strict=True):
                priced = priced + weight * taken
            return priced + remainders.at(relation.cell) <= self.most

        return keep
