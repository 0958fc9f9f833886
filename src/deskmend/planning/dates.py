"""What to buy first as money comes in month by month: purchases and dates that leave least strain in all.

What to buy first: the exact search over sets of purchases and dates, free of what is bought.

Purchases are kept once made. Each set of them leaves some strain, never more when more is bought. Sought
are the sets, day by day, that leave least strain in all. What a set leaves is dear to work out, so the search
begins with lower bounds and works out only what a best path runs through, until no bound is left on it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from deskmend.choice import Choice, Problem, evaluate, solve
from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.engines import most_used, without_stock
from deskmend.choice.open_prices import OpenPrices
from deskmend.choice.result import figures_of
from deskmend.language import tr
from deskmend.planning.budgets import EveryBudget, Rung, frontier_of
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan_check import verify_plan
from deskmend.planning.prepared import NoPlan, Prepared

__all__ = [
    "DAYS_A_MONTH",
    "DAYS_A_WEEK",
    "DEFAULT_MONTHS",
    "INFEASIBLE",
    "Found",
    "Left",
    "Purchase",
    "Savings",
    "Schedule",
    "Span",
    "Stage",
    "best_path",
    "costs_of",
    "dated_groups",
    "sequence",
    "spans_of",
    "sum_over",
]

IntArray = NDArray[np.int64]
INFEASIBLE = 1 << 40
"""Stands for strain where what must be is not to be had [millionths of h/day]; above any strain there is."""
MOST_WORKED_OUT = 3000
"""States worked out before the search stops unproven."""


@dataclass(frozen=True)
class Span:
    """Days in which neither money nor time changes.

    Attributes
    ----------
    day : int
        First day, from 0 [days].
    days : int
        How many [days].
    money : int
        Money that has come in by then [minor units].
    minutes : int or None
        Work that can be done by then [min]; None: no limit.
    """

    day: int
    days: int
    money: int
    minutes: int | None


@dataclass(frozen=True)
class Left:
    """What some purchases leave at best.

    Attributes
    ----------
    strain : int
        The least strain [millionths of h/day].
    used : int
        Purchases it is reached with, as bits.
    minutes : int or None
        Work it takes [min]; None: not known, at most what was allowed.
    """

    strain: int
    used: int
    minutes: int | None


@dataclass(frozen=True)
class Found:
    """The best states, span by span.

    Attributes
    ----------
    path : tuple of int
        Purchases made in each span, as bits.
    total : int
        Strain over all days [millionths of h].
    bound : int
        No path leaves less [millionths of h]; the total where it is proven.
    worked_out : int
        States whose strain was worked out.
    """

    path: tuple[int, ...]
    total: int
    bound: int
    worked_out: int

    @property
    def proven(self) -> bool:
        """Whether no path over these purchases is better."""
        return self.total == self.bound


def costs_of(costs: Sequence[int]) -> IntArray:
    """Cost of every set of purchases [minor units], sets as bits."""
    out = np.zeros(1 << len(costs), dtype=np.int64)
    for number, cost in enumerate(costs):
        bit = 1 << number
        out[bit : 2 * bit] = out[:bit] + cost
    return out


def best_path(
    costs: Sequence[int],
    spans: Sequence[Span],
    at_least: Callable[[int], int],
    left: Callable[[int, int | None], Left],
) -> Found:
    """Find the purchases and dates that leave least strain over all spans.

    Parameters
    ----------
    costs : sequence of int
        Cost of each purchase [minor units].
    spans : sequence of Span
        Money and minutes never fall from one to the next.
    at_least : callable
        (money) -> strain that no purchases for that money can go below [millionths of h/day].
    left : callable
        (purchases as bits, minutes) -> what they leave; the strain never rises with either.

    Returns
    -------
    Found
        Proven unless more states than allowed had to be worked out. Among equals the later, smaller purchase.
    """
    whole = costs_of(costs)
    levels = list(dict.fromkeys(span.minutes for span in spans))
    floor = np.array([at_least(int(cost)) for cost in whole], dtype=np.int64)
    bounds = {level: floor.copy() for level in levels}
    reached = {level: np.full(len(whole), INFEASIBLE, dtype=np.int64) for level in levels}
    worked_out: set[tuple[int, int | None]] = set()
    masks = np.arange(len(whole))

    def work_out(mask: int, level: int | None) -> None:
        found = left(mask, level)
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
            return Found(path, total, min(bound, total), len(worked_out))


def _path(
    costs: IntArray, spans: Sequence[Span], bounds: dict[int | None, IntArray]
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


def _first(masks: NDArray[np.int64]) -> int:
    """The smallest set, then the first."""
    return min((int(mask) for mask in masks), key=lambda mask: (mask.bit_count(), mask))


def sum_over(
    order: Sequence[int],
    costs: Sequence[int],
    spans: Sequence[Span],
    strain: Callable[[int, int | None], int],
) -> int:
    """Strain over all days when purchases are made in an order, each as soon as there is money for it.

    Parameters
    ----------
    order : sequence of int
        Numbers of the purchases.
    costs, spans, strain
        As for `best_path`.

    Returns
    -------
    int
        [millionths of h]
    """
    waiting, mask, spent, total = list(order), 0, 0, 0
    for span in spans:
        while waiting and spent + costs[waiting[0]] <= span.money:
            number = waiting.pop(0)
            mask, spent = mask | 1 << number, spent + costs[number]
        total += strain(mask, span.minutes) * span.days
    return total


DAYS_A_MONTH = 30
"""Days a month counts for: judgement, so that every month weighs the same."""
DAYS_A_WEEK = 7
MOST_CANDIDATES = 14
"""Purchases whose every set is looked at."""
DEFAULT_MONTHS = 12
"""Months looked ahead where nobody says how many: judgement."""


@dataclass(frozen=True)
class Savings:
    """Money over time.

    Attributes
    ----------
    in_hand, a_month : int
        Money now, and what comes in at the end of each month [minor units].
    months : int
        How far ahead is looked [months].
    """

    in_hand: int
    a_month: int
    months: int = DEFAULT_MONTHS

    @property
    def limit(self) -> int:
        """All money up to the horizon [minor units]."""
        return self.in_hand + self.a_month * self.months


@dataclass(frozen=True)
class Purchase:
    """Packs of one item bought in one go, and their cost [minor units]."""

    item: str
    packs: int
    cost: int


@dataclass(frozen=True)
class Stage:
    """What changes on one day.

    Attributes
    ----------
    day : int
        From 0, which is today [days].
    buys : tuple of Purchase
        What is bought on that day.
    spent : int
        Money spent up to then [minor units].
    options : tuple of OptionSpec
        Everything in use from then on, in catalog order.
    strain : int
        Strain from then on [millionths of h/day].
    """

    day: int
    buys: tuple[Purchase, ...]
    spent: int
    options: tuple[OptionSpec, ...]
    strain: int


@dataclass(frozen=True)
class Schedule:
    """Purchases and their dates.

    Attributes
    ----------
    savings : Savings
        Money over time.
    stages : tuple of Stage
        Days on which something changes, the first is today.
    candidates : tuple of Purchase
        Purchases of which every set and date was looked at.
    left_aside : int
        Purchases of best plans that were too many to look at.
    total : int
        Strain summed over the days to the horizon, the last included [millionths of h].
    bound : int
        No purchases whatsoever leave less [millionths of h].
    cheapest_first, biggest_first : int
        The same sum where the same purchases are made in these orders, each as soon as it can be paid.
    exact : bool
        Nothing over the candidates is better.
    all_for_sale : bool
        The candidates are everything that any choice could buy.
    """

    savings: Savings
    stages: tuple[Stage, ...]
    candidates: tuple[Purchase, ...]
    left_aside: int
    total: int
    bound: int
    cheapest_first: int
    biggest_first: int
    exact: bool
    all_for_sale: bool = False

    @property
    def cost_now(self) -> int:
        """Money spent today [minor units]."""
        return self.stages[0].spent

    @property
    def spent(self) -> int:
        """Money spent in all, also on what comes to lie unused [minor units]."""
        return self.stages[-1].spent

    @property
    def exact_over_all(self) -> bool:
        """Whether no purchases whatsoever are better."""
        return self.exact and (self.all_for_sale or self.total == self.bound)


class _Strains:
    """Least strain with what was bought so far and anything free, within some minutes."""

    def __init__(self, ready: Prepared, purchases: Sequence[Purchase]) -> None:
        self.ready, self.purchases = ready, purchases
        self.base = ready.problem(0, None)
        self._known: dict[tuple[int, int | None], Choice] = {}

    def choice(self, mask: int, minutes: int | None) -> Choice:
        if minutes is not None:
            freely = self.choice(mask, None)
            if freely.found and freely.minutes <= minutes:
                return freely
        if (mask, minutes) not in self._known:
            self._known[mask, minutes] = solve(self._with(mask, minutes))
        return self._known[mask, minutes]

    def _with(self, mask: int, minutes: int | None) -> Problem:
        """The choice where some purchases are made and there is no money for more."""
        had = {p.item: p.packs for n, p in enumerate(self.purchases) if mask >> n & 1}
        items = [
            replace(item, owned=item.owned + had.get(item.name, 0) * item.pack) for item in self.base.items
        ]
        return replace(self.base, items=items, minutes=minutes)

    def left(self, mask: int, minutes: int | None) -> Left:
        at_once = self._at_once(mask, minutes)
        if at_once is not None:
            return at_once
        choice = self.choice(mask, minutes)
        if not choice.found:
            return Left(INFEASIBLE, 0, 0)
        return Left(choice.value + self.ready.model.fixed_strain, self._used(choice), choice.minutes)

    def strain(self, mask: int, minutes: int | None) -> int:
        return self.left(mask, minutes).strain

    @cached_property
    def _open(self) -> OpenPrices | None:
        """One search for every set of purchases, where the tables are not too entangled for it."""
        bought = {purchase.item: purchase.packs for purchase in self.purchases}
        items = [
            replace(item, price=1, pack=item.pack * bought[item.name], stock=None, tiers=())
            if item.name in bought
            else replace(item, price=None, stock=None, tiers=())
            for item in self.base.items
        ]
        problem = replace(self.base, money=None, minutes=None, items=items)
        try:
            # pieces that cannot be bought are left aside; what overdraws them is worked out by itself
            return OpenPrices(without_stock(problem), list(bought))
        except (TooWide, ValueError):
            return None

    def _at_once(self, mask: int, minutes: int | None) -> Left | None:
        """Ask the one search: what is bought already is free, what is not is dearer than all strain."""
        if self._open is None:
            return None
        numbers = {purchase.item: number for number, purchase in enumerate(self.purchases)}
        prices = {item: 0 if mask >> number & 1 else self._forbidding for item, number in numbers.items()}
        try:
            choice = self._open.least(1, 1, prices, minutes)
        except TooWide:
            return None
        if choice is None or evaluate(self._with(mask, None), choice.options).violations:
            return None
        used = sum(1 << numbers[item] for item in choice.packs)
        return Left(choice.value + self.ready.model.fixed_strain, used, choice.minutes)

    @cached_property
    def _forbidding(self) -> int:
        """Price above the strain of any choice."""
        tables = self.base.tables
        return 1 + sum(int(table.values.max()) - min(0, int(table.values.min())) for table in tables)

    def _used(self, choice: Choice) -> int:
        """Purchases that a choice makes use of, as bits."""
        use: Counter[str] = Counter()
        for decision in self.base.decisions:
            for option in decision.options:
                if option.name == choice.options[decision.name]:
                    use.update(option.use)
        owned = {item.name: item.owned for item in self.base.items}
        return sum(1 << n for n, p in enumerate(self.purchases) if use[p.item] > owned[p.item])


def sequence(
    ready: Prepared, savings: Savings, minutes: int | None, every: EveryBudget | None = None
) -> tuple[Schedule, Choice]:
    """Choose purchases and their dates so that strain summed over the days to the horizon is least.

    Parameters
    ----------
    ready : Prepared
        The case; its minutes a week limit how fast things are made.
    savings : Savings
        Money over time.
    minutes : int or None
        Work that may be done in all [min].
    every : EveryBudget, optional
        Of the same case and minutes, where others ask for its plans too.

    Returns
    -------
    schedule : Schedule
        Every stage scored and priced again without the optimiser.
    choice : Choice
        The last stage as a choice, with the least strain any plan within all the money leaves as its bound.

    Raises
    ------
    deskmend.planning.prepared.NoPlan
        What must be in the plan is not to be had for the money in hand.
    deskmend.errors.DefectError
        A stage does not hold when checked again.

    Notes
    -----
    Candidates are the things that the best plans at any budget up to all the money buy, an item's packs in
    one go, and everything else that could be bought where that is little in all. Over them the search is
    exact. Over what else is for sale it is held against a bound: on no day can less strain be left than the
    best plan for all the money that has come in by then leaves.
    """
    limit = savings.limit
    rungs = frontier_of(ready, minutes, limit) if every is None else every.within(limit)
    if rungs[0].cost > savings.in_hand:
        raise NoPlan(
            tr("what must be in the plan cannot be paid from the money in hand"),
            tr("leave out --saving to see what it takes, or have more in hand"),
        )
    purchases = _candidates(rungs)
    for_sale = _for_sale(ready, savings.limit)
    everything = for_sale is not None and len(for_sale) <= MOST_CANDIDATES
    if for_sale is not None and everything:
        had = {purchase.item for purchase in purchases}
        purchases += [purchase for purchase in for_sale if purchase.item not in had]
    aside = max(len(purchases) - MOST_CANDIDATES, 0)
    purchases = purchases[:MOST_CANDIDATES]
    spans = spans_of(savings, minutes, ready.case.means.minutes_per_week, _most_minutes(ready))
    strains = _Strains(ready, purchases)
    costs = [purchase.cost for purchase in purchases]

    def at_least(money: int) -> int:
        return next((rung.strain for rung in reversed(rungs) if rung.cost <= money), INFEASIBLE)

    found = best_path(costs, spans, at_least, strains.left)
    chosen = [number for number in range(len(purchases)) if found.path[-1] >> number & 1]
    cheapest = sorted(chosen, key=lambda n: (costs[n], n))
    biggest = sorted(chosen, key=lambda n: (strains.strain(1 << n, spans[-1].minutes), n))
    stages, last = _stages(ready, found, spans, purchases, strains)
    schedule = Schedule(
        savings,
        stages,
        tuple(purchases),
        aside,
        found.total,
        sum(at_least(span.money) * span.days for span in spans),
        sum_over(cheapest, costs, spans, strains.strain),
        sum_over(biggest, costs, spans, strains.strain),
        found.proven and not aside,
        everything,
    )
    least = rungs[-1].choice.value
    return schedule, replace(
        last,
        proven=schedule.exact,
        bound=least,
        status="optimal" if schedule.exact else "not_proven",
        engine="sequence",
    )


def _candidates(rungs: Sequence[Rung]) -> list[Purchase]:
    """Things that the best plans buy, those of the dearest first; of each the largest number of packs."""
    most: dict[str, Purchase] = {}
    for rung in reversed(rungs):
        for line in rung.bill.lines:
            if line.item not in most or line.packs > most[line.item].packs:
                most[line.item] = Purchase(line.item, line.packs, line.cost)
    return list(most.values())


def _for_sale(ready: Prepared, limit: int) -> list[Purchase] | None:
    """Everything that some choice could buy, one pack of each; None where more packs of one may be wanted."""
    problem = ready.problem(limit, None)
    most = most_used(problem)
    out = []
    for item in problem.items:
        if item.price is None or most[item.name] <= item.owned or item.price > limit:
            continue
        if most[item.name] > item.owned + item.pack or item.tiers:
            return None
        out.append(Purchase(item.name, 1, item.price))
    return out


def _most_minutes(ready: Prepared) -> int:
    """Work that no choice goes beyond [min]."""
    return sum(
        max((option.minutes for option in decision.options), default=0)
        for decision in ready.problem(0, None).decisions
    )


def spans_of(savings: Savings, minutes: int | None, per_week: int | None, most: int) -> list[Span]:
    """Days to the horizon, parted wherever money or working time comes in.

    Parameters
    ----------
    savings : Savings
        Money comes in at the end of each month.
    minutes, per_week : int or None
        Work in all and a week [min]; the first week's time is there on the first day.
    most : int
        Work beyond which more time changes nothing [min].

    Returns
    -------
    list of Span
        The last is the one day on which the last money has come in.
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


