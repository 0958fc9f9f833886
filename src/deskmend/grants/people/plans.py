"""One applicant's plans: the exact model of the person's workplace, asked at whatever prices the fund sets.

Answers follow from the row, the catalog and the price table and nothing else, so none can depend on who else
applies: people who can choose among the same share the calls that fill their tables, never a number. Packs
are opened for each person; tiers and stock belong to the order as a whole and are left out here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

from deskmend.choice import Choice, Problem, frontier, solve
from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.open_prices import OpenPrices
from deskmend.errors import DefectError, Fault, InputFaults
from deskmend.grants.people.columns import (
    EVERY_COST,
    MOST_BOXES,
    Applicant,
    Column,
    CostBand,
    PlanList,
    best_of_listed,
    columns_within,
    every_plan,
    frees_the_rest,
    pareto,
)
from deskmend.grants.people.offered import (
    BestLeftOut,
    OfferedPlans,
    PlanBasis,
    Thinning,
    offered,
    offers_left,
    with_owned,
    without_tiers,
)
from deskmend.intake.applicants import ApplicantRow
from deskmend.intake.case import Case, Discomfort
from deskmend.intake.given_before import Had
from deskmend.intake.reading.text_file import parse_fix_name
from deskmend.measures import Micro, Minor, parse_amount
from deskmend.planning.inputs import fitting_faults
from deskmend.planning.model.cohorts import NOT_CARRIED, Member, problems_together
from deskmend.planning.model.offers import KEEP, Offers
from deskmend.planning.model.rules import breaches
from deskmend.planning.reach import Goal, build_goals, with_goals
from deskmend.planning.ready_case import NoPlan, ReadyCase, TooMuchToChoose, prepare
from deskmend.planning.score import score, strain_of_many, weights_of
from deskmend.planning.selection import matching, state_with
from deskmend.risk.scores.day import score_of
from deskmend.workstation.state import State, state_of

__all__ = [
    "PersonPlans",
    "PersonProblem",
    "PlanBasis",
    "case_of_person",
    "every",
    "made_together",
    "member_of",
    "without_tiers",
]

PackPrices = Mapping[str, Minor]
Counts = tuple[tuple[str, int], ...]
"""Numbers by item, sorted."""

NOTHING = (KEEP, NOT_CARRIED)
"""Options that do nothing."""
MOST_OPEN = 4
"""Most coupling items that a person can use, with which every plan is listed at once."""
KEPT_SEARCHES = 4
"""Searches kept of one person: prices come back, as those of the table do."""


@dataclass(frozen=True, eq=False)
class PersonProblem:
    """A person's problem without limits, the strain that nothing on offer changes, and that of today."""

    member: Member
    problem: Problem
    fixed_strain: Micro
    strain_now: Micro


