"""Sharing a fund among the people of a table: table and prices, what is wanted, and what everybody is given.

What comes out is checked twice more: the allocation is added up again (`grants.verify`), and every plan is
applied, scored and priced again (`grants.people.check`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, cast, get_args

from deskmend.errors import (
    DefectError,
    Fault,
    InputFaults,
    Unreadable,
    did_you_mean,
    option_fault,
    visible,
)
from deskmend.grants.handing import HandOver, given_again, hand_over
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.people.columns import Applicant
from deskmend.grants.people.offered import BestLeftOut
from deskmend.grants.people.workers import People, TellDone, Workers
from deskmend.grants.terms import (
    Allocation,
    FundTerms,
    Policy,
    Progress,
    ReasonsFor,
    ScoreLimit,
    weighted_relief,
)
from deskmend.grants.verify import allocation_faults
from deskmend.intake.applicants import (
    WEIGHT_PARTS,
    ApplicantTable,
    accepted,
    in_currency,
    read_applicants,
    refused,
    without_rows,
)
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import GivenBefore
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.intake.reading.text_file import is_id
from deskmend.language import tr, trn
from deskmend.measures import MILLION, Minor, exact_amount, format_amount, parse_amount
from deskmend.planning.inputs import DEFAULT_CURRENCY, prices_for
from deskmend.planning.mismatch import NotPadded, not_padded
from deskmend.planning.reach import TOTAL, Goal, goals_of, score_names
from deskmend.planning.ready_case import NoPlan

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = [
    "POLICIES",
    "FundInputs",
    "FundShared",
    "FundWishes",
    "fitted",
    "load_inputs",
    "read_wishes",
    "share_fund",
    "terms_of",
]

POLICIES: tuple[str, ...] = get_args(Policy)

NamedValues = Iterable[tuple[str, object]] | Mapping[str, object]
"""Names with values, as a mapping or one after the other, where a name may stand twice."""


@dataclass(frozen=True)
class FundInputs:
    """A table of applicants and the prices it is worked out with, and what has to be said of them."""

    table: ApplicantTable
    prices: PriceTable
    warnings: tuple[str, ...]


def load_inputs(
    path: str | Path,
    catalog: Catalog,
    price_file: str | Path | None = None,
    skip_invalid: bool = False,
    today: date | None = None,
    renamed: Mapping[str, str] | None = None,
) -> FundInputs:
    """Read a table (CSV, XLSX or Parquet) and its prices; `InputFaults` with every fault of either.

    Without a price file it is ``prices.csv`` beside the table, else the sample shipped with the catalog.
    `skip_invalid` sets rows with faults aside.  The age of prices is counted from `today` on.
    """
    table, faults = read_applicants(path, catalog, renamed)
    currency = None if table is None else _currency(table)
    try:
        prices = prices_for(catalog, price_file, path, currency, today)
    except InputFaults as error:
        wrong = faults if table is None else refused(table, skip_invalid)
        raise InputFaults([*wrong, *error.faults]) from error
    if table is None:
        raise InputFaults(faults)
    if prices is None:
        ours = "--prices FILE, prices.csv beside the table, or a currency with a sample table"
        raise InputFaults([Fault(table.file, None, "means.currency", currency, ours)])
    return fitted(table, prices.table, catalog, skip_invalid, prices.warnings)


def fitted(
    table: ApplicantTable,
    prices: PriceTable,
    catalog: Catalog,
    skip_invalid: bool = False,
    notes: Iterable[str] = (),
) -> FundInputs:
    """Hold a table against its prices: rows in other currency are faults or set aside; `notes` are older."""
    table = accepted(in_currency(table, prices.currency), skip_invalid)
    return FundInputs(table, prices, (*notes, *_notes(table, prices, catalog)))


def _currency(table: ApplicantTable) -> str:
    """The currency that all rows agree on, where they do."""
    written = {row.plain.get("means", {}).get("currency") for row in table.people} - {None, "unknown"}
    return written.pop() if len(written) == 1 else DEFAULT_CURRENCY


def _notes(table: ApplicantTable, prices: PriceTable, catalog: Catalog) -> list[str]:
    out = _aside_notes(table)
    if table.aside:
        shown = _first_of([f'"{visible(name)}"' for name in table.aside], 8)
        out.append(tr("columns left aside, which are none of ours: {columns}", columns=shown))
    own = ("budget", "saving_per_month")
    if any(key in row.plain.get("means", {}) for row in table.people for key in own):
        out.append(tr("money that applicants have themselves is not counted: the fund pays"))
    taken = {material.item for fix in catalog.fixes for material in fix.materials}
    missing = sorted(item for item in taken if item in catalog.items and item not in prices)
    if missing:
        shown = _first_of(missing, 8)
        out.append(tr("no price for {items}: given to nobody; only who has them can use them", items=shown))
    return out


def _aside_notes(table: ApplicantTable) -> list[str]:
    told = trn("{count} row is set aside", "{count} rows are set aside", len(table.rejected))
    return [f"{told}: {tr('the reasons stand in rejected.csv')}"] if table.rejected else []


def _groups_aside(wishes: FundWishes, table: ApplicantTable) -> Iterator[str]:
    """Say of groups with a share or a cap of whom everybody is set aside."""
    left = {row.group for row in table.people}
    for group in sorted(set(wishes.group_share) - left):
        yield tr("every row of {group} is set aside: what is kept for it and not spent stays", group=group)
    for group in sorted(set(wishes.group_cap) - left - set(wishes.group_share)):
        yield tr("every row of {group} is set aside: nobody is there for its cap", group=group)


def _first_of(names: list[str], most: int) -> str:
    shown = ", ".join(names[:most])
    return shown + tr(" and {count} more", count=len(names) - most) if names[most:] else shown


@dataclass(frozen=True)
class FundWishes:
    """What whoever gives the money wants, as in `FundTerms`; earlier rounds are part of the fund."""

    fund: Minor
    policy: Policy = "most_relief"
    limit: ScoreLimit | None = None
    cap: Minor | None = None
    cap_in_all: Minor | None = None
    """Most for one person in all rounds together: what earlier ones paid for them counts."""
    floor: Minor | None = None
    group_share: Mapping[str, Fraction] = field(default_factory=dict)
    group_cap: Mapping[str, Minor] = field(default_factory=dict)
    """Most for all people of a group in all rounds together, as `cap_in_all` for one person."""
    use_discomfort: bool = False
    """Whether regions that trouble a person count for more."""
    every_gain: bool = False
    """Whether money goes for every gain, also one that cannot be told apart from none."""

    @property
    def kept(self) -> Goal | None:
        """Published score that is limited, so that plans have to be asked for it; None where none is."""
        return None if self.limit is None or self.limit.of_strain else Goal(self.limit.score, self.limit.most)


def _refused(where: str, read: str | None, allowed: str, hint: str = "", note: str = "") -> Fault:
    return option_fault(where, read, allowed, hint, note)


def read_wishes(
    fund: str | None,
    currency: str | None,
    policy: str = "most_relief",
    limit: NamedValues = (),
    cap: str | None = None,
    floor: str | None = None,
    group_share: NamedValues = (),
    use_discomfort: bool = False,
    every_gain: bool = False,
    cap_in_all: str | None = None,
    group_cap: NamedValues = (),
) -> FundWishes:
    """Read the wishes of whoever gives the money; `InputFaults` with everything that cannot be understood.

    Money is in major units, as ``5000.00``; without a currency it is only looked at.  `limit`, for
    ``most_people`` alone, is a published score [-] or ``strain`` [h/day] with its value; `group_share` holds
    parts from 0 to 1, together at most 1 [-]; `group_cap` money.
    """
    faults: list[Fault] = []

    def money(where: str, text: str | None) -> Minor | None:
        if text is None:
            return None
        try:
            return parse_amount(text, currency)
        except Unreadable as error:
            faults.append(_refused(where, text, error.allowed, error.hint))
            return None

    if fund is None:
        faults.append(_refused("--fund", None, "an amount of money as 5000.00"))
    amount, most, least = money("--fund", fund), money("--cap", cap), money("--floor", floor)
    in_all = money("--cap-in-all", cap_in_all)
    if least is not None and any(one is not None and least > one for one in (most, in_all)):
        faults.append(_refused("--floor", floor, "at most the cap"))
    if policy not in POLICIES:
        faults.append(_refused("--policy", policy, ", ".join(POLICIES), did_you_mean(policy, POLICIES)))
    kept = _limit(limit, policy, faults)
    shares = _shares(group_share, faults)
    caps: dict[str, Minor] = {}
    for name, value in _pairs(group_cap):
        if not is_id(name) or name in caps:
            faults.append(_refused("--group-cap", f"{name}={value}", "GROUP=AMOUNT, each group once"))
        elif (money_of := money("--group-cap", str(value))) is not None:
            caps[name] = money_of
    if faults or amount is None:
        raise InputFaults(faults)
    return FundWishes(
        amount, cast(Policy, policy), kept, most, in_all, least, shares, caps, use_discomfort, every_gain
    )


def _pairs(written: NamedValues) -> list[tuple[str, object]]:
    return list(written.items() if isinstance(written, Mapping) else written)


def _told(pairs: Iterable[tuple[str, object]]) -> str:
    return ", ".join(f"{name}={value}" for name, value in pairs)


def _limit(limit: NamedValues, policy: str, faults: list[Fault]) -> ScoreLimit | None:
    pairs, limited = _pairs(limit), (TOTAL, *score_names())
    told = _told(pairs) or None
    hint = ""
    if not pairs:
        if policy != "most_people":
            return None
        names = ", ".join(limited)
        allowed = f"SCORE=VALUE with one of {names}: policy most_people counts who comes under it"
    elif policy != "most_people":
        allowed = "no limit without --policy most_people"
    elif len(pairs) > 1 or pairs[0][0] not in limited:
        allowed, hint = f"one SCORE=VALUE with {', '.join(limited)}", did_you_mean(pairs[0][0], limited)
    else:
        try:
            (goal,) = cast(tuple[Goal], goals_of(pairs, "--limit"))
        except InputFaults as error:
            faults.extend(error.faults)
            return None
        return ScoreLimit(goal.name, goal.at_most)
    faults.append(_refused("--limit", told, allowed, hint))
    return None


def _shares(group_share: NamedValues, faults: list[Fault]) -> dict[str, Fraction]:
    shares: dict[str, Fraction] = {}
    allowed = "GROUP=PART with a part from 0 to 1, six decimals at most, as shop=0.25, each group once"
    for name, value in _pairs(group_share):
        try:
            text = str(value)
            part = Decimal(text) if len(text) <= 12 else Decimal(-1)
        except InvalidOperation:
            part = Decimal(-1)
        good = part.is_finite() and 0 <= part <= 1 and part == round(part, 6)
        if not good or not is_id(name) or name in shares:
            faults.append(_refused("--group-share", f"{name}={value}", allowed))
        else:
            shares[name] = Fraction(part)
    if sum(shares.values()) > 1:
        told = _told((name, float(part)) for name, part in shares.items())
        faults.append(_refused("--group-share", told, "parts that add up to at most 1"))
    return shares


@dataclass(frozen=True)
class FundShared:
    """A fund shared out, and what everybody is given."""

    table: ApplicantTable
    wishes: FundWishes
    currency: str
    prices: PriceTable
    given: GivenBefore
    """What earlier rounds gave."""
    applicants: tuple[Applicant, ...]
    """Everybody, by id."""
    allocation: Allocation
    """What this round gives, with its proof."""
    plans: Mapping[str, GivenPlan]
    """What everybody is given now, each checked without the optimiser."""
    handed: HandOver
    """What this round hands to whom, and what is ordered for it."""
    warnings: tuple[str, ...] = ()
    decided_cost: int | None = None
    """What all that people decided takes off less for everybody else, as `Allocation.weighted_relief`; below
    nothing where it leaves them more.  None where nothing was decided, or it was not worked out."""
    left_out: Mapping[str, BestLeftOut] = field(default_factory=dict)
    """The best that could be bought for those to whom nothing is offered, where people are few, by id."""
    not_padded: Mapping[str, tuple[NotPadded, ...]] = field(default_factory=dict)
    """Where people are few, what is bought for hard seats and not given to whose seat stays so, by id."""
    decided_cost_in_all: int | None = None
    """The same for everybody, those for whom it was decided among them."""

    @property
    def spent(self) -> Minor:
        """Money spent in all rounds."""
        return self.given.spent + self.handed.cost

    @property
    def ended_early(self) -> bool:
        """Whether the search, or what was asked of it afterwards, was broken off."""
        return self.allocation.broken_off or self.allocation.status == "not_proven"

    def earlier_rounds_cap(self, name: str) -> bool:
        """Whether what somebody was given before, and not the cap of this round alone, limits them now."""
        wishes = self.wishes
        if wishes.cap_in_all is None:
            return False
        before = self.given.paid_for[name]
        return before > 0 and (wishes.cap is None or wishes.cap_in_all - before < wishes.cap)

    def people(self) -> DataFrame:
        """A data frame of everybody, by pandas, which is loaded only now: a row a person, by id.

        Returns
        -------
        pandas.DataFrame
            ``group``; ``weight`` [-]; ``strain_before``, ``strain_free`` and ``strain_after`` [h/day];
            ``cost`` of what all rounds gave, as exact decimals in major units; ``minutes`` [min];
            ``served`` whether anything was given; ``with`` the fixes, as ``assess --with`` takes them.
        """
        from pandas import DataFrame, Index

        costs: Counter[str] = Counter()
        for gift in (*self.given.gifts, *self.handed.gifts):
            costs[gift.id] += gift.cost
        rows = {row.id: row for row in self.table.people}
        told = [(person.id, rows[person.id], self.plans[person.id]) for person in self.applicants]
        return DataFrame(
            [
                {
                    "group": row.group or "",
                    "weight": row.weight / WEIGHT_PARTS,
                    "strain_before": plan.strain_before / MILLION,
                    "strain_free": plan.strain_free / MILLION,
                    "strain_after": plan.strain_after / MILLION,
                    "cost": exact_amount(costs[name], self.currency),
                    "minutes": plan.minutes,
                    "served": costs[name] > 0,
                    "with": " ".join(option.with_name for option in plan.options),
                }
                for name, row, plan in told
            ],
            index=Index([name for name, _, _ in told], name="id"),
        )


def terms_of(wishes: FundWishes, prices: PriceTable, given: GivenBefore, table: ApplicantTable) -> FundTerms:
    """Put together what the engine needs to know of fund, market and rules.

    Money and stock of what was given before are gone; of who is not in the table any more the group counts in
    which they were given something. `InputFaults` where that is more than the fund holds or leaves too little
    for the parts kept, or a group with a share or a cap has no row in the table.
    """
    faults = []
    if given.spent > wishes.fund:
        allowed = f"at least {format_amount(given.spent, prices.currency)}, which was given before"
        faults.append(_refused("--fund", format_amount(wishes.fund, prices.currency), allowed))
    named = {*(row.group for row in table.people), *(row.group for row in table.rejected)}
    groups = sorted(named - {""})
    for option, asked in (("--group-share", wishes.group_share), ("--group-cap", wishes.group_cap)):
        for group in asked:
            if group not in groups:
                allowed = f"a group of the table: {', '.join(groups[:20]) or 'there is none'}"
                faults.append(_refused(option, group, allowed, did_you_mean(group, groups)))
    faults += _decided_faults(table, prices.currency)
    if faults:
        raise InputFaults(faults)
    group_of = {**given.groups, **{row.id: row.group or "" for row in table.people}}
    spent_before: Counter[str | None] = Counter()
    for gift in given.gifts:
        spent_before[group_of.get(gift.id, "")] += gift.cost
    spent_before[None] = given.spent - spent_before.total()
    paid_for_group: Counter[str] = Counter()
    for name, money in given.paid_for.items():
        paid_for_group[group_of.get(name, "")] += money
    terms = FundTerms(
        fund=wishes.fund - given.spent,
        base={name: item.price for name, item in prices.items.items()},
        stock={
            name: max(0, item.stock - given.off_stock.get(name, 0))
            for name, item in prices.items.items()
            if item.stock is not None
        },
        spare={name: packs for name, packs in given.spare.items() if packs and name in prices},
        tiers={
            name: tuple((tier.from_packs, tier.price) for tier in item.tiers)
            for name, item in prices.items.items()
            if item.tiers
        },
        policy=wishes.policy,
        limit=wishes.limit,
        cap=wishes.cap,
        caps=(
            {}
            if wishes.cap_in_all is None
            else {row.id: max(0, wishes.cap_in_all - given.paid_for[row.id]) for row in table.people}
        ),
        floor=wishes.floor,
        group_share=wishes.group_share,
        group_cap={group: max(0, most - paid_for_group[group]) for group, most in wishes.group_cap.items()},
        spent_before=spent_before,
    )
    if not terms.keeps_shares([0] * len(terms.pots)):
        told = _told((name, float(part)) for name, part in wishes.group_share.items())
        note = "earlier rounds gave others so much that these parts of the fund are no longer there"
        raise InputFaults([_refused("--group-share", told, "smaller parts, or a larger --fund", note=note)])
    return terms


def _decided_faults(table: ApplicantTable, currency: str) -> Iterator[Fault]:
    """What people decided that is no money, or more at least than at most."""
    for row in table.people:
        if row.decided is None:
            continue
        amounts: list[Minor] = []
        for name, text in (("given.least", row.decided.least), ("given.most", row.decided.most)):
            if not text:
                continue
            try:
                amounts.append(parse_amount(text, currency))
            except Unreadable as error:
                yield Fault(row.file, row.line, name, text, error.allowed, error.hint)
        if len(amounts) == 2 and amounts[0] > amounts[1]:
            yield Fault(row.file, row.line, "given.least", row.decided.least, "at most given.most")


def _refuse_above_cap(
    applicants: Iterable[Applicant], terms: FundTerms, table: ApplicantTable, currency: str
) -> None:
    """Refuse what people decided for somebody where it costs more than they may be given."""
    rows = {row.id: row for row in table.people}
    above = []
    for one in applicants:
        cap = terms.cap_of(one.id)
        if cap is not None and one.least > cap:
            allowed = f"what costs at most the cap, {format_amount(cap, currency)}"
            read = format_amount(one.least, currency)
            above.append(Fault(rows[one.id].file, rows[one.id].line, "given", read, allowed))
    if above:
        raise InputFaults(above)


def share_fund(
    table: ApplicantTable,
    prices: PriceTable,
    wishes: FundWishes,
    workers: Workers,
    given: GivenBefore | None = None,
    watch: Callable[[Progress], None] | None = None,
    done: TellDone | None = None,
    seconds: float | None = None,
    steps: bool = False,
    notes: tuple[str, ...] = (),
    *,
    catalog: Catalog,
    reasons: ReasonsFor = "few",
    skip_invalid: bool = False,
) -> FundShared:
    """Share a fund, and check what comes out of it.

    `workers` work the plans out, made for the same catalog, prices and rules.  `watch` is told where the
    search stands, `done` how many people of a batch are done.  The search may take so many `seconds`.
    `steps` puts each person's fixes in the order of doing, as letters need; `notes` are earlier warnings;
    `reasons` says for whom it is worked out why they are given nothing; `skip_invalid` sets aside rows that
    only show to be faulty once they are worked with, as where one has too much to choose.

    `InputFaults` where the wishes do not fit the table, `NoPlan` where nothing was found that pays the floors
    within fund and stock, `DefectError` where a check disagrees with the optimiser, KeyboardInterrupt where
    an interrupt comes before anything is known.
    """
    # the solver is loaded for a fund only, and with it whatever it finds installed
    from deskmend.grants.engine.share import share

    given = GivenBefore() if given is None else given
    read = table
    while True:
        try:
            terms = terms_of(wishes, prices, given, table)
            people = People(table.people, workers, terms.base, given.had, done)
            applicants = people.applicants()
            break
        except InputFaults as error:
            if not skip_invalid:
                raise
            table = without_rows(table, error.faults)
    if table is not read:
        notes = (*_aside_notes(table), *(note for note in notes if note not in _aside_notes(read)))
    notes = (*notes, *_groups_aside(wishes, table))
    terms = replace(terms, savable=_savable(people, applicants, catalog, prices, given, wishes.every_gain))
    _refuse_above_cap(applicants, terms, table, prices.currency)
    terms = replace(terms, ceiling={one.id: one.ceiling for one in applicants if one.ceiling is not None})
    allocation = share(applicants, people, terms, watch=watch, seconds=seconds, reasons=reasons)
    if applicants and not allocation.chosen:
        raise _nothing_keeps(terms, allocation.status == "infeasible")
    allocation = _with_decisions_told(people, allocation, table)
    wrong = allocation_faults(applicants, terms, allocation)
    if wrong:
        raise DefectError("the allocation failed its check: " + "; ".join(wrong[:5]))
    plans = people.told(allocation.chosen, steps)
    strangers = sorted({gift.id for gift in given.gifts} - given.gone - {row.id for row in table.people})
    if strangers:
        ids = _first_of(strangers, 5)
        told = tr("given before to people who are not in the table: {ids}; it counts as spent", ids=ids)
        notes = (*notes, told)
    handed = hand_over(allocation, plans, prices, catalog, given.loose)
    others, everybody = _decided_cost(people, applicants, allocation, terms, table, seconds)
    return FundShared(
        table=table,
        wishes=wishes,
        currency=prices.currency,
        prices=prices,
        given=given,
        applicants=tuple(applicants),
        allocation=allocation,
        plans=plans,
        handed=handed,
        decided_cost=others,
        decided_cost_in_all=everybody,
        left_out=_left_out(people, allocation, len(applicants), reasons),
        not_padded=(
            {}
            if allocation.broken_off or _many(len(applicants), reasons)
            else {
                row.id: not_padded(row.case, plans[row.id].state, plans[row.id].options, catalog, prices)
                for row in table.people
            }
        ),
        warnings=(*notes, *given_again(handed, given, catalog)),
    )


def _nothing_keeps(terms: FundTerms, proven: bool) -> NoPlan:
    """Say which rules no allocation was found to keep together, and what can be changed."""
    rules, changes = [], []
    if terms.floor is not None:
        rules.append(tr("the floor for everybody"))
        changes.append(tr("a lower --floor"))
    if terms.ceiling:
        rules.append(tr("what people decided for {ids}", ids=_first_of(sorted(terms.ceiling), 5)))
        changes.append(tr("other decisions in given.fixed and given.least"))
    if terms.group_cap:
        rules.append(tr("--group-cap of {groups}", groups=", ".join(sorted(terms.group_cap))))
        changes.append(tr("a larger --group-cap"))
    if terms.group_share:
        rules.append(tr("--group-share of {groups}", groups=", ".join(sorted(terms.group_share))))
        changes.append(tr("smaller parts in --group-share"))
    changes.append(tr("a larger --fund"))
    if terms.stock:
        changes.append(tr("more stock"))
    together = "; ".join(rules)
    return NoPlan(
        tr("this cannot all be kept with this fund and stock: {rules}", rules=together)
        if proven
        else tr(
            "nothing was found that keeps all of this, though it may be possible: {rules}", rules=together
        ),
        tr("what may help: {changes}", changes="; ".join(changes)),
    )


def _many(count: int, reasons: ReasonsFor) -> bool:
    """Whether there are too many people to look at each once more, and nobody asked for it."""
    from deskmend.grants.engine.pricing import PROVEN_UP_TO

    return reasons == "few" and count > PROVEN_UP_TO


def _left_out(
    people: People, allocation: Allocation, count: int, reasons: ReasonsFor
) -> dict[str, BestLeftOut]:
    """What could be bought for those to whom nothing is offered; nothing where an interrupt comes."""
    if allocation.broken_off or _many(count, reasons):
        return {}
    try:
        found = people.left_out([one.id for one in allocation.waiting if one.why == "no_help"])
    except KeyboardInterrupt:
        return {}
    return {name: one for name, one in found.items() if one is not None}


def _savable(
    people: People,
    applicants: Sequence[Applicant],
    catalog: Catalog,
    prices: PriceTable,
    given: GivenBefore,
    every_gain: bool,
) -> dict[str, int]:
    """Most packs that can be saved of each thing that may be shared.

    All but one of those who take it open none, and what is loose in store may spare the last one. Of few
    people for whom plans are offered it is known who may take it; else it may be everybody.
    """
    from deskmend.grants.engine.pricing import FULL_UP_TO

    known = not every_gain and len(applicants) <= FULL_UP_TO
    plans = people.columns({}, [one.id for one in applicants]).values() if known else ()
    savable = {}
    for name in sorted(prices.items):
        item = catalog.items.get(plain_item(name))
        if item is None or not item.shared or prices[name].pack <= 1:
            continue
        takers = sum(any(name in dict(one.packs) for one in mine) for mine in plans)
        loose = given.loose.get(plain_item(name), 0) % prices[name].pack
        savable[name] = max(0, (takers if known else len(applicants)) - 1) + (loose > 0)
    return {name: packs for name, packs in savable.items() if packs}


def _with_decisions_told(people: People, allocation: Allocation, table: ApplicantTable) -> Allocation:
    """Say of whom nothing helps within what people decided that it does without."""
    limited = {
        row.id for row in table.people if row.decided is not None and (row.decided.most or row.decided.never)
    }
    asked = [one.id for one in allocation.waiting if one.why == "no_help" and one.id in limited]
    if not asked or allocation.broken_off:
        return allocation
    helped = set()
    for name, columns in people.without_decisions().columns({}, asked).items():
        free = min(one.strain for one in columns if not one.packs)
        if any(one.packs and one.strain < free for one in columns):
            helped.add(name)
    waiting = tuple(replace(one, why="decided") if one.id in helped else one for one in allocation.waiting)
    return replace(allocation, waiting=waiting)


def _decided_cost(
    people: People,
    applicants: Sequence[Applicant],
    allocation: Allocation,
    terms: FundTerms,
    table: ApplicantTable,
    seconds: float | None,
) -> tuple[int | None, int | None]:
    """Share once more as if nothing had been decided: what others are given less now, and everybody."""
    from deskmend.grants.engine.share import share

    decided = {row.id for row in table.people if row.decided is not None}
    if not decided or allocation.status != "optimal":
        return None, None
    free = people.without_decisions()
    others = [one for one in applicants if one.id not in decided]
    try:
        instead = share(free.applicants(), free, replace(terms, ceiling={}), seconds=seconds, questions=False)
    except KeyboardInterrupt:
        # the fund is shared already: only what these two figures would be stays unknown
        return None, None
    if instead.status != "optimal":
        return None, None
    less = [
        weighted_relief(some, instead.chosen) - weighted_relief(some, allocation.chosen)
        for some in (others, applicants)
    ]
    return less[0], less[1]