def _stages(
    ready: Prepared,
    found: Found,
    spans: Sequence[Span],
    purchases: Sequence[Purchase],
    strains: _Strains,
) -> tuple[tuple[Stage, ...], Choice]:
    out: list[Stage] = []
    had, last = 0, None
    for mask, span in zip(found.path, spans, strict=True):
        arranged = strains.choice(mask, span.minutes)
        if last is not None and mask == had and arranged.options == last.options:
            continue
        spent = sum(p.cost for number, p in enumerate(purchases) if mask >> number & 1)
        problem = ready.problem(span.money, span.minutes)
        figures = figures_of(evaluate(problem, arranged.options))
        last = replace(arranged, figures=figures)
        verify_plan(ready, last, spent, span.minutes)
        buys = tuple(p for number, p in enumerate(purchases) if (mask & ~had) >> number & 1)
        strain = last.value + ready.model.fixed_strain
        out.append(Stage(span.day, buys, spent, ready.options_of(last), strain))
        had = mask
    if last is None:
        raise ValueError("there is no day to plan for")
    return tuple(out), last


def dated_groups(stages: Sequence[Stage]) -> Mapping[int, tuple[OptionSpec, ...]]:
    """The last stage's fixes by the day from which on each stays as it is then.

    Parameters
    ----------
    stages : sequence of Stage
        In order of time.
    """
    out: dict[int, list[OptionSpec]] = {}
    for option in stages[-1].options:
        day = stages[-1].day
        for stage in reversed(stages):
            if option not in stage.options:
                break
            day = stage.day
        out.setdefault(day, []).append(option)
    return {day: tuple(out[day]) for day in sorted(out)}
