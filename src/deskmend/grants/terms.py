"""Cap and floor: what the rules permit one person.

What a fund has to give and under which rules, and what comes out of sharing it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from deskmend.grants.people.columns import Applicant, Column, pareto

__all__ = [
    "Allocation",
    "Level",
    "Limit",
    "MoreMoney",
    "Order",
    "PersonalRules",
    "Policy",
    "Progress",
    "Status",
    "StockCost",
    "Terms",
    "Waiting",
    "personal_rules",
]

Policy = Literal["most_relief", "most_people", "worst_off_first"]
Status = Literal["optimal", "within_gap", "not_proven", "infeasible"]
"""``within_gap``: done, and the gap is proven; ``not_proven``: stopped early, and the gap is proven all the
same, only wider than it need be; ``infeasible``: the floors cannot be paid or the stock does not cover them.
"""


@dataclass(frozen=True)
class Limit:
    """What counts as brought under a limit.

    Attributes
    ----------
    score : str
        What is limited: ``strain``, or a published score by its name.
    most : int
        Largest value that keeps it [millionths of h/day] or [-].
    """

    score: str
    most: int

    @property
    def of_strain(self) -> bool:
        """Whether strain is limited, which every plan knows, and no published score."""
        return self.score == "strain"

    def kept(self, strain: int, score: int | None) -> bool:
        """Whether a plan with these figures keeps to the limit; a score that cannot be given never does."""
        value = strain if self.of_strain else score
        return value is not None and value <= self.most


@dataclass(frozen=True)
class Terms:
    """The fund, the market and the rules.

    Attributes
    ----------
    fund : int
        Money to share [minor units].
    base : mapping of str to int
        Listed price of one pack of every item that a plan may use [minor units].
    stock : mapping of str to int
        Most packs that can be had of an item, over all people [-]; no entry is no limit.
    tiers : mapping of str to tuple of (int, int)
        (from_packs, price of each pack [minor units]), rising and ever cheaper.  All packs of the
        order get the price of the tier it reaches; more packs than needed may be ordered, since ten may
        cost less than nine, and stock limits those too.
    policy : {"most_relief", "most_people", "worst_off_first"}
        What is best.
    limit : Limit or None
        For ``most_people``.
    cap : int or None
        Most that may be given to one person, at listed prices [minor units].
    floor : int or None
        Least that each person is given, at listed prices [minor units]: the plan must leave no more strain
        than the cheapest useful plan on that person's own frontier that costs as much; where none costs as
        much (or the cap forbids it), than their dearest.  Since less strain never costs less, nobody then
        gets less than the floor, and no money is burnt to reach it.
    group_share : mapping of str to Fraction
        Part of the fund kept for a group, at listed prices; what the group does not use stays unspent.
    """

    fund: int
    base: Mapping[str, int]
    stock: Mapping[str, int] = field(default_factory=dict)
    tiers: Mapping[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)
    policy: Policy = "most_relief"
    limit: Limit | None = None
    cap: int | None = None
    floor: int | None = None
    group_share: Mapping[str, Fraction] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse terms that mean nothing."""
        if self.fund < 0:
            raise ValueError("fund: less than nothing")
        if (self.policy == "most_people") != (self.limit is not None):
            raise ValueError("limit: needed for most_people, and only there")
        if sum(self.group_share.values()) > 1 or any(part < 0 for part in self.group_share.values()):
            raise ValueError("group_share: parts from 0 that add up to no more than 1 are needed")


@dataclass(frozen=True)
class Order:
    """What is bought of one item.

    Attributes
    ----------
    item : str
        What.
    needed : int
        Packs opened for people [-].
    packs : int
        Packs bought; more than needed where a tier makes that cheaper [-].
    unit_price : int
        Price of each pack [minor units].
    """

    item: str
    needed: int
    packs: int
    unit_price: int

    @property
    def cost(self) -> int:
        """What all packs cost [minor units]."""
        return self.packs * self.unit_price


@dataclass(frozen=True)
class Level:
    """One level of ``worst_off_first``: the best that can be done for those who keep most strain.

    Attributes
    ----------
    strain, strain_at_least : int
        Strain left with this allocation, and what no allocation gets below [millionths of h/day].
    people, people_at_least : int
        How many people keep exactly that much, and the least possible number [-].
    """

    strain: int
    strain_at_least: int
    people: int
    people_at_least: int

    @property
    def proven(self) -> bool:
        """Whether no allocation does better on this level."""
        return self.strain == self.strain_at_least and self.people == self.people_at_least


@dataclass(frozen=True)
class Waiting:
    """Somebody who gets nothing that costs money, though something would help.

    Attributes
    ----------
    id : str
        Who.
    fund : int or None
        Fund at which this person would be served [minor units]; None where the rules, not the money, refuse.
    proven : bool
        False: an estimate.  Money goes where it does most, at the prices of this allocation's tiers and
        with scarce packs at what they are worth; the fund is the sum of all that does as much or more.
    """

    id: str
    fund: int | None
    proven: bool


@dataclass(frozen=True)
class MoreMoney:
    """What a little more money would add.

    Attributes
    ----------
    extra : int
        Added to the fund [minor units].
    at_least, at_most : int
        What it adds to the value of the policy: found by sharing anew, and what is proven impossible to
        exceed; same unit as `Allocation.relief`.
    """

    extra: int
    at_least: int
    at_most: int


