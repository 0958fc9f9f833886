"""What a buyer asks next: up to which price a thing is worth buying, what else would do, what stays open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from deskmend.choice import Choice, Item, Problem, solve
from deskmend.choice.engines import most_used
from deskmend.errors import DefectError
from deskmend.planning.budgets import EveryBudget, Rung
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.prepared import Prepared
from deskmend.planning.score import StrainTerm
from deskmend.progress import tell_progress

__all__ = ["ItemWorth", "OpenStrain", "Substitute", "Worth", "worth_of"]


@dataclass(frozen=True)
class ItemWorth:
    """The highest price of a pack at which the best plan within the money buys a thing.

    Attributes
    ----------
    item : str
        Its id.
    packs : int
        How many packs the plan buys; 0: it is left out.
    price : int
        Of a pack now [minor units].
    up_to : int or None
        The highest price of a pack at which the best plan buys it, all else as it is [minor units]; None: at
        any price. -1: not even as a gift.
    strain_without : int or None
        Strain of the best plan that does not buy it [millionths of h/day]; None: there is no such plan.
    """

    item: str
    packs: int
    price: int
    up_to: int | None
    strain_without: int | None


@dataclass(frozen=True)
class Substitute:
    """The best plan that does without one thing, where it is nearly as good.

    Attributes
    ----------
    item : str
        What is not bought.
    strain, cost : int
        What it leaves [millionths of h/day] and costs [minor units].
    options : tuple of OptionSpec
        All it does.
    instead : tuple of OptionSpec
        What it does that the plan does not.
    """

    item: str
    strain: int
    cost: int
    options: tuple[OptionSpec, ...]
    instead: tuple[OptionSpec, ...]


@dataclass(frozen=True)
class OpenStrain:
    """Strain that the plan leaves, and the cheapest better plan that has less of it.

    Attributes
    ----------
    term : StrainTerm
        What is left.
    rung : Rung or None
        The first of the best plans for more money in which it is less; None: it is in none.
    then : int
        What is left of it there [millionths of h/day].
    enters : tuple of OptionSpec
        What that plan does that this one does not.
    """

    term: StrainTerm
    rung: Rung | None
    then: int
    enters: tuple[OptionSpec, ...]


@dataclass(frozen=True)
class Worth:
    """What a buyer asks next.

    Attributes
    ----------
    money : int or None
        Within which it is worked out [minor units].
    within : int
        How much more strain than the plan's a substitute may leave [percent].
    bought, left_out : tuple of ItemWorth
        Things of the plan, and things for sale that it leaves; the former by the strain that doing without
        them would leave, the latter by how near their price is.
    substitutes : tuple of Substitute
        One a thing at most.
    still_open : tuple of OpenStrain
        The largest first.
    following : Rung or None
        The best plan for the least money above the plan's that leaves less strain.
    """

    money: int | None
    within: int
    bought: tuple[ItemWorth, ...]
    left_out: tuple[ItemWorth, ...]
    substitutes: tuple[Substitute, ...]
    still_open: tuple[OpenStrain, ...]
    following: Rung | None


def worth_of(
    ready: Prepared,
    money: int | None,
    minutes: int | None,
    within: int = 5,
    every: EveryBudget | None = None,
) -> Worth:
    """Work out what each thing is worth to the best plan within money and time.

    Parameters
    ----------
    ready : Prepared
        The case.
    money : int or None
        Limit of the cost [minor units]; None: none.
    minutes : int or None
        Limit of the work [min].
    within : int
        How much more strain than the plan's a substitute may leave [percent].
    every : EveryBudget, optional
        Of the same case and minutes, where others ask for its plans too.

    Raises
    ------
    ValueError
        `within` is negative.
    deskmend.planning.prepared.NoPlan
        Nothing keeps to the limits.
    deskmend.errors.DefectError
        A check inside failed.

    Notes
    -----
    Every figure is a price at which the problem is solved again: at it the thing is bought, and one minor
    unit above it no longer. Prices for larger orders are left out of the question.
    """
    if within < 0:
        raise ValueError(f"within: read {within}, allowed a whole number from 0")
    rungs = (every or EveryBudget(ready, minutes)).rungs()
    mine = [rung for rung in rungs if money is None or rung.cost <= money]
    if not mine:
        raise DefectError("a frontier without the plan")
    best = mine[-1]
    market = _Market(ready, ready.problem(money, minutes))
    items = market.for_sale()
    bought, left_out, substitutes = [], [], []
    for number, item in enumerate(items):
        tell_progress(number, len(items))
        packs = best.choice.packs.get(item.name, 0)
        price = item.price or 0
        if not packs:
            entry = market.highest_price(item, None, best.choice)
            left_out.append(ItemWorth(item.name, 0, price, entry, best.strain))
            continue
        without = market.at(item, None)
        strain = without.value + ready.model.fixed_strain if without.found else None
        up_to = market.highest_price(item, best.choice, without)
        bought.append(ItemWorth(item.name, packs, price, up_to, strain))
        if strain is not None and 100 * strain <= (100 + within) * best.strain:
            options = ready.options_of(without)
            instead = tuple(option for option in options if option not in best.options)
            substitutes.append(Substitute(item.name, strain, without.cost, options, instead))
    bought.sort(key=lambda one: (one.strain_without is not None, -(one.strain_without or 0), one.item))
    left_out.sort(key=lambda one: (one.up_to == -1, one.price - (one.up_to or 0), one.item))
    substitutes.sort(key=lambda one: (one.strain, one.cost, one.item))
    dearer = rungs[len(mine) :]
    return Worth(
        money,
        within,
        tuple(bought),
        tuple(left_out),
        tuple(substitutes),
        still_open(best, dearer),
        dearer[0] if dearer else None,
    )


def still_open(best: Rung, dearer: Sequence[Rung]) -> tuple[OpenStrain, ...]:
    """Tell for all strain left which of the dearer best plans is the first to have less of it.

    Parameters
    ----------
    best : Rung
        The plan.
    dearer : sequence of Rung
        Best plans for more money, cost rising.
    """
    out = []
    for term in sorted(best.score.terms, key=lambda term: -term.value):
        if not term.value:
            continue
        found, then = None, term.value
        for rung in dearer:
            now = _same_term(rung, term)
            if now < term.value:
                found, then = rung, now
                break
        had = {(option.fix.id, option.owner) for option in best.options}
        enters = () if found is None else found.options
        out.append(OpenStrain(term, found, then, tuple(o for o in enters if (o.fix.id, o.owner) not in had)))
    return tuple(out)


def _same_term(rung: Rung, wanted: StrainTerm) -> int:
    """Strain of the same exposure of the same task in another plan, whatever causes it there."""
    return sum(
        term.value
        for term in rung.score.terms
        if (term.task, term.exposure, term.region) == (wanted.task, wanted.exposure, wanted.region)
    )


class _Market:
    """The problem with one price changed."""

    def __init__(self, ready: Prepared, problem: Problem) -> None:
        self._ready = ready
        self._problem = problem

    def for_sale(self) -> list[Item]:
        """Items with a price that some option uses beyond what is owned."""
        most = most_used(self._problem)
        return [i for i in self._problem.items if i.price is not None and most[i.name] > i.owned]

    def at(self, item: Item, price: int | None) -> Choice:
        """Give the best plan when a pack has another price; None: it is not for sale."""
        stock = item.stock if price is not None else None
        changed = Item(item.name, price, item.pack, item.owned, stock)
        items = [changed if one.name == item.name else one for one in self._problem.items]
        return solve(replace(self._problem, items=items))

    def highest_price(self, item: Item, buying: Choice | None, without: Choice) -> int | None:
        """Find the highest price at which the best plan buys an item.

        Parameters
        ----------
        item : Item
            The item.
        buying : Choice or None
            A plan that buys it at its price now; None: look for one where it is a gift.
        without : Choice
            The best plan that does not buy it.

        Returns
        -------
        int or None
            Price of a pack [minor units]; None: any; -1: not even as a gift.
        """
        paid = item.price or 0
        if buying is None:
            buying, paid = self.at(item, 0), 0
            if not buying.packs.get(item.name):
                return -1
        highest = -1
        while buying.packs.get(item.name):
            kept = self._kept_up_to(item, buying, paid, without)
            if kept is None:
                return None
            # a plan that buys less of it, or serves less well, may stay best at a higher price
            highest = max(highest, kept, paid)
            paid = highest + 1
            buying = self.at(item, paid)
            if not buying.found:
                break
        return highest

    def _kept_up_to(self, item: Item, buying: Choice, paid: int, without: Choice) -> int | None:
        """Price up to which this very plan is surely better than the one without; None: any."""
        packs = buying.packs[item.name]
        rest = buying.cost - packs * paid
        money = self._problem.money
        if without.found and buying.value > without.value:
            raise DefectError(f"a plan without {item.name} is better than the best")
        if without.found and buying.value == without.value:
            return (without.cost - rest - 1) // packs
        return None if money is None else (money - rest) // packs
