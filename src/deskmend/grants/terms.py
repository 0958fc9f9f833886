"""What a fund has to give and by which rules, what these permit one person, and what comes of sharing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Literal

from deskmend.grants.people.columns import Applicant, Column, pareto
from deskmend.measures import Micro, Minor

__all__ = [
    "Allocation",
    "FundTerms",
    "Hindrance",
    "ItemOrder",
    "MoreMoney",
    "PersonalRules",
    "Policy",
    "Progress",
    "ReasonsFor",
    "ScoreLimit",
    "SharingStatus",
    "StockCost",
    "StrainLevel",
    "Waiting",
    "Watch",
    "packs_of",
    "personal_rules",
    "step_of",
    "weighted_relief",
]

Policy = Literal["most_relief", "most_people", "worst_off_first"]
SharingStatus = Literal["optimal", "within_gap", "not_proven", "infeasible"]
"""``within_gap``: done, and the gap is proven; ``not_proven``: stopped early, and the gap is proven all the
same, only wider than it need be; ``infeasible``: the floors cannot be paid or the stock does not cover them.
"""


@dataclass(frozen=True)
class ScoreLimit:
    """What counts as brought under a limit: no more than `most` of a score."""

    score: str
    """``strain`` [`Micro`], or a published score by its name [-]."""
    most: int

    @property
    def of_strain(self) -> bool:
        """Whether strain is limited, which every plan knows, and no published score."""
        return self.score == "strain"

    def kept(self, strain: Micro, score: int | None) -> bool:
        """Whether a plan with these figures keeps to the limit; a score that cannot be given never does."""
        value = strain if self.of_strain else score
        return value is not None and value <= self.most

    def broken(self, strain: Micro, score: int | None) -> bool:
        """Whether such a plan lies above the limit; a score that cannot be given never does."""
        value = strain if self.of_strain else score
        return value is not None and value > self.most


@dataclass(frozen=True)
class FundTerms:
    """The fund, the market and the rules.

    Raises ValueError where they mean nothing.
    """

    fund: Minor
    base: Mapping[str, Minor]
    """Listed price of one pack of every item that a plan may use."""
    stock: Mapping[str, int] = field(default_factory=dict)
    """Most packs that can be had of an item, over all people; no entry is no limit."""
    spare: Mapping[str, int] = field(default_factory=dict)
    """Packs of an item that lie in store, paid by earlier rounds; they are used first, and stock and tiers
    count only what is bought beside them."""
    tiers: Mapping[str, tuple[tuple[int, Minor], ...]] = field(default_factory=dict)
    """(from_packs, price of each pack), rising and ever cheaper.  All packs of the order get the price of the
    tier it reaches; more packs than needed may be ordered, since ten may cost less than nine, and stock
    limits those too."""
    savable: Mapping[str, int] = field(default_factory=dict)
    """Most packs that people can save by taking from one pack together, for each item of which they may.  No
    limit counts on it: here everybody opens packs of their own, and what is saved stays in the fund."""
    policy: Policy = "most_relief"
    limit: ScoreLimit | None = None
    """For ``most_people``, and only there."""
    cap: Minor | None = None
    """Most that may be given to one person in this round, at listed prices."""
    caps: Mapping[str, Minor] = field(default_factory=dict)
    """The same for single people, by id: what earlier rounds leave of a cap over all of them."""
    floor: Minor | None = None
    """Least that each person is given, at listed prices: the plan must leave no more strain than the cheapest
    useful plan on that person's own frontier that costs as much; where none costs as much (or the cap forbids
    it), than their dearest.  Since less strain never costs less, nobody then gets less than the floor, and no
    money is burnt to reach it."""
    ceiling: Mapping[str, Micro] = field(default_factory=dict)
    """Most strain that somebody may be left with, by id, because people decided so."""
    group_share: Mapping[str, Fraction] = field(default_factory=dict)
    """Part of the whole fund, all rounds together, that is kept for a group; what it does not use stays
    unspent.  Whichever of these groups are taken together: what everybody else is given comes to no more than
    the whole fund less their parts.  This round counts at listed prices, so that no person's plan hangs on
    what others order; what the order saves below them may be spent on anybody within that."""
    group_cap: Mapping[str, Minor] = field(default_factory=dict)
    """Most that all people of a group may be given in this round, at listed prices: what earlier rounds leave
    of a cap over all of them."""
    spent_before: Mapping[str | None, Minor] = field(default_factory=dict)
    """What earlier rounds paid for each group, "" for people of none, None for what lies in store; `fund` is
    what is left."""

    def __post_init__(self) -> None:
        """Refuse terms that mean nothing."""
        if self.fund < 0:
            raise ValueError("fund: less than nothing")
        if (self.policy == "most_people") != (self.limit is not None):
            raise ValueError("limit: needed for most_people, and only there")
        if any(most < 0 for most in self.group_cap.values()):
            raise ValueError("group_cap: less than nothing")
        if sum(self.group_share.values()) > 1 or any(part < 0 for part in self.group_share.values()):
            raise ValueError("group_share: parts from 0 that add up to no more than 1 are needed")

    @property
    def bounds_one_person(self) -> bool:
        """Whether cap or floor permit one person less than every plan."""
        return bool(self.caps or self.ceiling) or self.cap is not None or self.floor is not None

    def cap_of(self, person: str) -> Minor | None:
        """Most that may be given to somebody in this round, at listed prices; None for no limit."""
        return min((cap for cap in (self.cap, self.caps.get(person)) if cap is not None), default=None)

    @cached_property
    def pot_numbers(self) -> Mapping[str, int]:
        """Number of what each group draws on that has a share, as among `pots`, or after these a cap alone.

        All others draw on number 0.
        """
        capped = sorted(set(self.group_cap) - set(self.group_share))
        return {group: 1 + number for number, group in enumerate([*sorted(self.group_share), *capped])}

    @cached_property
    def pot_caps(self) -> tuple[tuple[int, Minor], ...]:
        """For each group with a cap, by name, the number it draws on and the most that may go there."""
        return tuple((self.pot_numbers[group], self.group_cap[group]) for group in sorted(self.group_cap))

    @cached_property
    def pots(self) -> tuple[Fraction, ...]:
        """The money open to all, then what is kept for each group; empty where no shares are kept.

        What earlier rounds gave has been taken out, so that less than nothing may be left in one.
        """
        if not self.group_share:
            return ()
        whole = Fraction(self.fund + sum(self.spent_before.values()))
        left = [whole * (1 - sum(self.group_share.values(), Fraction(0)))]
        left += [whole * self.group_share[group] for group in sorted(self.group_share)]
        for group, spent in self.spent_before.items():
            if group is not None:
                left[self.pot_numbers[group] if group in self.group_share else 0] -= spent
        return tuple(left)

    def keeps_shares(self, listed: Sequence[Minor]) -> bool:
        """Whether each group's part is left whole by so much listed money as by `pot_numbers`."""
        if not self.pots:
            return True
        parts = len(self.pots)
        # any sum of other groups is tightest where just those are counted that go beyond their own part
        beyond = [
            max(Fraction(0), used - left) for used, left in zip(listed[1:parts], self.pots[1:], strict=True)
        ]
        return listed[0] + sum(listed[parts:]) + sum(beyond) - min(beyond) <= self.pots[0]

    def keeps_group_caps(self, listed: Sequence[Minor]) -> bool:
        """Whether no group with a cap is given more by so much listed money as by `pot_numbers`."""
        return all(listed[number] <= most for number, most in self.pot_caps)

    def pot_of(self, person: Applicant) -> int:
        """Number, as in `pot_numbers`, of what pays for a person first."""
        return self.pot_numbers.get(person.group or "", 0)

    @property
    def drawn_on(self) -> range:
        """All numbers of `pot_numbers`, and 0."""
        return range(1 + len(self.pot_numbers))


