"""Prices for limited resources under which the relaxed optimum comes close to the true one.

Any prices give a valid lower limit; good ones give a high one.  One resource after the other is priced by
going along the lower hull of what leads against what is taken: a price makes two assignments equally good,
and the next pass either finds one below both or shows that the price is the best.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from deskmend.choice.elimination.tree import Found, Resource, Tree

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
    scale: int = 1
    weights: dict[Resource, int] = field(default_factory=dict)
    least: int | None = None
    kept: dict[Resource, int] = field(default_factory=dict)

    def run(self) -> Prices | None:
        for resource, cap in self.caps.items():
            thriftiest = self.tree.thriftiest(resource)
            if thriftiest is None or thriftiest.taken[resource] > cap:
                return None
        # as finely as 62 bits allow, within reason
        room = max(1, self.tree.leading_total) * (len(self.caps) + 1)
        self.scale = max(1, min(LARGEST_SCALE, SCALE_LIMIT // room))
        self.weights = dict.fromkeys(self.caps, 0)
        self.kept = dict(self.weights)
        for _ in range(1 if len(self.caps) == 1 else 2):
            for resource in self.caps:
                self._price(resource)
        assert self.least is not None
        keeping = [
            found
            for found in self.tree.pool
            if all(found.taken[resource] <= cap for resource, cap in self.caps.items())
        ]
        best = min(keeping, key=lambda found: found.leading, default=None)
        return Prices(self.scale, self.kept, max(0, self.least), best)

    def _price(self, resource: Resource) -> None:
        """Find the price of one resource, the others as they are."""
        for _ in range(MOST_ROUNDS):
            known = self._set_price(resource)
            best = self.tree.best_priced(self.scale, self.weights)
            assert best is not None
            room = sum(weight * self.caps[name] for name, weight in self.weights.items())
            least = -(-(best[1] - room) // self.scale)
            if self.least is None or least > self.least:
                self.least, self.kept = least, dict(self.weights)
            if best[1] >= known:
                return

    def _set_price(self, resource: Resource) -> int:
        """Set the price that the assignments met so far suggest; return the least priced sum of them.

        Along the lower hull of what leads against what is taken, the price is the slope where the limit is
        crossed.
        """
        self.weights[resource] = 0
        pool = self.tree.pool
        taken = [found.taken[resource] for found in pool]
        worth = [
            self.scale * found.leading
            + sum(weight * found.taken[name] for name, weight in self.weights.items())
            for found in pool
        ]
        places = range(len(pool))
        lavish = min(places, key=lambda k: (worth[k], taken[k]))
        thrifty = min(places, key=lambda k: (taken[k], worth[k]))
        # no price may exceed what keeps every sum within its word
        largest = SCALE_LIMIT // (len(self.caps) + 1) // max(1, self.tree.total(resource))
        price = 0
        while taken[lavish] > self.caps[resource]:
            price = min((worth[thrifty] - worth[lavish]) // (taken[lavish] - taken[thrifty]), largest)
            lowest = min(places, key=lambda k: (worth[k] + price * taken[k], taken[k]))
            sums = [worth[k] + price * taken[k] for k in (lowest, lavish, thrifty)]
            if sums[0] >= min(sums[1:]):
                break
            if taken[lowest] > self.caps[resource]:
                lavish = lowest
            else:
                thrifty = lowest
        self.weights[resource] = price
        return min(worth[k] + price * taken[k] for k in places)
