"""Prices for limited resources under which the relaxed optimum comes close to the true one.

Any prices give a valid lower limit; good ones give a high one.  One resource after the other is priced by
going along the lower hull of what leads against what is taken: a price makes two assignments equally good,
and the next pass either finds one below both or shows that the price is the best.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from deskmend.choice.parts import Resource
from deskmend.choice.tree import Found, Tree

SCALE_LIMIT = 2**60
LARGEST_SCALE = 2**20
MOST_ROUNDS = 12
"""Passes spent on the price of one resource."""


@dataclass
class Prices:
    """Prices and what they showed.

    Parameters
    ----------
    leading_weight : int
        Weight of what leads the order of preference.
    weights : dict
        Weight of each resource.
    least : int
        What leads cannot be less than this within the limits.
    best : Found or None
        The best assignment met that keeps all limits.
    """

    leading_weight: int
    weights: dict[Resource, int]
    least: int
    best: Found | None


def search_prices(tree: Tree, caps: Mapping[Resource, int]) -> Prices | None:
    """Search prices for limited resources.

    Parameters
    ----------
    tree : Tree
        What is solved.
    caps : mapping
        Limit of each resource.

    Returns
    -------
    Prices or None
        None when some resource cannot be kept whatever is chosen.
    """
    return _Search(tree, caps).run()


@dataclass
class _Search:
    tree: Tree
    caps: Mapping[Resource, int]
    weights: dict[Resource, int] = field(default_factory=dict)
    scale: int = 1
    least: int | None = None
    kept: dict[Resource, int] = field(default_factory=dict)
    best: Found | None = None

    def run(self) -> Prices | None:
        self.scale = self._scale()
        self.weights = dict.fromkeys(self.caps, 0)
        self.kept = dict(self.weights)
        thrifty: dict[Resource, Found] = {}
        for resource, cap in self.caps.items():
            cheapest = self.tree.best_priced(0, {resource: 1})
            if cheapest is None:
                return None
            found = cheapest[0]
            if found.taken[resource] > cap:
                return None
            self._note(found)
            thrifty[resource] = found
        rounds = 1 if len(self.caps) == 1 else 2
        for _ in range(rounds):
            for resource in self.caps:
                self._price(resource, thrifty[resource])
        assert self.least is not None
        return Prices(self.scale, self.kept, max(0, self.least), self.best)

    def _scale(self) -> int:
        """How finely prices are told apart: as finely as 62 bits allow, within reason."""
        room = max(1, self.tree.leading_total) * (len(self.caps) + 1)
        return max(1, min(LARGEST_SCALE, SCALE_LIMIT // room))

    def _price(self, resource: Resource, thrifty: Found) -> None:
        """Find the price of one resource, the others as they are."""
        self.weights[resource] = 0
        lavish = self._pass()
        if lavish.taken[resource] <= self.caps[resource]:
            return
        for _ in range(MOST_ROUNDS):
            saved = lavish.taken[resource] - thrifty.taken[resource]
            dearer = self._priced(thrifty) - self._priced(lavish)
            dearer -= self.weights[resource] * (thrifty.taken[resource] - lavish.taken[resource])
            if saved <= 0 or dearer <= 0:
                return
            # no price may exceed what keeps every sum within its word
            largest = SCALE_LIMIT // (len(self.caps) + 1) // max(1, self.tree.total(resource))
            price = min(dearer // saved, largest)
            if price == self.weights[resource]:
                return
            self.weights[resource] = price
            found = self._pass()
            if found.states in (lavish.states, thrifty.states):
                return
            if found.taken[resource] > self.caps[resource]:
                lavish = found
            else:
                thrifty = found

    def _priced(self, found: Found) -> int:
        return self.scale * found.leading + sum(
            weight * found.taken[resource] for resource, weight in self.weights.items()
        )

    def _pass(self) -> Found:
        best = self.tree.best_priced(self.scale, self.weights)
        assert best is not None
        found, priced = best
        self._note(found)
        room = sum(weight * self.caps[resource] for resource, weight in self.weights.items())
        least = -(-(priced - room) // self.scale)
        if self.least is None or least > self.least:
            self.least = least
            self.kept = dict(self.weights)
        return found

    def _note(self, found: Found) -> None:
        """Keep the best assignment met that breaks no limit."""
        if all(found.taken[resource] <= cap for resource, cap in self.caps.items()) and (
            self.best is None or found.leading < self.best.leading
        ):
            self.best = found