class PersonPlans:
    """The plans of one person.

    - `row`: the person's row.
    - `basis`: catalog, prices and rules.
    - `had`: what the person has from earlier rounds; it counts as owned.
    - `made`: the person's own problem, where it was made together with others'.
    """

    def __init__(
        self,
        row: ApplicantRow,
        basis: PlanBasis,
        had: Had = Had(),  # noqa: B008 - frozen
        made: PersonProblem | None = None,
    ) -> None:
        self.row = row
        self.basis = basis
        self.had = had
        self._ready: ReadyCase | None = None
        if made is None:
            self.case = case_of_person(row, basis, had)
            ready = self._ready_case()
            self.member = Member(self.case, ready.state, ready.offers, ready.weights)
            self.base, self.fixed_strain = ready.problem(None, None), ready.fixed_strain
            self.strain_now = score(ready.state, ready.weights).total
        else:
            self.case = made.member.case
            self.member, self.base, self.fixed_strain = made.member, made.problem, made.fixed_strain
            self.strain_now = made.strain_now
        self._open: OpenPrices | None = None
        self._too_wide = False
        self._searches: dict[tuple[Counts, Counts], OpenPrices] = {}
        self._frontiers: dict[tuple[Counts, Counts], tuple[Column, ...]] = {}

    def _ready_case(self) -> ReadyCase:
        """The person's own model; few questions need it."""
        if self._ready is None:
            self._ready = self._made_ready()
        return self._ready

    def _made_ready(self, must: Sequence[str] = ()) -> ReadyCase:
        """The model where some fixes must be; `InputFaults` where more can be set than can be worked out."""
        basis = self.basis
        try:
            return prepare(
                self.case, basis.catalog, basis.listed, must=must, offered=_offers_of(self.row, self.had)
            )
        except TooMuchToChoose as error:
            ranges = self.row.columns_of(error.ranges)
            allowed = "these with one or two left out, those that matter least; what has no range stays"
            if not ranges:
                ranges, allowed = ["wishes.never"], "more fixes that are not wanted"
            note = "more can be set here at once than can be worked out exactly"
            told = Fault(self.row.file, self.row.line, ", ".join(ranges), None, allowed, note=note)
            raise InputFaults([told]) from error

    def forget_model(self) -> None:
        """Let go of the model's tables; they can be made again."""
        self._ready = None

    def forget_searches(self) -> None:
        """Let go of most that the searches hold; it is made again when needed."""
        if self._open is not None:
            self._open.forget()
        self._searches.clear()

    def weight(self) -> int:
        """Memory that the searches take, about [bytes]."""
        searches = sum(search.bytes for search in self._searches.values())
        return searches + (0 if self._open is None else self._open.bytes)

    # --- what the engine asks ---------------------------------------------------------------------

    def applicant(self) -> Applicant:
        """The person as the engine sees one."""
        free = self.free
        return Applicant(
            self.row.id,
            self.strain_now,
            free.strain,
            self.row.weight,
            self.row.group or None,
            free.score,
            *self._decided_least(),
        )

    def offered_alone(self) -> OfferedPlans:
        """What there is to know of somebody whose plans are listed, without the model that it came from."""
        told = self.applicant(), self.free, self.offered, self.left_out()
        # it holds on to whom it is of, and with that to all tables until rings are looked for
        self.__dict__.pop("_thinning", None)
        return OfferedPlans(self.row, self.had, *told, self._listed)

    @property
    def _listed(self) -> dict[str, Minor]:
        """Listed price of a pack of everything that this person can use."""
        return {item.name: item.price or 0 for item in self.base.items}

    @property
    def listed_only(self) -> bool:
        """Whether plans come from the list of what is offered, at whatever prices."""
        return self.row.decided is not None or not self.basis.every_gain

    def _decided_least(self) -> tuple[Micro | None, Minor]:
        """Most strain that this person may be left with by what people decided, and what that costs at least.

        `InputFaults` where nothing that may be given is what they decided.
        """
        decided = self.row.decided
        if decided is None or not (decided.fixed or decided.least):
            return None, 0
        useful = [one for one in self.offered if one.strain < self.free.strain]
        least = parse_amount(decided.least, self.basis.prices.currency) if decided.least else 0
        prices = {name: item.price for name, item in self.basis.prices.items.items()}
        enough = [one for one in useful if one.cost(prices) >= least]
        if not enough:
            named = "given.fixed" if decided.fixed else "given.least"
            read = " ".join(decided.fixed) or decided.least
            allowed = "what takes off more than what is free, within given.most"
            raise InputFaults([Fault(self.row.file, self.row.line, named, read, allowed)])
        least_given = min(enough, key=lambda one: (one.cost(prices), one.strain))
        return least_given.strain, least_given.cost(prices)

    def _as_decided(self, columns: Sequence[Column]) -> tuple[Column, ...]:
        """What is offered, as far as people left it open; what is free stays, so that all can be told."""
        decided = self.row.decided
        if decided is None:
            return tuple(columns)
        if decided.fixed:
            columns = [self.free, self._with_fixed(decided.fixed)]
        if decided.most:
            most = parse_amount(decided.most, self.basis.prices.currency)
            prices = {name: item.price for name, item in self.basis.prices.items.items()}
            columns = [one for one in columns if not one.packs or one.cost(prices) <= most]
        return tuple(columns)

    def _with_fixed(self, fixed: Sequence[str]) -> Column:
        """The cheapest plan that holds some fixes, with the best of what is free beside them."""
        try:
            ready = self._made_ready(fixed)
        except NoPlan as error:
            told = Fault(self.row.file, self.row.line, "given.fixed", " ".join(fixed), "", note=str(error))
            raise InputFaults([told]) from error
        found = frontier(ready.problem(None, self.case.means.minutes))
        if not found:
            hinders = (
                "; ".join(self._broken_by(fixed)) or "no plan holds it within this person's time and rules"
            )
            allowed = "fixes that can go together here"
            read = " ".join(fixed)
            raise InputFaults(
                [Fault(self.row.file, self.row.line, "given.fixed", read, allowed, note=hinders)]
            )
        return self.column(found[0], ready.fixed_strain)

    def _broken_by(self, fixed: Sequence[str]) -> list[str]:
        """Rules that each of some fixes breaks by itself, in every way in which it could be had."""
        state, found = self.member.state, []
        for name in filter(None, map(parse_fix_name, fixed)):
            broken = [
                {
                    breach.reason
                    for breach in breaches(state, state_with(state, [one]), [(one.fix, one.owner)])
                }
                for one in matching(name, self.member.offers)
            ]
            if broken and all(broken):
                found += sorted(set.union(*broken))
        return found

    @cached_property
    def free(self) -> Column:
        """The best plan for which nothing is bought."""
        choice = self._free_by_price()
        if choice is None:
            items = [replace(item, price=None, stock=None) for item in self.base.items]
            choice = solve(replace(self.base, items=items, minutes=self.case.means.minutes))
        if not choice.found or not choice.proven:
            raise DefectError(f"{self.row.id}: leaving everything as it is was not found or proven")
        return self.column(choice)

    @property
    def most_value(self) -> int:
        """Value of the free plan in the person's problem.

        Whatever leaves more is no answer at any prices and limits: what is free takes no packs and beats it.
        """
        return self.free.strain - self.fixed_strain

    def _free_by_price(self) -> Choice | None:
        """The same from the search that serves all prices: money so dear that any is too much."""
        search = self._opened()
        if search is None or any(item.price == 0 for item in self.base.items):
            return None
        dear = 1 + sum(int(table.values.max()) for table in self.base.tables)
        try:
            choice = search.least(1, dear, {}, self.case.means.minutes)
        except TooWide:
            return None
        return None if choice is None or choice.cost else choice

    @cached_property
    def offered(self) -> tuple[Column, ...]:
        """What the person may be given where money goes only for what can be told apart, money rising."""
        # every plan that some limit on scarce things makes best, in one search shorter than a frontier
        every_one = None
        if self.basis.kept is None:
            listed_all = self.plan_list is not None
            every_one = _listed_within(self, EVERY_COST) if listed_all else _at_once(self, EVERY_COST)
        listed = self._listed

        def frontier(limits: Mapping[str, int]) -> Sequence[Column]:
            if every_one is None:
                return self.frontier({}, limits)
            return pareto(columns_within(every_one, limits), listed)

        if self.basis.every_gain:
            return self._as_decided(self.frontier({}, {}) if every_one is None else every_one)
        return self._as_decided(offered(self._thinning, frontier, self.basis.scarce))

    @cached_property
    def _thinning(self) -> Thinning:
        return Thinning(self.member, self.base, self.free, self.strain_now, self.basis.kept, self.column)

    def left_out(self) -> BestLeftOut | None:
        """The best that could be bought for somebody to whom nothing is offered; None where nothing is."""
        if self.row.decided is not None or self.basis.every_gain or any(one.packs for one in self.offered):
            return None
        useful = [one for one in self.frontier({}, {}) if one.packs and one.strain < self.free.strain]
        if not useful:
            return None
        return self._thinning.left_out(min(useful, key=lambda one: (one.strain, self._thinning.cost(one))))

    def columns(self, prices: PackPrices, at_most: Mapping[str, int]) -> Sequence[Column]:
        """As in `deskmend.grants.people.columns.Pricing`, money rising."""
        return columns_within(self.offered, at_most) if self.listed_only else self.frontier(prices, at_most)

    def frontier(self, prices: PackPrices, at_most: Mapping[str, int]) -> tuple[Column, ...]:
        """Every plan that is best for some money."""
        key = self._key(prices, at_most)
        if key not in self._frontiers:
            _make_room(self._frontiers)
            self._frontiers[key] = tuple(self._columns(key, prices, at_most))
        return self._frontiers[key]

    def best(
        self, prices: PackPrices, strain_weight: int, money_weight: int, at_most: Mapping[str, int]
    ) -> Column:
        """As in `deskmend.grants.people.columns.Pricing`."""
        key = self._key(prices, at_most)
        if not self.listed_only and key not in self._frontiers and (strain_weight or money_weight):
            try:
                choice = self._least(key, prices, at_most, strain_weight, money_weight)
            except TooWide:
                choice = None
            if choice is not None:
                return self.column(choice)
        at = self._listed | dict(prices)
        return best_of_listed(self.columns(prices, at_most), at, strain_weight, money_weight)

    # --- inside -----------------------------------------------------------------------------------

    def _key(self, prices: PackPrices, at_most: Mapping[str, int]) -> tuple[Counts, Counts]:
        """What of prices and limits can matter to this person."""
        mine = {item.name: item.price for item in self.base.items if item.price is not None}
        changed = tuple(
            sorted((name, price) for name, price in prices.items() if mine.get(name, price) != price)
        )
        return changed, tuple(sorted((name, most) for name, most in at_most.items() if name in mine))

    def problem(self, prices: PackPrices, at_most: Mapping[str, int]) -> Problem:
        """Give the choice at some prices, within limits on packs, money and minutes without limit."""
        return _priced(self.base, prices, at_most)

    @property
    def _free_known(self) -> bool:
        return "free" in self.__dict__

    @cached_property
    def open_prices(self) -> OpenPrices | None:
        """Give the search in which prices of coupling items stay open; None where it would be too wide.

        What leaves more than the free plan is not in it.
        """
        most = self.most_value
        search = self._opened()
        if search is not None:
            search.keep_up_to(most)
        return search

    @cached_property
    def plan_list(self) -> PlanList | None:
        """Every plan that could matter, from one search, which takes less than a frontier.

        None where a score is limited, or too many prices are open for one search.
        """
        search = None if self.basis.kept is not None else self.open_prices
        if search is None or len(search.items) > MOST_OPEN:
            return None
        try:
            choices = search.unbeaten(1, 0, None, self.most_value, self.case.means.minutes)
        except TooWide:
            return None
        return PlanList(self.base, frozenset(search.items), choices)

    def _opened(self) -> OpenPrices | None:
        if self._open is None and not self._too_wide:
            # where only listed plans are offered, what is cheaper by the dozen has its listed price
            items = [
                item for item in self.basis.coupling if self.basis.every_gain or item in self.basis.scarce
            ]
            try:
                self._open = OpenPrices(self.base, items)
            except TooWide:
                self._too_wide = True
        return self._open

    def _least(
        self,
        key: tuple[Counts, Counts],
        prices: PackPrices,
        at_most: Mapping[str, int],
        strain_weight: int,
        money_weight: int,
    ) -> Choice | None:
        changed, limits = key
        most = self.case.means.minutes
        listed = self._least_listed(key, strain_weight, money_weight)
        if listed is not None:
            return listed
        if not limits and all(name in self.basis.coupling for name, _ in changed):
            # what is free takes a search to find, so of somebody just met it is not asked for first
            search = self.open_prices if self._free_known else self._opened()
            if search is not None:
                return search.least(strain_weight, money_weight, dict(changed), most)
        return self._search(key, prices, at_most).least(strain_weight, money_weight, minutes=most)

    def _least_listed(
        self, key: tuple[Counts, Counts], strain_weight: int, money_weight: int
    ) -> Choice | None:
        """The same read off the list of plans; None where a search has to find it."""
        changed, limits = map(dict, key)
        asked = changed, limits, strain_weight, money_weight
        if not all(name in self.basis.coupling for name in changed):
            if not frees_the_rest(self.base, self.basis.coupling, changed) or self.plan_list is None:
                return None
            return self.plan_list.least_where_free(*asked)
        # where there is no list yet, one search takes less
        plans = self.plan_list if "plan_list" in self.__dict__ else None
        return None if plans is None else plans.least(*asked)

    def _search(
        self, key: tuple[Counts, Counts], prices: PackPrices, at_most: Mapping[str, int]
    ) -> OpenPrices:
        if key not in self._searches:
            _make_room(self._searches)
            search = OpenPrices(self.problem(prices, at_most))
            if self._free_known:
                search.keep_up_to(self.most_value)
            self._searches[key] = search
        return self._searches[key]

    def _columns(
        self, key: tuple[Counts, Counts], prices: PackPrices, at_most: Mapping[str, int]
    ) -> list[Column]:
        problem, most = self.problem(prices, at_most), self.case.means.minutes
        found = None if self.plan_list is None else self.plan_list.frontier(dict(key[0]), dict(key[1]))
        if found is None:
            found = frontier(replace(problem, minutes=most))
        if not all(point.proven for point in found):
            raise DefectError(f"{self.row.id}: the plans were not proven best")
        out = [self.column(point) for point in found]
        if self.basis.kept is not None:
            keeping = self._keeping(prices, at_most, self.basis.kept, found)
            out += [one for one in keeping if one not in out]
        return out

    def _keeping(
        self, prices: PackPrices, at_most: Mapping[str, int], kept: Goal, found: Sequence[Choice]
    ) -> list[Column]:
        """Every plan that is best for some money among those that keep to the limit of a score.

        `found` are those that are best without it: where one keeps it, nothing within it is better for the
        money, and no search is made.
        """
        ready = self._ready_case()
        # What a score hangs on is told by the person's own model, so the choice has to be from it as well.
        problem = _priced(ready.problem(None, None), prices, at_most)
        problem = replace(problem, minutes=self.case.means.minutes)
        goal = build_goals(ready.model, [kept])
        limited = with_goals(problem, ready.model, goal, tables=problem.tables, first="value")
        out: list[Column] = []
        money: Minor | None = None
        while limited is not None and (money is None or money >= 0):
            best = next((one for one in reversed(found) if money is None or one.cost <= money), None)
            if best is None:
                break
            column = self.column(best)
            if column.score is None or column.score > kept.at_most:
                best = solve(replace(limited, money=money))
                if best.status == "not_proven":
                    raise DefectError(f"{self.row.id}: the plans within the limit were not proven best")
                if not best.found:
                    break
                column = self.column(best, ready.fixed_strain)
            out.append(column)
            money = best.cost - 1
        return out[::-1]

    def _state_after(self, choice: Choice) -> State:
        return state_with(self.member.state, self.member.offers.taken(choice.options))

    def column(self, choice: Choice, fixed_strain: Micro | None = None) -> Column:
        """Write a choice as the engine sees a plan.

        `fixed_strain` goes with the problem that the choice answers, the base one where nothing is said: what
        a model made for many people leaves open may be fixed in the person's own.
        """
        kept = self.basis.kept
        value = None if kept is None else score_of(self._state_after(choice), kept.name)
        figures = choice.figures
        if figures is None:
            raise DefectError("a column needs an assignment")
        taken = tuple((name, option) for name, option in choice.options.items() if option not in NOTHING)
        packs = tuple(sorted((item, count) for item, count in figures.packs.items() if count))
        fixed = self.fixed_strain if fixed_strain is None else fixed_strain
        return Column(packs, figures.value + fixed, value, taken)