@dataclass(frozen=True)
class ItemOrder:
    """What is bought of one item: `needed` packs are opened, more bought where a tier makes that cheaper."""

    item: str
    needed: int
    packs: int
    unit_price: Minor
    from_store: int = 0
    """How many of the packs needed lie in store already."""

    @property
    def cost(self) -> Minor:
        """What all packs cost."""
        return self.packs * self.unit_price


@dataclass(frozen=True)
class StrainLevel:
    """One level of ``worst_off_first``: the best that can be done for those who keep most strain."""

    strain: Micro
    """Strain they are left with by this allocation, and below, what no allocation gets below."""
    strain_at_least: Micro
    people: int
    """How many people keep exactly that much, and below, the least possible number."""
    people_at_least: int

    @property
    def proven(self) -> bool:
        """Whether no allocation does better on this level."""
        return self.strain == self.strain_at_least and self.people == self.people_at_least


Hindrance = Literal[
    "no_help",
    "decided",
    "cap",
    "stock",
    "group_cap",
    "share",
    "weight",
    "money",
    "missed",
    "not_asked",
    "broken_off",
]
"""Why somebody is given nothing that costs money.

- ``no_help``: nothing that is offered takes strain off, beyond what is free.
- ``decided``: the same, but without what people decided for this person something would.
- ``cap``: all that does costs more than one person may be given.
- ``stock``: there are not enough of the things; where the fund was shared again, at any fund.
- ``group_cap``: their group may not be given so much; without that they would be served, where the fund was
  shared again, at some fund.
- ``share``: what would pay for it is kept for other groups; without these parts they would be served.
- ``weight``: the table lets this person count for nothing.
- ``money``: there is not enough of it; with more they would be served.
- ``missed``: it could be given; the search, which is not proven best, has not found it.
- ``not_asked``: so many wait that nobody asked why.
- ``broken_off``: the search ended before this was known.
"""