@dataclass(frozen=True)
class StockCost:
    """What the limited stock of one item costs.

    Attributes
    ----------
    item : str
        What is scarce.
    at_least, at_most : int
        What enough packs would add to the value of the policy, as in `MoreMoney`; the most is None where
        asking everybody again would take too long.
    """

    item: str
    at_least: int
    at_most: int | None


@dataclass(frozen=True)
class Progress:
    """Where a search stands.

    Attributes
    ----------
    stage : str
        One of ``plans``, ``prices``, ``bound``, ``share``, ``prove``, ``questions``.
    relief, bound : int or None
        Best value so far and what none can exceed, as in `Allocation`.
    """

    stage: str
    relief: int | None
    bound: int | None

    @property
    def gap(self) -> float | None:
        """(bound - relief) / relief; None where it has no meaning yet."""
        if self.relief is None or self.bound is None or self.relief <= 0:
            return None
        return (self.bound - self.relief) / self.relief


Watch = Callable[[Progress], None]


@dataclass(frozen=True)
class Allocation:
    """A fund shared out, with its proof.

    Attributes
    ----------
    policy : str
        As in `Terms`.
    status : str
        ``optimal``, ``within_gap``, ``not_proven`` or ``infeasible`` (then nothing is chosen).
    chosen : mapping of str to Column
        Plan of each person, sorted by id.
    orders : tuple of Order
        What is bought, sorted by item.
    spent : int
        Cost of all orders [minor units]; surplus packs of a tier included.
    relief : int
        Value of the policy.  ``most_relief`` and ``worst_off_first``: weighted strain with free fixes only
        less weighted strain after [millionths of h/day x thousandths of weight].  ``most_people``: people who
        are above the limit with free fixes only and keep it after [-].
    bound : int
        What no allocation can exceed, in the same unit.  ``worst_off_first``: equal to relief where all
        levels are proven, else what most relief could reach.
    weighted_relief : int
        Weighted relief whatever the policy, in the unit of ``most_relief``.
    levels : tuple of Level
        For ``worst_off_first``, from the worst off.
    waiting : tuple of Waiting
        Sorted by fund, then id.
    more_money : MoreMoney or None
        What the next 100 (major units) would add.
    stock_costs : tuple of StockCost
        One for each item whose stock is used up.
    most_relief, most_relief_bound : int or None
        Weighted relief that the policy ``most_relief`` reaches, and its bound: the price of fairness is
        what `weighted_relief` falls short of it.
    """

    policy: Policy
    status: Status
    chosen: Mapping[str, Column]
    orders: tuple[Order, ...]
    spent: int
    relief: int
    bound: int
    weighted_relief: int
    levels: tuple[Level, ...] = ()
    waiting: tuple[Waiting, ...] = ()
    more_money: MoreMoney | None = None
    stock_costs: tuple[StockCost, ...] = ()
    most_relief: int | None = None
    most_relief_bound: int | None = None

    @property
    def gap(self) -> float | None:
        """(bound - relief) / relief [-]; 0 where both are 0, None where only relief is."""
        if self.relief == 0:
            return 0.0 if self.bound == 0 else None
        return (self.bound - self.relief) / self.relief


@dataclass(frozen=True)
class PersonalRules:
    """What cap and floor mean for each person.

    Attributes
    ----------
    cap : int or None
        Most for one person at listed prices [minor units].
    ceiling : mapping of str to int
        Most strain that a person may be left with, for the sake of the floor [millionths of h/day].
    least : mapping of str to int
        Least strain that a person can reach within the cap [millionths of h/day].
    """

    cap: int | None = None
    ceiling: Mapping[str, int] = field(default_factory=dict)
    least: Mapping[str, int] = field(default_factory=dict)

    def admitted(self, person: Applicant, strain: int, listed: int, relaxed: bool = False) -> int | None:
        """Give the strain a plan counts with, or None where it is not permitted.

        Parameters
        ----------
        person : Applicant
            Whose plan.
        strain : int
            What it leaves [millionths of h/day].
        listed : int
            Its listed price [minor units].
        relaxed : bool
            Admit plans above the cap, with no less strain than the cap allows.

        Returns
        -------
        int or None
            The strain; also None for what is worse than the free fixes.
        """
        if strain > self.ceiling.get(person.id, person.strain_free):
            return None
        if self.cap is not None and listed > self.cap:
            return max(strain, self.least[person.id]) if relaxed else None
        return strain


def personal_rules(
    applicants: Sequence[Applicant], plans: Mapping[str, Sequence[Column]], terms: Terms
) -> PersonalRules:
    """Work out what cap and floor mean for each person.

    Parameters
    ----------
    applicants : sequence of Applicant
        Whom.
    plans : mapping of str to sequence of Column
        The Pareto set of each at listed prices.
    terms : Terms
        Cap and floor.
    """
    if terms.cap is None and terms.floor is None:
        return PersonalRules()
    ceiling: dict[str, int] = {}
    least: dict[str, int] = {}
    for person in applicants:
        within = [
            column
            for column in pareto(plans[person.id], terms.base)
            if (terms.cap is None or column.cost(terms.base) <= terms.cap)
            and column.strain <= person.strain_free
        ]
        least[person.id] = min(column.strain for column in within)
        useful = [column for column in within if column.strain < person.strain_free]
        if terms.floor is not None and useful:
            enough = [column for column in useful if column.cost(terms.base) >= terms.floor]
            ceiling[person.id] = (enough or useful[-1:])[0].strain
    return PersonalRules(terms.cap, ceiling, least)
