"""Sharing a fund among the people of a table, from the table to what everybody is given, checked again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from deskmend.errors import DefectError, Fault, InputFaults, did_you_mean
from deskmend.grants.person import Applicant
from deskmend.grants.plans_told import GivenPlan
from deskmend.grants.pool import Done, People, Workers
from deskmend.grants.share import share
from deskmend.grants.terms import Allocation, Limit, Order, Policy, Progress, Terms
from deskmend.grants.verify import faults_of
from deskmend.intake.applicant_records import ApplicantTable
from deskmend.intake.given_before import Gift, GivenBefore
from deskmend.intake.price_table import PriceTable
from deskmend.messages import tr
from deskmend.money import currencies, format_amount
from deskmend.planning.prepared import NoPlan

__all__ = ["FundShared", "FundWishes", "gifts_of", "share_fund", "terms_of"]


@dataclass(frozen=True)
class FundWishes:
    """What whoever gives the money wants.

    Attributes
    ----------
    fund : int
        All money, what was given before included [minor units].
    policy : str
        What is best.
    limit : Limit or None
        For ``most_people``.
    cap, floor : int or None
        Most and least for one person in this round, at listed prices [minor units].
    group_share : mapping of str to Fraction
        Part of the fund that is kept for a group [-].
    use_discomfort : bool
        Whether regions that trouble a person count for more.
    """

    fund: int
    policy: Policy = "most_relief"
    limit: Limit | None = None
    cap: int | None = None
    floor: int | None = None
    group_share: Mapping[str, Fraction] = field(default_factory=dict)
    use_discomfort: bool = False

    @property
    def rosa(self) -> int | None:
        """ROSA score that plans have to be asked for; None where none is."""
        return self.limit.most if self.limit is not None and self.limit.score == "rosa" else None


@dataclass(frozen=True)
class FundShared:
    """A fund shared out, and what everybody is given.

    Attributes
    ----------
    table : ApplicantTable
        Who asked.
    wishes : FundWishes
        What was wanted.
    currency : str
        Of all amounts.
    prices : PriceTable
        What things cost.
    given : GivenBefore
        What earlier rounds gave.
    applicants : tuple of Applicant
        Everybody, by id.
    allocation : Allocation
        What this round gives, with its proof.
    plans : mapping of str to GivenPlan
        What everybody is given now, each checked without the optimiser.
    gifts : tuple of Gift
        What this round gives, by id and item; costs add up to what is spent.
    warnings : tuple of str
        What has to be said.
    """

    table: ApplicantTable
    wishes: FundWishes
    currency: str
    prices: PriceTable
    given: GivenBefore
    applicants: tuple[Applicant, ...]
    allocation: Allocation
    plans: Mapping[str, GivenPlan]
    gifts: tuple[Gift, ...]
    warnings: tuple[str, ...] = ()

    @property
    def spent(self) -> int:
        """Money spent in all rounds [minor units]."""
        return self.given.spent + self.allocation.spent


def terms_of(wishes: FundWishes, prices: PriceTable, given: GivenBefore, table: ApplicantTable) -> Terms:
    """Put together what the engine needs to know of fund, market and rules.

    Parameters
    ----------
    wishes : FundWishes
        What is wanted.
    prices : PriceTable
        Prices, tiers, stock.
    given : GivenBefore
        What was given before: its money and stock are gone.
    table : ApplicantTable
        For the groups.

    Raises
    ------
    InputFaults
        More was given than the fund holds, or a group has no one in it.
    """
    faults = []
    if given.spent > wishes.fund:
        allowed = f"at least {format_amount(given.spent, prices.currency)}, which was given before"
        faults.append(
            Fault("command line", None, "--fund", format_amount(wishes.fund, prices.currency), allowed)
        )
    groups = sorted({row.group for row in table.people if row.group})
    for group in wishes.group_share:
        if group not in groups:
            allowed = f"a group of the table: {', '.join(groups[:20]) or 'there is none'}"
            hint = did_you_mean(group, groups)
            faults.append(Fault("command line", None, "--group-share", group, allowed, hint))
    if faults:
        raise InputFaults(faults)
    stock = {
        name: max(0, item.stock - given.packs.get(name, 0))
        for name, item in prices.items.items()
        if item.stock is not None
    }
    tiers = {
        name: tuple((tier.from_packs, tier.price) for tier in item.tiers)
        for name, item in prices.items.items()
        if item.tiers
    }
    return Terms(
        wishes.fund - given.spent,
        {name: item.price for name, item in prices.items.items()},
        stock,
        tiers,
        wishes.policy,
        wishes.limit,
        wishes.cap,
        wishes.floor,
        wishes.group_share,
    )


def share_fund(
    table: ApplicantTable,
    prices: PriceTable,
    wishes: FundWishes,
    workers: Workers,
    given: GivenBefore | None = None,
    watch: Callable[[Progress], None] | None = None,
    done: Done | None = None,
    seconds: float | None = None,
    steps: bool = False,
    notes: tuple[str, ...] = (),
) -> FundShared:
    """Share a fund, and check what comes out of it.

    Parameters
    ----------
    table : ApplicantTable
        Who asks.
    prices : PriceTable
        What things cost, with tiers and stock.
    wishes : FundWishes
        What is wanted.
    workers : Workers
        Who works the plans out, made for the same catalog, prices and rules.
    given : GivenBefore, optional
        What earlier rounds gave.
    watch : callable, optional
        Told where the search stands.
    done : callable, optional
        Told how many people of a batch are done.
    seconds : float, optional
        Time the search may take [s].
    steps : bool
        Whether to put each person's fixes in the order of doing, as letters need.
    notes : tuple of str
        Warnings from before.

    Returns
    -------
    FundShared
        Added up again, each plan applied, scored and priced again.

    Raises
    ------
    InputFaults
        The wishes do not fit the table.
    NoPlan
        The floors cannot be paid, or the stock does not cover them.
    DefectError
        A check disagrees with the optimiser.
    """
    given = GivenBefore() if given is None else given
    terms = terms_of(wishes, prices, given, table)
    people = People(table.people, workers, terms.base, given.by_person, done)
    applicants = people.applicants()
    hundred = 100 * 10 ** currencies()[prices.currency]
    allocation = share(applicants, people, terms, watch=watch, seconds=seconds, hundred=hundred)
    if allocation.status == "infeasible":
        raise NoPlan(
            tr("the floor cannot be kept for everybody with this fund and stock"),
            tr("a lower --floor, a larger --fund or more stock would help"),
        )
    wrong = faults_of(applicants, terms, allocation)
    if wrong:
        raise DefectError("the allocation failed its check: " + "; ".join(wrong[:5]))
    plans = people.told(allocation.chosen, steps)
    strangers = sorted(set(given.by_person) - {row.id for row in table.people})
    if strangers:
        shown = ", ".join(strangers[:5])
        if strangers[5:]:
            shown += tr(" and {count} more", count=len(strangers) - 5)
        told = tr("given before to people who are not in the table: {ids}; it counts as spent", ids=shown)
        notes = (*notes, told)
    return FundShared(
        table,
        wishes,
        prices.currency,
        prices,
        given,
        tuple(applicants),
        allocation,
        plans,
        gifts_of(allocation),
        notes,
    )


def gifts_of(allocation: Allocation) -> tuple[Gift, ...]:
    """Split what is ordered among the people it is for.

    Parameters
    ----------
    allocation : Allocation
        Who is given what, and what is ordered.

    Returns
    -------
    tuple of Gift
        By id and item. Packs bought only because more are cheaper are paid by those the others are for, in
        equal parts a pack; the last minor units go by id, so costs add up to what the orders cost.
    """
    orders: dict[str, Order] = {order.item: order for order in allocation.orders}
    before: Counter[str] = Counter()
    gifts = []
    for name in sorted(allocation.chosen):
        for item, packs in allocation.chosen[name].packs:
            order = orders[item]
            start, end = before[item], before[item] + packs
            cost = order.cost * end // order.needed - order.cost * start // order.needed
            before[item] = end
            gifts.append(Gift(name, item, packs, cost))
    return tuple(gifts)