def _priced(problem: Problem, prices: PackPrices, at_most: Mapping[str, int]) -> Problem:
    items = [
        item
        if item.price is None
        else replace(item, price=prices.get(item.name, item.price), stock=at_most.get(item.name))
        for item in problem.items
    ]
    return replace(problem, items=items)


def _make_room(
    kept: dict[tuple[Counts, Counts], OpenPrices] | dict[tuple[Counts, Counts], tuple[Column, ...]],
) -> None:
    while len(kept) >= KEPT_SEARCHES:
        kept.pop(next(iter(kept)))


def case_of_person(row: ApplicantRow, basis: PlanBasis, had: Had) -> Case:
    """The person's case, discomfort left out unless it counts, and what they have from before owned."""
    case = row.case
    if not basis.use_discomfort:
        person = case.person.model_copy(update={"discomfort": Discomfort()})
        case = case.model_copy(update={"person": person})
    return with_owned(case, had)


def _offers_of(row: ApplicantRow, had: Had) -> Callable[..., Offers]:
    """What tells the decisions of a person, who has something from before, and for whom some are settled."""
    fixed = () if row.decided is None else row.decided.fixed
    names = {name.fix for text in fixed if (name := parse_fix_name(text)) is not None}
    return partial(offers_left, had=had, also=names)