ReasonsFor = Literal["few", "each", "all"]
"""For whom it is worked out why they are given nothing: ``few``, where they are not many; ``each`` asks for
the plans of everybody; ``all`` also shares again where people are many."""


@dataclass(frozen=True)
class Waiting:
    """Somebody who gets nothing that costs money."""

    id: str
    why: Hindrance
    not_at: Minor | None = None
    """Fund at which, shared again by the same rules, this person is not served, and below, a larger one at
    which they are; None where no money would serve them, or the fund was not shared again."""
    fund: Minor | None = None


@dataclass(frozen=True)
class MoreMoney:
    """What `extra` money would add to the value of the policy, in the unit of `Allocation.relief`.

    At least what is found by sharing anew, at most what is proven impossible to exceed.
    """

    extra: Minor
    at_least: int
    at_most: int


@dataclass(frozen=True)
class StockCost:
    """What enough packs of a scarce item would add, as in `MoreMoney`.

    The most is None where asking everybody again would take too long.
    """

    item: str
    at_least: int
    at_most: int | None


@dataclass(frozen=True)
class Progress:
    """Where a search stands: best value so far and what none can exceed, as in `Allocation`.

    At ``waiting`` they count people: for how many a fund that serves them is found, and of how many.
    """

    stage: str
    """One of ``plans``, ``prices``, ``bound``, ``share``, ``prove``, ``questions``, ``waiting``."""
    relief: int | None
    bound: int | None

    @property
    def gap(self) -> float | None:
        """(bound - relief) / relief; None where it has no meaning yet."""
        if self.relief is None or self.bound is None or self.relief <= 0 or self.stage == "waiting":
            return None
        return (self.bound - self.relief) / self.relief


Watch = Callable[[Progress], None]


@dataclass(frozen=True)
class Allocation:
    """A fund shared out, with its proof; nothing is chosen where nothing was found that keeps the rules."""

    policy: Policy
    status: SharingStatus
    chosen: Mapping[str, Column]
    """Plan of each person, sorted by id."""
    orders: tuple[ItemOrder, ...]
    """Sorted by item."""
    spent: Minor
    """Cost of all orders; surplus packs of a tier included."""
    relief: int
    """Value of the policy.  ``most_relief`` and ``worst_off_first``: `weighted_relief`.  ``most_people``:
    people who are above the limit with free fixes only and keep it after [-]."""
    bound: int
    """What no allocation can exceed, in the same unit.  ``worst_off_first``: equal to relief where all levels
    are proven, else what most relief could reach."""
    weighted_relief: int
    """Weighted strain with free fixes only less weighted strain after, whatever the policy [millionths of
    h/day x thousandths of weight]."""
    levels: tuple[StrainLevel, ...] = ()
    """For ``worst_off_first``, from the worst off."""
    waiting: tuple[Waiting, ...] = ()
    """Everybody who is given nothing that costs money, sorted by fund, then id."""
    broken_off: bool = False
    """Whether the search, or what was asked of it afterwards, ended before it was done."""
    more_money: MoreMoney | None = None
    """What one step more, as in `step_of`, would add."""
    together_at_most: int | None = None
    """What packs taken from together, had the search counted on them, could add at most, in the unit of
    `relief`; None where that is not known."""
    stock_costs: tuple[StockCost, ...] = ()
    """One for each item whose stock is used up."""
    most_relief: int | None = None
    """Weighted relief that the policy ``most_relief`` reaches, and below, its bound: the price of fairness is
    what `weighted_relief` falls short of it."""
    most_relief_bound: int | None = None

    @property
    def gap(self) -> float | None:
        """(bound - relief) / relief [-]; 0 where both are 0, None where only relief is."""
        if self.relief == 0:
            return 0.0 if self.bound == 0 else None
        return (self.bound - self.relief) / self.relief


