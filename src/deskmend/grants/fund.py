"""What whoever gives the money wants, read from text; every fault at once.

What sharing a fund starts from: a table of applicants and a price table that fit together.

Sharing a fund among the people of a table, from the table to what everybody is given, checked again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path
from typing import cast, get_args

from deskmend.errors import DefectError, Fault, InputFaults, Unreadable, did_you_mean
from deskmend.grants.engine.share import share
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.people.columns import Applicant
from deskmend.grants.people.workers import Done, People, Workers
from deskmend.grants.terms import Allocation, Limit, Order, Policy, Progress, Terms
from deskmend.grants.verify import faults_of
from deskmend.intake.applicants import ApplicantTable, accepted, in_currency, read_applicants
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import Gift, GivenBefore
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.intake.reading.ids import is_id
from deskmend.language import tr, trn
from deskmend.measures import currencies, format_amount, parse_amount
from deskmend.planning.goals import Goal, goals_of
from deskmend.planning.inputs import DEFAULT_CURRENCY, stale_prices
from deskmend.planning.prepared import NoPlan

__all__ = [
    "POLICIES",
    "FundInputs",
    "FundShared",
    "FundWishes",
    "fitted",
    "gifts_of",
    "load_inputs",
    "read_wishes",
    "share_fund",
    "terms_of",
]


@dataclass(frozen=True)
class FundInputs:
    """A table and its prices.

    Attributes
    ----------
    table : ApplicantTable
        Rows that can be worked with, and those set aside.
    prices : PriceTable
        What things cost.
    warnings : tuple of str
        What has to be said.
    """

    table: ApplicantTable
    prices: PriceTable
    warnings: tuple[str, ...]


def load_inputs(
    path: str | Path,
    catalog: Catalog,
    price_file: str | Path | None = None,
    skip_invalid: bool = False,
    today: date | None = None,
) -> FundInputs:
    """Read a table and its prices.

    Parameters
    ----------
    path : str or Path
        CSV, XLSX or Parquet.
    catalog : Catalog
        Shows which things, warning signs and fixes exist, and where the sample prices are.
    price_file : str or Path, optional
        Price table; if left out, ``prices.csv`` beside the table, else the shipped sample.
    skip_invalid : bool
        Set rows with faults aside.
    today : date, optional
        Day from which the age of prices is counted.

    Raises
    ------
    InputFaults
        Every fault of the table or of the prices.
    """
    table, faults = read_applicants(path, catalog)
    if table is None:
        raise InputFaults(faults)
    beside = Path(path).parent / "prices.csv"
    notes: list[str] = []
    if price_file is not None:
        prices = load_prices(price_file)
    elif beside.is_file():
        prices = load_prices(beside)
    else:
        prices, notes = _sample(table, catalog)
    return fitted(table, prices, catalog, skip_invalid, [*notes, *stale_prices(prices, today)])


def fitted(
    table: ApplicantTable,
    prices: PriceTable,
    catalog: Catalog,
    skip_invalid: bool = False,
    notes: Iterable[str] = (),
) -> FundInputs:
    """Hold a table against the prices it is to be worked out with.

    Parameters
    ----------
    table : ApplicantTable
        As read.
    prices : PriceTable
        What things cost.
    catalog : Catalog
        Shows what fixes take.
    skip_invalid : bool
        Set rows in another currency aside as well.
    notes : iterable of str
        Warnings from before.

    Raises
    ------
    InputFaults
        Rows are at fault and are not to be set aside.
    """
    table = accepted(in_currency(table, prices.currency), skip_invalid)
    return FundInputs(table, prices, (*notes, *_notes(table, prices, catalog)))


def _sample(table: ApplicantTable, catalog: Catalog) -> tuple[PriceTable, list[str]]:
    written = {row.plain.get("means", {}).get("currency") for row in table.people} - {None, "unknown"}
    currency = written.pop() if len(written) == 1 else DEFAULT_CURRENCY
    file = catalog.price_folder / f"sample_{currency.lower()}.csv"
    if not file.is_file():
        allowed = "--prices FILE, prices.csv beside the table, or a currency with a sample table"
        raise InputFaults([Fault(table.file, None, "means.currency", currency, allowed)])
    note = tr("prices are an invented sample ({file}); fill in your own with --prices FILE", file=file.name)
    return load_prices(file), [note]


def _notes(table: ApplicantTable, prices: PriceTable, catalog: Catalog) -> list[str]:
    out = []
    if table.rejected:
        told = trn("{count} row is set aside", "{count} rows are set aside", len(table.rejected))
        out.append(f"{told}: {tr('the reasons stand in rejected.csv')}")
    own = ("budget", "saving_per_month")
    if any(key in row.plain.get("means", {}) for row in table.people for key in own):
        out.append(tr("money that applicants have themselves is not counted: the fund pays"))
    taken = {material.item for fix in catalog.fixes for material in fix.materials}
    missing = sorted(item for item in taken if item in catalog.items and item not in prices)
    if missing:
        shown = ", ".join(missing[:8]) + (
            tr(" and {count} more", count=len(missing) - 8) if missing[8:] else ""
        )
        out.append(tr("no price for {items}: given to nobody; only who has them can use them", items=shown))
    return out


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
    def kept(self) -> Goal | None:
        """Published score that is limited, so that plans have to be asked for it; None where none is."""
        return None if self.limit is None or self.limit.of_strain else Goal(self.limit.score, self.limit.most)


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


POLICIES: tuple[str, ...] = get_args(Policy)
LIMITED = ("strain", "rosa")
COMMAND_LINE = "command line"


def read_wishes(
    fund: str | None,
    currency: str,
    policy: str = "most_relief",
    limit: Iterable[tuple[str, object]] | Mapping[str, object] = (),
    cap: str | None = None,
    floor: str | None = None,
    group_share: Iterable[tuple[str, object]] | Mapping[str, object] = (),
    use_discomfort: bool = False,
) -> FundWishes:
    """Read the wishes of whoever gives the money.

    Parameters
    ----------
    fund, cap, floor : str or None
        Money [major units], as ``5000.00``.
    currency : str
        Of the price table.
    policy : str
        One of `POLICIES`.
    limit : pairs or mapping
        For ``most_people`` alone, one of ``rosa`` [-] and ``strain`` [h/day] with its value.
    group_share : pairs or mapping
        Part of the fund kept for a group, from 0 to 1; together at most 1 [-].
    use_discomfort : bool
        Whether regions that trouble a person count for more.

    Raises
    ------
    InputFaults
        Everything that cannot be understood.
    """
    faults: list[Fault] = []

    def refuse(where: str, read: str | None, allowed: str, hint: str = "", note: str = "") -> None:
        faults.append(Fault(COMMAND_LINE, None, where, read, allowed, hint, note))

    def money(where: str, text: str | None) -> int | None:
        if text is None:
            return None
        try:
            return parse_amount(text, currency)
        except Unreadable as error:
            refuse(where, text, error.allowed, error.hint)
            return None

    if fund is None:
        refuse("--fund", None, "an amount of money as 5000.00")
    amount, most, least = money("--fund", fund), money("--cap", cap), money("--floor", floor)
    if most is not None and least is not None and least > most:
        refuse("--floor", floor, "at most the cap")
    if policy not in POLICIES:
        refuse("--policy", policy, ", ".join(POLICIES), did_you_mean(policy, POLICIES))
    kept = _limit(limit, policy, faults)
    shares = _shares(group_share, faults)
    if faults or amount is None:
        raise InputFaults(faults)
    return FundWishes(amount, cast(Policy, policy), kept, most, least, shares, use_discomfort)


def _limit(
    limit: Iterable[tuple[str, object]] | Mapping[str, object], policy: str, faults: list[Fault]
) -> Limit | None:
    pairs = list(limit.items() if isinstance(limit, Mapping) else limit)
    if not pairs:
        if policy == "most_people":
            allowed = "SCORE=VALUE with strain or rosa: policy most_people counts who comes under it"
            faults.append(Fault(COMMAND_LINE, None, "--limit", None, allowed))
        return None
    told = ", ".join(f"{name}={value}" for name, value in pairs)
    if policy != "most_people":
        allowed = "no limit without --policy most_people"
        faults.append(Fault(COMMAND_LINE, None, "--limit", told, allowed))
        return None
    if len(pairs) > 1 or pairs[0][0] not in LIMITED:
        hint = did_you_mean(pairs[0][0], LIMITED)
        allowed = "one SCORE=VALUE with strain or rosa"
        faults.append(Fault(COMMAND_LINE, None, "--limit", told, allowed, hint))
        return None
    try:
        (goal,) = cast(tuple[Goal], goals_of(pairs, "--limit"))
    except InputFaults as error:
        faults.extend(error.faults)
        return None
    return Limit(goal.name, goal.at_most)


def _shares(
    group_share: Iterable[tuple[str, object]] | Mapping[str, object], faults: list[Fault]
) -> dict[str, Fraction]:
    shares: dict[str, Fraction] = {}
    allowed = "GROUP=PART with a part from 0 to 1, as shop=0.25, each group once"
    for name, value in group_share.items() if isinstance(group_share, Mapping) else group_share:
        try:
            text = str(value)
            part = Decimal(text) if len(text) <= 12 else Decimal(-1)
        except InvalidOperation:
            part = Decimal(-1)
        good = part.is_finite() and 0 <= part <= 1
        if not good or not is_id(name) or name in shares:
            faults.append(Fault(COMMAND_LINE, None, "--group-share", f"{name}={value}", allowed))
        else:
            shares[name] = Fraction(part)
    if sum(shares.values()) > 1:
        told = ", ".join(f"{name}={float(part)}" for name, part in shares.items())
        allowed = "parts that add up to at most 1"
        faults.append(Fault(COMMAND_LINE, None, "--group-share", told, allowed))
    return shares