def made_together(people: Sequence[tuple[ApplicantRow, Had]], basis: PlanBasis) -> dict[str, PersonProblem]:
    """Make the problems of people, of those together who can choose among the same.

    `people` are rows, each with what the person has from before; whoever is missing from what is given back,
    by id, has to be modelled alone, or can choose among too much for that.
    """
    rows, members = [], []
    for row, had in people:
        one = member_of(row, basis, had)
        # Wishes and faults are for the model of one person.
        wishes = one.case.wishes
        if wishes.must or wishes.never or fitting_faults(one.case, basis.catalog):
            continue
        rows.append(row)
        members.append(one)
    found = problems_together(members, basis.listed)
    today = strain_of_many([one.state for one in members], [one.weights for one in members])
    return {
        row.id: PersonProblem(member, *one, now)
        for row, member, one, now in zip(rows, members, found, today, strict=True)
        if one is not None
    }


def member_of(row: ApplicantRow, basis: PlanBasis, had: Had) -> Member:
    """Case, state, offers and region weights of a person, who has something from before."""
    case = case_of_person(row, basis, had)
    state = state_of(case)
    offers = _offers_of(row, had)(case, state, basis.catalog, basis.listed)
    return Member(case, state, offers, weights_of(case))


def every(
    plans: PersonPlans, base: Mapping[str, int], items: Sequence[str], band: CostBand
) -> list[Column] | None:
    """Find every plan that could matter where packs of some items couple people.

    In one pass where the prices of all these items stay open. Otherwise by the search of `every_plan`, box by
    box of limits on packs; but of each box only what lies within the band is looked for, not the whole
    frontier. None where there are too many boxes.
    """
    if plans.listed_only:
        return list(plans.offered)
    used = {item.name for item in plans.base.items}
    together = plans.basis.kept is None and set(items) & used <= set(plans.basis.coupling)
    if together and plans.plan_list is not None:
        return _listed_within(plans, band)
    at = {**base, **band.prices}
    dearer = all(at[name] >= base[name] for name in base if name not in items)
    if plans.basis.kept is not None or not dearer:
        return every_plan(plans, base, items, band)
    if together:
        found_at_once = _at_once(plans, band)
        if found_at_once is not None:
            return found_at_once
    free = {item: 0 for item in items if item in used}
    most = band.at_most - band.strain_weight * plans.fixed_strain
    found: dict[tuple[Counts, int], Column] = {}
    waiting: list[Counts] = [()]
    seen = set(waiting)
    while waiting:
        if len(seen) > MOST_BOXES:
            return None
        limits = dict(waiting.pop())
        try:
            search = OpenPrices(plans.problem(free, limits))
            search.keep_up_to(plans.most_value)
            points = search.within(band.strain_weight, band.money_weight, most, plans.case.means.minutes)
        except TooWide:
            return every_plan(plans, base, items, band)
        uses: set[tuple[str, int]] = set()
        for column in map(plans.column, points):
            found.setdefault((column.packs, column.strain), column)
            uses.update((item, count) for item, count in column.packs if item in free)
        for item, count in sorted(uses):
            tighter = tuple(sorted({**limits, item: count - 1}.items()))
            if tighter not in seen:
                seen.add(tighter)
                waiting.append(tighter)
    return list(found.values())


def _listed_within(plans: PersonPlans, band: CostBand) -> list[Column]:
    """All plans within the band of those that nothing beats, read off the list."""
    at = {item.name: item.price or 0 for item in plans.base.items} | dict(band.prices)
    assert plans.plan_list is not None
    columns = [plans.column(choice) for choice in plans.plan_list.choices]
    if band == EVERY_COST:
        return columns
    return [
        one
        for one in columns
        if band.strain_weight * one.strain + band.money_weight * one.cost(at) <= band.at_most
    ]


def _at_once(plans: PersonPlans, band: CostBand) -> list[Column] | None:
    """All plans within the band that nothing beats, by one search; None where there are too many labels."""
    search = plans.open_prices
    if search is None:
        return None
    if band == EVERY_COST:
        # of all plans only those that leave no more than the free one are unbeaten
        weights, most = (1, 0), plans.most_value
    else:
        weights = band.strain_weight, band.money_weight
        most = band.at_most - band.strain_weight * plans.fixed_strain
    try:
        found = search.unbeaten(*weights, band.prices, most, plans.case.means.minutes)
    except TooWide:
        return None
    return [plans.column(choice) for choice in found]
