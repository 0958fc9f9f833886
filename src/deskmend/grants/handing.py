"""Who is handed what in which size, and what is ordered for it: a shared fund in things and money.

The search counts packs for each person. Here sizes are told apart, what may be shared is ordered for all
together, and costs are split so that they add up to what the orders cost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from deskmend.errors import DefectError
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.terms import Allocation, ItemOrder
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import Gift, GivenBefore
from deskmend.intake.prices import PricedItem, PriceTable, plain_item, size_of_item
from deskmend.language import tr
from deskmend.measures import Minor
from deskmend.planning.bill import cheapest_packs
from deskmend.planning.model.options import number_text

__all__ = ["HandOver", "OrderLine", "given_again", "hand_over"]


@dataclass(frozen=True)
class OrderLine(ItemOrder):
    """What is bought of one item in one size; `needed` packs are handed out, those from store too."""

    size: str = ""
    """Empty where the item has none."""
    pack: int = 1
    """Units in a pack."""


@dataclass(frozen=True)
class HandOver:
    """What everybody is handed, by id, item and size, and what is ordered for it, by item and size."""

    gifts: tuple[Gift, ...]
    orders: tuple[OrderLine, ...]

    @property
    def cost(self) -> Minor:
        """What all orders cost; the gifts' costs add up to it."""
        return sum(order.cost for order in self.orders)


def hand_over(
    allocation: Allocation,
    plans: Mapping[str, GivenPlan],
    prices: PriceTable,
    catalog: Catalog,
    loose: Mapping[str, int],
) -> HandOver:
    """Hand out what an allocation gives; `loose` are units in store of what may be shared.

    Packs bought only because more are cheaper are paid by those the others are for, in equal parts a pack;
    the last minor units go by id, so costs add up to what the orders cost.
    """
    gifts: list[Gift] = []
    orders: list[OrderLine] = []
    for order in allocation.orders:
        priced, item = prices[order.item], plain_item(order.item)
        if item in catalog.items and catalog.items[item].shared and priced.pack > 1:
            needs = {name: _units(plan, order.item) for name, plan in plans.items()}
            needs = {name: units for name, units in needs.items() if units}
            line = _together(order, priced, sum(needs.values()), loose.get(item, 0))
            gifts += _in_units(line, needs)
            orders.append(line)
            continue
        mine = [*_by_size(order, allocation, plans, catalog)]
        gifts += _in_packs(order, priced, mine)
        orders += _lines(order, priced, mine)
    made = HandOver(
        tuple(sorted(gifts, key=lambda gift: (gift.id, gift.item, gift.size))),
        tuple(sorted(orders, key=lambda line: (line.item, _rank(line.size)))),
    )
    if sum(gift.cost for gift in made.gifts) != made.cost or made.cost > allocation.spent:
        raise DefectError(f"gifts and orders do not add up: {made.cost} ordered of {allocation.spent}")
    return made


def _rank(size: str) -> tuple[float, str]:
    return (float(size), size) if size.replace(".", "", 1).isdecimal() else (0.0, size)


def _units(plan: GivenPlan, item: str) -> int:
    return sum(line.units for line in plan.bill.lines if line.item == item)


def _together(order: ItemOrder, priced: PricedItem, units: int, loose: int) -> OrderLine:
    """Order what several share: whole packs for all of them together, what lies in store taken first."""
    item, size = plain_item(order.item), size_of_item(order.item)
    if units <= loose:
        return OrderLine(item, 0, 0, priced.price, size=size, pack=priced.pack)
    bought = cheapest_packs(priced, units - loose)
    if bought is None:
        raise DefectError(f"{order.item}: fewer packs for all together cannot be had")
    packs, cost = bought
    needed = -(-(units - loose) // priced.pack)
    return OrderLine(item, needed, packs, cost // packs, size=size, pack=priced.pack)


def _in_units(line: OrderLine, needs: Mapping[str, int]) -> Iterator[Gift]:
    """Split packs by units: whoever opens a pack is handed it, the others take from it."""
    total, before = sum(needs.values()), 0
    opened = 0
    for name in sorted(needs):
        end = before + needs[name]
        cost = line.cost * end // total - line.cost * before // total
        reached = min(line.needed, -(-end * line.needed // total))
        yield Gift(name, line.item, reached - opened, cost, line.size, needs[name])
        before, opened = end, reached


_Share = tuple[str, str, int]
"""Who, which size, how many packs."""


def _by_size(
    order: ItemOrder, allocation: Allocation, plans: Mapping[str, GivenPlan], catalog: Catalog
) -> Iterator[_Share]:
    item, size = plain_item(order.item), size_of_item(order.item)
    sized = not size and item in catalog.items and catalog.items[item].sized
    for name in sorted(allocation.chosen):
        packs = dict(allocation.chosen[name].packs).get(order.item, 0)
        if packs:
            yield name, _sizes(plans[name], order.item) if sized else size, packs


def _sizes(plan: GivenPlan, item: str) -> str:
    """Size in which a person needs a thing; two of them beside each other where steps differ."""
    sizes = {number_text(one.size) for one in plan.options if item in one.use and one.size is not None}
    return " ".join(sorted(sizes, key=_rank))


def _in_packs(order: ItemOrder, priced: PricedItem, mine: Sequence[_Share]) -> Iterator[Gift]:
    before = 0
    for name, size, packs in mine:
        end = before + packs
        cost = order.cost * end // order.needed - order.cost * before // order.needed
        yield Gift(name, plain_item(order.item), packs, cost, size, packs * priced.pack)
        before = end


def _lines(order: ItemOrder, priced: PricedItem, mine: Sequence[_Share]) -> Iterator[OrderLine]:
    """Lines of an order, one a size; what only makes it cheaper is taken in the size most people need."""
    needed: Counter[str] = Counter()
    for _, size, packs in mine:
        needed[size] += packs
    spare = order.packs + order.from_store - order.needed
    most = min(needed, key=lambda size: (-needed[size], _rank(size)))
    for size, packs in needed.items():
        # a size of its own is in store only where the price table tells sizes apart: then it is the only one
        bought = packs - (order.from_store if size == most else 0) + (spare if size == most else 0)
        yield OrderLine(plain_item(order.item), packs, bought, order.unit_price, size=size, pack=priced.pack)


def given_again(handed: HandOver, given: GivenBefore, catalog: Catalog) -> Iterator[str]:
    """Say who is given a thing that they have given back."""
    for gift in handed.gifts:
        if (gift.id, gift.item) in given.returned and gift.item in catalog.items:
            told = tr(
                "{id} gave this back and is given it again: {item}. Ask first; given.never in the table "
                "keeps it from them.",
                id=gift.id,
                item=tr(catalog.items[gift.item].title),
            )
            yield told