def step_of(terms: FundTerms) -> Minor:
    """A round amount, 1, 2 or 5 and noughts, that means something to a fund, in whatever currency.

    A tenth of the fund or more, and no less than half of all things cost.
    """
    prices = sorted(terms.base.values())
    whole = terms.fund + sum(terms.spent_before.values())
    least = max(1, whole // 10, prices[len(prices) // 2] if prices else 1)
    ten = 1
    while True:
        for step in (ten, 2 * ten, 5 * ten):
            if step >= least:
                return step
        ten *= 10


def packs_of(columns: Iterable[Column]) -> dict[str, int]:
    """Add up the packs of plans, sorted by item."""
    total: dict[str, int] = {}
    for column in columns:
        for item, count in column.packs:
            total[item] = total.get(item, 0) + count
    return dict(sorted(total.items()))


def weighted_relief(people: Iterable[Applicant], chosen: Mapping[str, Column]) -> int:
    """Weighted relief of everybody's plan together, as in `Allocation`."""
    return sum(one.weight * (one.strain_free - chosen[one.id].strain) for one in people)


@dataclass(frozen=True)
class PersonalRules:
    """What cap and floor mean for each person."""

    caps: Mapping[str, Minor] = field(default_factory=dict)
    """Most that may be given to a person, by id; who is not named may be given anything."""
    ceiling: Mapping[str, Micro] = field(default_factory=dict)
    """Most strain that a person may be left with, for the sake of the floor."""
    least: Mapping[str, Micro] = field(default_factory=dict)
    """Least strain that a person can reach within the cap."""

    def admitted(
        self, person: Applicant, strain: Micro, listed: Minor, relaxed: bool = False
    ) -> Micro | None:
        """Give the strain a plan counts with; None where it is not permitted or worse than the free fixes.

        `listed` is its listed price.  `relaxed` admits plans above the cap with no less strain than the cap
        allows: they stand for all that the cap permits where a bound is worked out.
        """
        if strain > self.ceiling.get(person.id, person.strain_free):
            return None
        if listed > self.caps.get(person.id, listed):
            return max(strain, self.least[person.id]) if relaxed else None
        return strain


def personal_rules(
    applicants: Sequence[Applicant], plans: Mapping[str, Sequence[Column]], terms: FundTerms
) -> PersonalRules:
    """Work out what cap and floor mean for each person, from the Pareto set of each at listed prices."""
    if not terms.bounds_one_person:
        return PersonalRules()
    caps = {one.id: cap for one in applicants if (cap := terms.cap_of(one.id)) is not None}
    ceiling: dict[str, Micro] = {}
    least: dict[str, Micro] = {}
    for person in applicants:
        within = [
            column
            for column in pareto(plans[person.id], terms.base)
            if column.cost(terms.base) <= caps.get(person.id, column.cost(terms.base))
            and column.strain <= person.strain_free
        ]
        least[person.id] = within[-1].strain
        useful = [column for column in within if column.strain < person.strain_free]
        if terms.floor is not None and useful:
            enough = [column for column in useful if column.cost(terms.base) >= terms.floor]
            ceiling[person.id] = (enough or useful[-1:])[0].strain
    for one, most in terms.ceiling.items():
        ceiling[one] = min(most, ceiling.get(one, most))
    return PersonalRules(caps, ceiling, least)
