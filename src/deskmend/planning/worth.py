"""What a buyer asks next: up to which price a thing is worth it, what else would do, what leave would add."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from deskmend.choice import Choice, Item, Problem, solve
from deskmend.choice.problem import most_used
from deskmend.choice.result import unit_price
from deskmend.choice.stock import ReachedValues, WarmStart, with_masks
from deskmend.choice.variants import without_barred
from deskmend.errors import DefectError
from deskmend.intake.case import Case, Discomfort
from deskmend.intake.catalog import Catalog
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.budgets import EveryBudget, change_between
from deskmend.planning.draws import LEAST_SHARE_TOLD
from deskmend.planning.frontier import CheckedPlan
from deskmend.planning.model.offers import LeftOut, Offers, OptionSpec, offers_for
from deskmend.planning.model.rules import at_odds, breaches_of_many
from deskmend.planning.ready_case import ReadyCase
from deskmend.planning.score import StrainTerm, strain_of_many, weights_of
from deskmend.planning.selection import FixKey, decision_of, key_of, state_with
from deskmend.progress import tell_progress
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import State

__all__ = ["ItemWorth", "OpenStrain", "Substitute", "Worth", "without_health", "worth_leave", "worth_of"]

NOT_EVEN_AS_A_GIFT = -1
"""Stands for the price of what no price brings into the plan."""


@dataclass(frozen=True)
class ItemWorth:
    """The highest price of a pack at which the best plan within the money buys a thing, all else as it is.

    - `packs`: how many packs the plan buys; 0: it is left out.
    - `price`: of a pack now; where the plan reaches a price for larger orders, that one.
    - `up_to`: the highest price of a pack; None: at any price. -1: not even as a gift.
    - `strain_without`: strain of the best plan that does not buy it; None: there is no such plan.
    """

    item: str
    packs: int
    price: Minor
    up_to: Minor | None
    strain_without: Micro | None


@dataclass(frozen=True)
class Substitute:
    """The best plan that does without one thing, where it is nearly as good.

    - `options`: all it does.
    - `instead`: what it does that the plan does not.
    """

    item: str
    strain: Micro
    cost: Minor
    options: tuple[OptionSpec, ...]
    instead: tuple[OptionSpec, ...]


@dataclass(frozen=True)
class OpenStrain:
    """Strain that the plan leaves, and the cheapest better plan that has less of it.

    - `plan`: the first of the best plans for more money in which it is less; None: it is in none.
    - `then`: what is left of it there.
    - `enters`: what that plan does that this one does not.
    """

    term: StrainTerm
    plan: CheckedPlan | None
    then: Micro
    enters: tuple[OptionSpec, ...]


@dataclass(frozen=True, kw_only=True)
class Worth:
    """What a buyer asks next.

    - `money`: within which it is worked out.
    - `within`: how much more strain than the plan's a substitute may leave [percent].
    - `bought`, `left_out`: things of the plan, and things for sale that it leaves; the former by the strain
      that doing without them would leave, the latter by how near their price is.
    - `substitutes`: one a thing at most.
    - `still_open`: the largest first.
    - `following`: the best plan for the least money above the plan's that leaves less strain.
    """

    money: Minor | None
    within: int
    bought: tuple[ItemWorth, ...]
    left_out: tuple[ItemWorth, ...]
    substitutes: tuple[Substitute, ...]
    still_open: tuple[OpenStrain, ...]
    following: CheckedPlan | None


def worth_of(
    ready: ReadyCase,
    money: Minor | None,
    minutes: Minutes | None,
    within: int = 5,
    every: EveryBudget | None = None,
) -> Worth:
    """Work out what each thing is worth to the best plan within money and time.

    `within` is how much more strain than the plan's a substitute may leave [percent]. `every` is of the same
    case and minutes, where others ask for its plans too. Raises `NoPlan` where nothing keeps to the limits.

    Notes
    -----
    Every figure is a price at which the problem is solved again: at it the thing is bought, and one minor
    unit above it no longer. A price asked about is that of each pack, however many are bought.
    """
    if within < 0:
        raise ValueError(f"within: read {within}, allowed a whole number from 0")
    frontier = (every or EveryBudget(ready, minutes)).frontier
    mine = [one for one in frontier if money is None or one.cost <= money]
    if not mine:
        raise DefectError("a frontier without the plan")
    best, dearer = mine[-1], frontier[len(mine) :]
    market = _Market(ready.problem(money, minutes))
    items = market.for_sale()
    known = [one.choice for one in frontier]
    bought, substitutes = [], []
    entry = market.entry_prices([i for i in items if not best.choice.packs.get(i.name)], best.choice, known)
    left_out = [
        ItemWorth(item.name, 0, item.price or 0, entry[item.name], best.strain)
        for item in items
        if item.name in entry
    ]
    for number, item in enumerate(items):
        tell_progress(number, len(items))
        packs = best.choice.packs.get(item.name, 0)
        if not packs:
            continue
        price = unit_price(item.price or 0, item.tiers, packs)
        others = [one.choice for one in mine if not one.choice.packs.get(item.name, 0)]
        without = market.at({item.name: None}, min(others, key=lambda one: one.value, default=None))
        strain = without.value + ready.fixed_strain if without.found else None
        # at one price for any number the plan itself costs no more, so it is bought then too
        up_to = market.highest_price(item, without, known, price)
        bought.append(ItemWorth(item.name, packs, price, up_to, strain))
        if strain is not None and 100 * strain <= (100 + within) * best.strain:
            options = ready.options_of(without)
            instead = tuple(option for option in options if option not in best.options)
            substitutes.append(Substitute(item.name, strain, without.cost, options, instead))
    bought.sort(key=lambda one: (one.strain_without is not None, -(one.strain_without or 0), one.item))
    left_out.sort(key=lambda one: (one.up_to == NOT_EVEN_AS_A_GIFT, one.price - (one.up_to or 0), one.item))
    substitutes.sort(key=lambda one: (one.strain, one.cost, one.item))
    return Worth(
        money=money,
        within=within,
        bought=tuple(bought),
        left_out=tuple(left_out),
        substitutes=tuple(substitutes),
        still_open=tuple(
            _still_open(best, dearer, term)
            for term in sorted(best.score.terms, key=lambda term: -term.value)
            if term.value
        ),
        following=dearer[0] if dearer else None,
    )


def _still_open(best: CheckedPlan, dearer: Sequence[CheckedPlan], term: StrainTerm) -> OpenStrain:
    """Tell which of the dearer best plans is the first to have less of some strain left."""
    for plan in dearer:
        then = _same_term(plan, term)
        if then < term.value:
            return OpenStrain(term, plan, then, change_between(best, plan).enters)
    return OpenStrain(term, None, term.value, ())


def _same_term(plan: CheckedPlan, wanted: StrainTerm) -> int:
    """Strain of the same exposure of the same task in another plan, whatever causes it there."""
    return sum(
        term.value
        for term in plan.score.terms
        if (term.task, term.exposure, term.region) == (wanted.task, wanted.exposure, wanted.region)
    )


class _Market:
    """The problem with one price changed, asked among what can matter for the answer alone.

    Whoever knows a plan that is to be had asks only for plans of at most its value, and what those pass at
    any price is worked out once for all questions with the same value.
    """

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._reached = ReachedValues(problem)
        self._among: dict[int, Problem] = {}
        self._warm_start = WarmStart(starts=())

    def for_sale(self) -> list[Item]:
        """Items with a price that some option uses beyond what is owned."""
        most = most_used(self._problem)
        return [i for i in self._problem.items if i.price is not None and most[i.name] > i.owned]

    def at(self, prices: Mapping[str, Minor | None], known: Choice | None) -> Choice:
        """Give the best plan when packs of some things have other prices; None: not for sale.

        `known` is some plan that is to be had then for the money; None: none is known.
        """
        items = [
            Item(one.name, prices[one.name], one.pack, one.owned, one.stock)
            if prices.get(one.name) is not None
            else Item(one.name, None, one.pack, one.owned)
            if one.name in prices
            else one
            for one in self._problem.items
        ]
        if known is None:
            return solve(replace(self._problem, items=items))
        self._warm_start.starts = (known.options,)
        return solve(replace(self._up_to(known.value), items=items), warm_start=self._warm_start)

    def _up_to(self, value: int) -> Problem:
        """The problem without what no plan of at most a value passes, or somewhat more than that."""
        known = min((one for one in self._among if one >= value), default=None)
        if known is None:
            self._among[value] = without_barred(with_masks(self._problem, *self._reached.up_to(value)))
            known = value
        return self._among[known]

    def entry_prices(
        self, items: Sequence[Item], best: Choice, known: Sequence[Choice]
    ) -> dict[str, Minor | None]:
        """Find the highest prices at which the best plan would buy things that it leaves, one at a time.

        `known` as in `highest_price`.
        """
        most = most_used(self._up_to(best.value))
        found: dict[str, Minor | None] = {item.name: NOT_EVEN_AS_A_GIFT for item in items}
        waiting: dict[str, Minor] = {}
        for item in items:
            # no plan of at most this value needs more of the others than is owned, whatever they cost
            if most[item.name] > item.owned:
                sure = found[item.name] = self._sure_price(item, best, known, NOT_EVEN_AS_A_GIFT)
                if sure is not None:
                    waiting[item.name] = sure
        while waiting:
            # Where none is bought though all cost less than they do, and none more than it is tried at, then
            # none is bought where it alone costs what it is tried at.
            tried: dict[str, Minor | None] = {
                item.name: min(waiting[item.name] + 1, _least_price(item))
                for item in items
                if item.name in waiting
            }
            together = self.at(tried, best)
            bought = [item for item in items if item.name in waiting and together.packs.get(item.name)]
            if not bought:
                break
            for item in bought:
                found[item.name] = self.highest_price(item, best, (), waiting.pop(item.name))
        return found

    def highest_price(
        self, item: Item, without: Choice, known: Sequence[Choice], highest: Minor = NOT_EVEN_AS_A_GIFT
    ) -> Minor | None:
        """Find the highest price of a pack at which the best plan buys an item, as `ItemWorth.up_to`.

        `without` is the best plan that does not buy it; `known` are plans at the prices there are, of any
        cost. Up to `highest` it is known to be bought.
        """
        # A plan that buys it stays better than the one without at any lower price, so one price parts all.
        sure = self._sure_price(item, without, known, highest)
        while sure is not None:
            paid = sure + 1
            buying = self.at({item.name: paid}, without if without.found else None)
            if not (buying.found and buying.packs.get(item.name)):
                return sure
            kept = self._kept_up_to(item, buying, paid, without)
            # a plan that buys less of it, or serves less well, may stay best at a higher price
            sure = None if kept is None else max(kept, paid)
        return None

    def _sure_price(
        self, item: Item, without: Choice, known: Sequence[Choice], highest: Minor
    ) -> Minor | None:
        """Price up to which some known plan that buys an item is better than the one without; None: any."""
        for plan in known:
            if plan.packs.get(item.name) and not (without.found and plan.value > without.value):
                paid = unit_price(item.price or 0, item.tiers, plan.packs[item.name])
                kept = self._kept_up_to(item, plan, paid, without)
                if kept is None:
                    return None
                highest = max(highest, kept)
        return highest

    def _kept_up_to(self, item: Item, buying: Choice, paid: Minor, without: Choice) -> Minor | None:
        """Price of a pack up to which this very plan, at `paid`, is surely better than the one without.

        None: any.
        """
        packs = buying.packs[item.name]
        rest = buying.cost - packs * paid
        money = self._problem.money
        if without.found and buying.value > without.value:
            raise DefectError(f"a plan without {item.name} is better than the best")
        if without.found and buying.value == without.value:
            return (without.cost - rest - 1) // packs
        return None if money is None else (money - rest) // packs


def _least_price(item: Item) -> Minor:
    """The least that a pack costs, however many are bought."""
    return min([item.price or 0, *(price for _, price in item.tiers)])


NEEDS_LEAVE = ("no_leave", "may_not_alter")
"""Causes for which a fix is not offered that leave would take away."""


def without_health(case: Case) -> Case:
    """The same case with nothing in it of what troubles the person, for those whom that does not concern."""
    person = case.person.model_copy(update={"discomfort": Discomfort(), "warning_signs": ()})
    return case.model_copy(update={"person": person})


def worth_leave(
    case: Case,
    state: State,
    plans: Sequence[Sequence[OptionSpec]],
    left_out: Sequence[LeftOut],
    catalog: Catalog,
) -> list[tuple[LeftOut, ...]]:
    """For each plan the fixes that only want leave and would then take more off, by what is worth telling.

    `state` is without the plans, `left_out` what the case does not offer.
    A fix is tried at each size, instead of what it cannot go with, by itself or with one free fix that
    gives it what it needs. Skill, tools and prices are left to whoever gives leave.
    """
    refused = {(left.fix.id, left.owner): left for left in left_out if left.cause in NEEDS_LEAVE}
    if not refused:
        return [()] * len(plans)
    offers = offers_for(_granted(case, catalog), state, catalog, None)
    options = [option for option in offers.options() if key_of(option) in refused]
    partners = {id(option): list(_partners(option, offers)) for option in options}
    weights = weights_of(case)
    now, *then = strain_of_many(
        [state, *(state_with(state, planned) for planned in plans)], [weights] * (1 + len(plans))
    )
    least = [one - now / LEAST_SHARE_TOLD for one in then]
    alone = [
        (number, option, [*_beside([option], planned), option])
        for number, planned in enumerate(plans)
        for option in options
    ]
    found = _tried(state, weights, alone)
    sound = {key for key, _ in found}
    paired = [
        (number, option, [*_beside([option, partner], plans[number]), option, partner])
        for number, option, _ in alone
        if (number, key_of(option)) not in sound
        for partner in partners[id(option)]
    ]
    found += _tried(state, weights, paired)
    helpful = {key for key, strain in found if strain < least[key[0]]}
    return [
        tuple(one for key, one in refused.items() if (number, key) in helpful) for number in range(len(plans))
    ]


def _granted(case: Case, catalog: Catalog) -> Case:
    tools = tuple(dict.fromkeys(tool for fix in catalog.fixes for tool in fix.tools))
    means = case.means.model_copy(update={"may_alter": True, "skill": None, "tools": tools})
    room = case.room.model_copy(update={"landlord_leave": True})
    return case.model_copy(update={"means": means, "room": room})


def _beside(coming: Sequence[OptionSpec], planned: Sequence[OptionSpec]) -> list[OptionSpec]:
    """What of a plan can stay beside fixes that come in."""
    return [
        one
        for one in planned
        if all(
            decision_of(one) != decision_of(new)
            and not at_odds(one.fix, one.owner, new.fix, new.owner)
            and not at_odds(new.fix, new.owner, one.fix, one.owner)
            for new in coming
        )
    ]


def _partners(option: OptionSpec, offers: Offers) -> Iterator[OptionSpec]:
    """Free fixes that change what a fix needs, at the same person, place or task."""
    for other in offers.options():
        if other.fix.materials or other.owner != option.owner:
            continue
        if decision_of(other) != decision_of(option):
            if any(effect.change in option.fix.needed for effect in other.fix.effects):
                yield other


def _tried(
    state: State, weights: Mapping[str, float], sets: Sequence[tuple[int, OptionSpec, list[OptionSpec]]]
) -> list[tuple[tuple[int, FixKey], Micro]]:
    """Of sets of fixes that keep every rule, each with its plan and what it is tried for, the strain left."""
    kept, states = [], []
    for number, head, options in sets:
        try:
            states.append(state_with(state, options))
        except TwoSets:
            continue
        kept.append(((number, key_of(head)), [(one.fix, one.owner) for one in options]))
    broken = breaches_of_many([state] * len(states), states, [chosen for _, chosen in kept])
    whole = [place for place, breaches in enumerate(broken) if not breaches]
    strains = strain_of_many([states[place] for place in whole], [weights] * len(whole))
    return [(kept[place][0], strain) for place, strain in zip(whole, strains, strict=True)]
