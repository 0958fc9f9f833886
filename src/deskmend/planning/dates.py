"""What to buy first as money comes in month by month: purchases and dates that leave least strain in all.

Purchases are kept once made. Each set of them, written as the bits of a number, leaves some strain, never
more when more is bought. Sought are the sets, day by day, that leave least strain summed over all days. What
a set leaves is dear to work out, so the search begins with lower bounds and works out only what a best path
runs through, until no bound is left on it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from deskmend.choice import Choice, Problem, evaluate, solve
from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.open_prices import OpenPrices
from deskmend.choice.problem import IntArray, most_used
from deskmend.choice.stock import without_stock
from deskmend.language import tr
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.bill import BillLine
from deskmend.planning.budgets import EveryBudget
from deskmend.planning.frontier import CheckedPlan
from deskmend.planning.ready_case import NoPlan, ReadyCase
from deskmend.planning.stages import DAYS_A_WEEK, Stage, Supply, useful_supplies, with_bought

__all__ = [
    "DAYS_A_MONTH",
    "DEFAULT_MONTHS",
    "INFEASIBLE",
    "BestPath",
    "BestUse",
    "Savings",
    "Schedule",
    "Span",
    "best_path",
    "costs_of",
    "sequence",
    "spans_of",
    "sum_over",
]

DAYS_A_MONTH = 30
"""Days a month counts for: judgement, so that every month weighs the same."""
DEFAULT_MONTHS = 12
"""Months looked ahead where nobody says how many: judgement."""
INFEASIBLE = 1 << 40
"""Stands for strain where what must be is not to be had; above any strain there is."""
MOST_CANDIDATES = 14
"""Purchases whose every set is looked at."""
MOST_WORKED_OUT = 3000
"""States worked out before the search stops unproven."""


@dataclass(frozen=True)
class Savings:
    """Money in hand, what comes in at the end of each month, and how many months are looked ahead."""

    in_hand: Minor
    a_month: Minor
    months: int = DEFAULT_MONTHS

    @property
    def limit(self) -> Minor:
        """All money up to the horizon."""
        return self.in_hand + self.a_month * self.months


@dataclass(frozen=True, kw_only=True)
class Schedule:
    """Purchases and their dates.

    - `savings`: money over time.
    - `supplies`: what is there by when; the first is today before anything is bought.
    - `candidates`: purchases of which every set and date was looked at.
    - `left_aside`: purchases of best plans that were too many to look at.
    - `total`: strain summed over the days to the horizon, the last included [millionths of h].
    - `least`: the same with each day's arrangement the best by itself, however much is done twice for it.
    - `bound`: no purchases whatsoever leave less [millionths of h].
    - `cheapest_first`, `biggest_first`: the same sum where the same purchases are made in these orders, each
      as soon as it can be paid.
    - `exact`: nothing over the candidates is better.
    - `all_for_sale`: the candidates are everything that any choice could buy, for whatever it takes off.
    """

    savings: Savings
    supplies: tuple[Supply, ...]
    candidates: tuple[BillLine, ...]
    left_aside: int
    total: int
    least: int
    bound: int
    cheapest_first: int
    biggest_first: int
    exact: bool
    all_for_sale: bool

    @property
    def cost_now(self) -> Minor:
        """Money spent today."""
        return max(_spent(supply) for supply in self.supplies if not supply.day)

    @property
    def spent(self) -> Minor:
        """Money spent in all, also on what comes to lie unused."""
        return _spent(self.supplies[-1])

    @property
    def exact_over_all(self) -> bool:
        """Whether no purchases whatsoever are better."""
        return self.exact and (self.all_for_sale or self.least == self.bound)

    def sum_of(self, stages: Sequence[Stage]) -> int:
        """Strain of stages summed over the days to the horizon, the last included [millionths of h]."""
        days = [*(stage.day for stage in stages), self.savings.months * DAYS_A_MONTH + 1]
        return sum(stage.strain * (days[n + 1] - days[n]) for n, stage in enumerate(stages))


def _spent(supply: Supply) -> Minor:
    return sum(line.cost for line in supply.bought)


@dataclass(frozen=True)
class Span:
    """Days in which neither money nor time changes.

    - `day`, `days`: the first, from 0, and how many.
    - `money`: money that has come in by then.
    - `minutes`: work that can be done by then; None: no limit.
    """

    day: int
    days: int
    money: Minor
    minutes: Minutes | None


def spans_of(
    savings: Savings, minutes: Minutes | None, per_week: Minutes | None, most: Minutes
) -> list[Span]:
    """Days to the horizon, parted wherever money or working time comes in.

    `minutes` and `per_week` limit the work in all and a week, and the first week's time is there on the first
    day; beyond `most` more time changes nothing. The last span is the one day on which the last money has
    come in.
    """
    end = savings.months * DAYS_A_MONTH
    days = {month * DAYS_A_MONTH for month in range(savings.months + 1)}
    if per_week:
        enough = most if minutes is None else min(most, minutes)
        weeks = min(-(-enough // per_week), end // DAYS_A_WEEK + 1)
        days |= {week * DAYS_A_WEEK for week in range(weeks)}
    starts = sorted(days)
    out = []
    for day, following in zip(starts, [*starts[1:], end + 1], strict=True):
        made = minutes
        if per_week is not None:
            pace = per_week * (day // DAYS_A_WEEK + 1)
            if pace < most:
                made = pace if minutes is None else min(pace, minutes)
        money = savings.in_hand + savings.a_month * (day // DAYS_A_MONTH)
        out.append(Span(day, following - day, money, made))
    return out


@dataclass(frozen=True)
class BestUse:
    """What some purchases come to at best.

    - `strain`: the least strain.
    - `used`: purchases it is reached with, as bits.
    - `minutes`: work it takes; None: not known, at most what was allowed.
    """

    strain: Micro
    used: int
    minutes: Minutes | None


@dataclass(frozen=True)
class BestPath:
    """The best states, span by span.

    - `path`: purchases made up to each span, as bits.
    - `total`: strain over all days [millionths of h].
    - `bound`: no path leaves less [millionths of h]; the total where it is proven.
    - `worked_out`: states whose strain was worked out.
    """

    path: tuple[int, ...]
    total: int
    bound: int
    worked_out: int

    @property
    def proven(self) -> bool:
        """Whether no path over these purchases is better."""
        return self.total == self.bound


def best_path(
    costs: Sequence[Minor],
    spans: Sequence[Span],
    at_least: Callable[[Minor], Micro],
    best_use: Callable[[int, Minutes | None], BestUse],
) -> BestPath:
    """Find the purchases and dates that leave least strain over all spans; of equals the later, smaller ones.

    Money and minutes never fall from one span to the next. `at_least` is what no purchases for some money can
    go below; `best_use` is what purchases (as bits) leave within minutes, never rising with either. It is
    proven unless more states than allowed had to be worked out.
    """
    whole = costs_of(costs)
    levels = list(dict.fromkeys(span.minutes for span in spans))
    floor = np.array([at_least(int(cost)) for cost in whole], dtype=np.int64)
    # of every set and level of minutes: strain it cannot go below, and strain that some plan of it leaves
    bounds = {level: floor.copy() for level in levels}
    reached = {level: np.full(len(whole), INFEASIBLE, dtype=np.int64) for level in levels}
    worked_out: set[tuple[int, Minutes | None]] = set()
    masks = np.arange(len(whole))

    def work_out(mask: int, level: Minutes | None) -> None:
        found = best_use(mask, level)
        worked_out.add((mask, level))
        inside, around = (masks & mask) == masks, (masks & found.used) == found.used
        for other in levels[: levels.index(level) + 1]:
            bounds[other][inside] = np.maximum(bounds[other][inside], found.strain)
        least = level if found.minutes is None else found.minutes
        for other in levels:
            if other is None or (least is not None and other >= least):
                reached[other][around] = np.minimum(reached[other][around], found.strain)

    # what everything leaves bounds every set, what is left without one thing every set without it
    everything = len(whole) - 1
    for level in levels:
        work_out(everything, level)
    for number in range(len(costs)):
        work_out(everything & ~(1 << number), levels[-1])
    while True:
        path, bound = _path(whole, spans, bounds)
        states = dict.fromkeys((mask, span.minutes) for mask, span in zip(path, spans, strict=True))
        open_states = [(m, level) for m, level in states if bounds[level][m] < reached[level][m]]
        enough = len(worked_out) >= MOST_WORKED_OUT
        # with all the time there will be a set is soon worked out, and that often rules it out
        unhurried = {mask for mask, _ in open_states if (mask, levels[-1]) not in worked_out}
        if unhurried and not enough:
            for mask in sorted(unhurried):
                work_out(mask, levels[-1])
            continue
        for mask, level in open_states:
            if bounds[level][mask] < reached[level][mask]:
                work_out(mask, level)
        if not open_states or enough:
            total = sum(
                int(reached[span.minutes][m]) * span.days for m, span in zip(path, spans, strict=True)
            )
            return BestPath(path, total, min(bound, total), len(worked_out))


def costs_of(costs: Sequence[Minor]) -> IntArray:
    """Cost of every set of purchases."""
    out = np.zeros(1 << len(costs), dtype=np.int64)
    for number, cost in enumerate(costs):
        bit = 1 << number
        out[bit : 2 * bit] = out[:bit] + cost
    return out


def _path(
    costs: IntArray, spans: Sequence[Span], bounds: dict[Minutes | None, IntArray]
) -> tuple[tuple[int, ...], int]:
    """Best path where every state leaves what its bound says, and its total."""
    never = np.int64(1) << 61
    reached: list[IntArray] = []
    for span in spans:
        here = bounds[span.minutes] * span.days
        before = _least_within(reached[-1]) if reached else np.zeros(len(costs), dtype=np.int64)
        total = np.where(before >= never, never, before + here)
        reached.append(np.where(costs > span.money, never, total))
    mask = _first(np.flatnonzero(reached[-1] == reached[-1].min()))
    total_strain = int(reached[-1][mask])
    path = [mask]
    # backwards: before each state the best of the sets within it
    for one in reversed(reached[:-1]):
        inside = np.flatnonzero((np.arange(len(costs)) & mask) == np.arange(len(costs)))
        mask = _first(inside[one[inside] == one[inside].min()])
        path.append(mask)
    return tuple(reversed(path)), total_strain


def _least_within(values: IntArray) -> IntArray:
    """Least value over all subsets of every set."""
    out = values.copy()
    bit = 1
    while bit < len(out):
        pairs = out.reshape(-1, 2, bit)
        pairs[:, 1] = np.minimum(pairs[:, 1], pairs[:, 0])
        bit *= 2
    return out


def _first(masks: IntArray) -> int:
    """The smallest set, then the first."""
    return min((int(mask) for mask in masks), key=lambda mask: (mask.bit_count(), mask))


def sum_over(
    order: Sequence[int],
    costs: Sequence[Minor],
    spans: Sequence[Span],
    strain: Callable[[int, Minutes | None], Micro],
) -> int:
    """Strain over all days [millionths of h] when purchases are made in an order, as soon as they can be."""
    waiting, mask, spent, total = list(order), 0, 0, 0
    for span in spans:
        while waiting and spent + costs[waiting[0]] <= span.money:
            number = waiting.pop(0)
            mask, spent = mask | 1 << number, spent + costs[number]
        total += strain(mask, span.minutes) * span.days
    return total


def _members(mask: int) -> Iterator[int]:
    """Numbers of the purchases in a set."""
    return (number for number in range(mask.bit_length()) if mask >> number & 1)


class _LeastStrain:
    """Least strain with what was bought so far and anything free, within some minutes."""

    def __init__(
        self, ready: ReadyCase, purchases: Sequence[BillLine], least_minutes: Minutes | None
    ) -> None:
        self.ready, self.purchases, self.least_minutes = ready, purchases, least_minutes
        self.base = ready.problem(0, None)
        self._known: dict[tuple[int, Minutes | None], Choice] = {}
        self._best_uses: dict[tuple[int, Minutes | None], BestUse] = {}

    def strain(self, mask: int, minutes: Minutes | None) -> Micro:
        return self.best_use(mask, minutes).strain

    def best_use(self, mask: int, minutes: Minutes | None) -> BestUse:
        """What purchases leave; asked for day by day, it is worked out once."""
        if (mask, minutes) not in self._best_uses:
            self._best_uses[mask, minutes] = self._worked_out(mask, minutes)
        return self._best_uses[mask, minutes]

    def _worked_out(self, mask: int, minutes: Minutes | None) -> BestUse:
        at_once = self._at_once(mask, minutes)
        if at_once is not None:
            return at_once
        choice = self.choice(mask, minutes)
        if not choice.found:
            return BestUse(INFEASIBLE, 0, 0)
        return BestUse(choice.value + self.ready.fixed_strain, self._used(choice), choice.minutes)

    def choice(self, mask: int, minutes: Minutes | None) -> Choice:
        if minutes is not None:
            freely = self.choice(mask, None)
            if freely.found and freely.minutes <= minutes:
                return freely
        if (mask, minutes) not in self._known:
            self._known[mask, minutes] = solve(self._with(mask, minutes))
        return self._known[mask, minutes]

    def _with(self, mask: int, minutes: Minutes | None) -> Problem:
        """The choice where some purchases are made and there is no money for more."""
        return with_bought(self.base, [self.purchases[number] for number in _members(mask)], minutes)

    def _used(self, choice: Choice) -> int:
        """Purchases that a choice makes use of, as bits."""
        use: Counter[str] = Counter()
        for decision in self.base.decisions:
            for option in decision.options:
                if option.name == choice.options[decision.name]:
                    use.update(option.use)
        owned = {item.name: item.owned for item in self.base.items}
        return sum(1 << n for n, bought in enumerate(self.purchases) if use[bought.item] > owned[bought.item])

    def _at_once(self, mask: int, minutes: Minutes | None) -> BestUse | None:
        """Ask the one search: what is bought already is free, what is not is dearer than all strain."""
        if self._open is None:
            return None
        numbers = {bought.item: number for number, bought in enumerate(self.purchases)}
        prices = {item: 0 if mask >> number & 1 else self._forbidding for item, number in numbers.items()}
        try:
            choice = self._open.least(1, 1, prices, minutes)
        except TooWide:
            return None
        if choice is None or evaluate(self._with(mask, None), choice.options).violations:
            return None
        used = sum(1 << numbers[item] for item in choice.packs)
        return BestUse(choice.value + self.ready.fixed_strain, used, choice.minutes)

    @cached_property
    def _open(self) -> OpenPrices | None:
        """One search for every set of purchases, where the tables are not too entangled for it."""
        packs = {bought.item: bought.packs for bought in self.purchases}
        items = [
            replace(item, price=1, pack=item.pack * packs[item.name], stock=None, tiers=())
            if item.name in packs
            else replace(item, price=None, stock=None, tiers=())
            for item in self.base.items
        ]
        problem = replace(self.base, money=None, minutes=None, items=items)
        try:
            # pieces that cannot be bought are left aside; what overdraws them is worked out by itself
            search = OpenPrices(without_stock(problem), list(packs))
        except (TooWide, ValueError):
            return None
        # More purchases and more time never leave more than nothing bought in the least time.
        without = self.choice(0, self.least_minutes)
        if without.found:
            search.keep_up_to(without.value)
        return search

    @cached_property
    def _forbidding(self) -> int:
        """Price above the strain of any choice."""
        tables = self.base.tables
        return 1 + sum(int(table.values.max()) - min(0, int(table.values.min())) for table in tables)


def sequence(
    ready: ReadyCase,
    savings: Savings,
    minutes: Minutes | None,
    every: EveryBudget | None = None,
    plans: Sequence[CheckedPlan] = (),
) -> tuple[Schedule, Choice]:
    """Choose purchases and their dates so that strain summed over the days to the horizon is least.

    The case's minutes a week limit how fast things are made, `minutes` the work in all. `ready` may have
    fewer fixes than `every`, whose best plans bound what any purchases leave; what `plans` buy, those at any
    budget if left out, is looked at first. The choice given back is what is there in the end, with the least
    strain any plan within all the money leaves as its bound.

    - raises `NoPlan`: what must be in the plan is not to be had for the money in hand.

    Notes
    -----
    Candidates are the things that the plans at any budget up to all the money buy, an item's packs in
    one go, and everything else that could be bought where that is little in all. Over them the search is
    exact. Over what else is for sale it is held against a bound: on no day can less strain be left than the
    best plan for all the money that has come in by then leaves.
    """
    limit = savings.limit
    every = every or EveryBudget(ready, minutes)
    frontier = every.within(limit)
    if frontier[0].cost > savings.in_hand:
        raise NoPlan(
            tr("what must be in the plan cannot be paid from the money in hand"),
            tr("leave out --saving to see what it takes, or have more in hand"),
            signs=ready.signs,
        )
    purchases = _bought(plans or frontier)
    for_sale = _for_sale(ready, limit)
    all_for_sale = for_sale is not None and len(for_sale) <= MOST_CANDIDATES
    if for_sale is not None and all_for_sale:
        had = {purchase.item for purchase in purchases}
        purchases += [purchase for purchase in for_sale if purchase.item not in had]
    aside = max(len(purchases) - MOST_CANDIDATES, 0)
    purchases = purchases[:MOST_CANDIDATES]
    spans = spans_of(savings, minutes, ready.case.means.minutes_per_week, _most_minutes(ready))
    least_minutes = min((span.minutes for span in spans if span.minutes is not None), default=None)
    least = _LeastStrain(ready, purchases, least_minutes)
    costs = [purchase.cost for purchase in purchases]

    frontier_costs = [plan.cost for plan in frontier]

    def at_least(money: Minor) -> Micro:
        number = bisect_right(frontier_costs, money)
        return frontier[number - 1].strain if number else INFEASIBLE

    found = best_path(costs, spans, at_least, least.best_use)
    chosen = list(_members(found.path[-1]))
    cheapest = sorted(chosen, key=lambda n: (costs[n], n))
    biggest = sorted(chosen, key=lambda n: (least.strain(1 << n, spans[-1].minutes), n))
    supplies = _supplies(found, spans, least)
    last = least.choice(found.path[-1], supplies[-1].minutes)
    schedule = Schedule(
        savings=savings,
        supplies=supplies,
        candidates=tuple(purchases),
        left_aside=aside,
        total=found.total,
        least=found.total,
        bound=sum(at_least(span.money) * span.days for span in spans),
        cheapest_first=sum_over(cheapest, costs, spans, least.strain),
        biggest_first=sum_over(biggest, costs, spans, least.strain),
        exact=found.proven and not aside,
        all_for_sale=all_for_sale and ready is every.ready,
    )
    return schedule, replace(
        last,
        # found as if its purchases were owned; with them priced it is what the check works out
        figures=evaluate(ready.problem(None, None), last.options).figures,
        proven=schedule.exact,
        bound=frontier[-1].choice.value,
        status="optimal" if schedule.exact else "not_proven",
        engine="sequence",
    )


def _bought(plans: Sequence[CheckedPlan]) -> list[BillLine]:
    """Things that plans buy, those of the dearest first; of each the largest number of packs."""
    most: dict[str, BillLine] = {}
    for plan in reversed(plans):
        for line in plan.bill.lines:
            if line.item not in most or line.packs > most[line.item].packs:
                most[line.item] = line
    return list(most.values())


def _for_sale(ready: ReadyCase, limit: Minor) -> list[BillLine] | None:
    """Everything that some choice could buy, one pack of each; None where more packs of one may be wanted."""
    problem = ready.problem(limit, None)
    most = most_used(problem)
    out = []
    for item in problem.items:
        if item.price is None or most[item.name] <= item.owned or item.price > limit:
            continue
        if most[item.name] > item.owned + item.pack or item.tiers:
            return None
        out.append(BillLine(item.name, 1, item.price))
    return out


def _most_minutes(ready: ReadyCase) -> Minutes:
    """Work that no choice goes beyond."""
    return sum(
        max((option.minutes for option in decision.options), default=0)
        for decision in ready.problem(0, None).decisions
    )


def _supplies(found: BestPath, spans: Sequence[Span], least: _LeastStrain) -> tuple[Supply, ...]:
    """What is there by when along a path: before anything is bought, and wherever something changes."""
    masks: dict[tuple[BillLine, ...], int] = {(): 0}
    out = [Supply(0, (), spans[0].minutes)]
    for mask, span in zip(found.path, spans, strict=True):
        bought = tuple(least.purchases[number] for number in _members(mask))
        masks[bought] = mask
        out.append(Supply(span.day, bought, span.minutes))
    return tuple(useful_supplies(out, lambda supply: least.strain(masks[supply.bought], supply.minutes)))
