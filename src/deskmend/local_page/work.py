"""What the engine answers: the page's questions about one case, told in sentences and pieces of HTML.

Cases stay ready between questions, so that another budget or wish of the same case is answered soon. An
answer never hangs on what was kept: it is the same whatever was asked before.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from deskmend.errors import Fault, InputFaults, visible
from deskmend.intake.case import Case, Wishes
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import Catalog, file_digest, load_catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.local_page.answers import AnswerRow, KeptPictures, answer_rows
from deskmend.local_page.books import money_of_visit, recheck_answer, visit_answer
from deskmend.local_page.rendering import Answer, rendered
from deskmend.local_page.views import beside_view, money_view, plan_view, strain_view, wish_title
from deskmend.planning.assessment import assess
from deskmend.planning.budgets import EveryBudget, compared, without_budget
from deskmend.planning.frontier import CheckedPlan, dearest_within
from deskmend.planning.inputs import find_prices
from deskmend.planning.plan import BudgetPlans, Plan, budget_plans_of, planned
from deskmend.planning.ready_case import NoPlan, prepare
from deskmend.planning.score import score
from deskmend.report.html.page import page_html
from deskmend.report.words import waits

__all__ = ["KeptCases", "NotPossible"]

KEPT = 6
"""Most cases, each with its wishes, that stay ready."""
KEPT_PLANS = 60
"""Most plans of one of them."""


class NotPossible(Exception):
    """Nothing keeps to the limits and wishes: what hinders, and what would help."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer
        super().__init__(answer)


@dataclass(frozen=True)
class Wanted:
    """A case as its file says, with the wishes that are tried with it."""

    file: str
    data: bytes
    must: tuple[str, ...] | None
    never: tuple[str, ...] | None

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Wanted:
        """What a question is about; wishes that are left out are those of the case."""
        must, never = (None if given.get(key) is None else tuple(given[key]) for key in ("must", "never"))
        return cls(given["file"], given["data"], must, never)


class KeptCase:
    """One case with its wishes, made ready; its plans are worked out when first asked for."""

    def __init__(
        self, wanted: Wanted, case: Case, catalog: Catalog, prices: PriceTable, notes: Sequence[str]
    ) -> None:
        own = (case.wishes.must, case.wishes.never)
        tried = (
            own[0] if wanted.must is None else wanted.must,
            own[1] if wanted.never is None else wanted.never,
        )
        more: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
        self.case = case
        if tried != own:
            self.case, more = case.model_copy(update={"wishes": Wishes()}), tried
        self.must, self.never = tried
        self.own = tried == own
        self.catalog, self.prices, self.notes = catalog, prices, tuple(notes)
        self.ready = prepare(self.case, catalog, prices, *more)
        self.every = EveryBudget(self.ready, case.means.minutes)
        self._plans: dict[int, Plan] = {}

    @cached_property
    def handed(self) -> BudgetPlans:
        """The plan of every budget, as a page to hand over tells it."""
        return budget_plans_of(compared(self.ready, notes=self.notes, every=self.every))

    def checked(self, cost: int | None) -> CheckedPlan:
        """The distinct plan at a cost, as figures alone; with no cost the one for the money in hand."""
        distinct, in_hand = self.every.distinct, self.case.means.budget
        if cost is None:
            cost = without_budget(self.ready, distinct).cost if in_hand is None else in_hand
        return dearest_within(distinct, cost) or distinct[0]

    def plan(self, cost: int | None) -> tuple[int, Plan]:
        """The distinct plan at a cost, put in order, and which of all it is."""
        distinct, in_hand, found = self.every.distinct, self.case.means.budget, self.checked(cost)
        if found.cost not in self._plans:
            if len(self._plans) == KEPT_PLANS:
                self._plans.clear()
            # the plan for the money in hand is the best within all of it, not within its own cost
            budget = found.cost
            if in_hand is not None and in_hand >= found.cost and dearest_within(distinct, in_hand) is found:
                budget = in_hand
            self._plans[found.cost] = planned(self.ready, budget, notes=self.notes, every=self.every)
        return distinct.index(found), self._plans[found.cost]


class KeptCases:
    """Answers questions about cases, and keeps the last ones ready."""

    def __init__(self, catalog: str | None, prices: str | None) -> None:
        self._catalog_folder, self._price_file = catalog, prices
        self._catalog: Catalog | None = None
        self._kept: OrderedDict[tuple[Wanted, str], KeptCase] = OrderedDict()
        self._pictures = KeptPictures()
        self._early: Callable[[Answer], None] = lambda _: None
        self._answers: dict[str, Callable[[Mapping[str, Any]], Answer]] = {
            "warm": self._warm,
            "strain": self._strain,
            "plan": self._plan,
            "beside": self._beside,
            "page": self._page,
            "answers": self._answered,
            "picture": self._pictures.shown,
            "measure": self._pictures.measured,
            "take": self._pictures.taken,
            "visit": self._visit,
            "recheck": self._recheck,
        }

    def answer(
        self, what: str, given: Mapping[str, Any], early: Callable[[Answer], None] = lambda _: None
    ) -> Answer:
        """Answer one question; `early` hears what is known of the answer before the rest.

        Raises `NotPossible`, and `InputFaults` where something cannot be read.
        """
        self._early = early
        return self._answers[what](given)

    def faults(self, found: InputFaults) -> Answer:
        """Faults in words, each with what is allowed and a guess."""
        return {"faults": [fault_view(one) for one in found.faults]}

    @property
    def catalog(self) -> Catalog:
        """The fixes to choose from."""
        if self._catalog is None:
            self._catalog = load_catalog(self._catalog_folder)
        return self._catalog

    def _warm(self, given: Mapping[str, Any]) -> Answer:
        """Load what every other answer needs."""
        del given
        return {"fixes": len(self.catalog.fixes)}

    def _inputs(self, wanted: Wanted) -> tuple[Case, PriceTable, tuple[str, ...]]:
        case = case_of_bytes(wanted.data, wanted.file)
        found = find_prices(case, self.catalog, self._price_file)
        return case, found.table, found.warnings

    def _kept_case(self, given: Mapping[str, Any]) -> KeptCase:
        wanted = Wanted.of(given)
        case, prices, notes = self._inputs(wanted)
        key = wanted, file_digest(prices.path)
        known = self._kept.get(key)
        if known is None:
            try:
                known = KeptCase(wanted, case, self.catalog, prices, notes)
            except NoPlan as told:
                raise NotPossible(self._hindered(told, case, wanted)) from None
            except InputFaults as found:
                rivals = rivals_wished(wanted.must or (), found)
                if rivals is None:
                    raise
                raise NotPossible(self._rivals(rivals)) from None
            self._kept[key] = known
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return known

    def _hindered(self, told: NoPlan, case: Case, wanted: Wanted) -> Answer:
        """What hinders, and the wishes that could be given up."""
        must = case.wishes.must if wanted.must is None else wanted.must
        never = case.wishes.never if wanted.never is None else wanted.never
        return {
            "hinders": told.hinders,
            "would_help": told.would_help,
            "signs": list(told.signs),
            "must": [{"name": name, "title": wish_title(name, self.catalog)} for name in must],
            "never": [{"name": name, "title": wish_title(name, self.catalog)} for name in never],
        }

    def _rivals(self, names: Sequence[str]) -> Answer:
        """Two wishes of which only one can be in a plan; either could be given up."""
        must = [{"name": name, "title": wish_title(name, self.catalog)} for name in names]
        one, other = (each["title"] for each in must)
        return {
            "hinders": tr("{one} and {other} do one thing in two ways", one=one, other=other),
            "would_help": tr("only one of them can be in a plan"),
            "signs": [],
            "must": must,
            "never": [],
        }

    def _answered(self, given: Mapping[str, Any]) -> Answer:
        """Every answer of the case, to be changed one by one."""
        rows = answer_rows(given["data"], given["file"], self.catalog)
        groups: dict[str, tuple[list[AnswerRow], list[AnswerRow]]] = {}
        for row in rows:
            tiles, others = groups.setdefault(row.group, ([], []))
            (tiles if row.kind == "yes_no" else others).append(row)
        own = case_of_bytes(given["data"], given["file"]).wishes
        wishes = [
            f"{word}: {wish_title(name, self.catalog)}"
            for word, names in ((tr("Must"), own.must), (tr("Never"), own.never))
            for name in names
        ]
        return {"html": rendered("answers.html", groups=groups, wishes=wishes, case=given["name"])}

    def _strain(self, given: Mapping[str, Any]) -> Answer:
        case, prices, notes = self._inputs(Wanted.of(given))
        return strain_view(assess(case, self.catalog, prices, notes=notes), self.catalog)

    def _plan(self, given: Mapping[str, Any]) -> Answer:
        kept, cost = self._kept_case(given), given.get("cost")
        wishes = {"must": list(kept.must), "never": list(kept.never), "own": kept.own}
        wishes["waits"] = waits(kept.case, self.catalog)
        try:
            # what it comes to is known before the steps are put in order
            now = score(kept.ready.state, kept.ready.weights).total
            figures = money_view(now, kept.every.distinct, kept.checked(cost), kept.prices.currency)
            self._early(figures | wishes)
            _, plan = kept.plan(cost)
        except NoPlan as told:
            raise NotPossible(self._hindered(told, kept.case, Wanted.of(given))) from None
        answer = plan_view(
            plan,
            kept.every.distinct,
            kept.catalog,
            kept.prices,
            kept.ready.offers,
            (kept.must, kept.never),
            given["name"],
        )
        return figures | answer | wishes

    def _beside(self, given: Mapping[str, Any]) -> Answer:
        """Two plans of one case, each with its wishes and money."""
        both = []
        for side in ("first", "second"):
            asked = {"file": given["file"], "data": given["data"], **given[side]}
            kept = self._kept_case(asked)
            try:
                number, plan = kept.plan(given[side].get("cost"))
            except NoPlan as told:
                raise NotPossible(self._hindered(told, kept.case, Wanted.of(asked))) from None
            both.append((plan, kept.every.distinct[number]))
        return beside_view(both[0], both[1], self.catalog)

    def _page(self, given: Mapping[str, Any]) -> Answer:
        """The page of one reader to print and hand over, as the report command writes it."""
        kept = self._kept_case(given)
        try:
            plans = kept.handed
        except NoPlan as told:
            raise NotPossible(self._hindered(told, kept.case, Wanted.of(given))) from None
        return {"held": page_html(plans, self.catalog, kept.prices, reader=given["reader"])}

    def _visit(self, given: Mapping[str, Any]) -> Answer:
        """A visit to be written into a casebook, with the plan of the case as it stands."""
        kept = self._kept_case(given)
        money = money_of_visit(given, kept.prices.currency)
        try:
            plan = planned(kept.ready, money, notes=kept.notes, every=kept.every)
        except NoPlan as told:
            raise NotPossible(self._hindered(told, kept.case, Wanted.of(given))) from None
        return visit_answer(given, kept.case, self.catalog, kept.prices, plan)

    def _recheck(self, given: Mapping[str, Any]) -> Answer:
        """A workplace looked at again, from what a casebook holds of the person."""
        case, prices, notes = self._inputs(Wanted.of(given))
        try:
            return recheck_answer(given, case, self.catalog, prices, notes)
        except NoPlan as told:
            raise NotPossible(self._hindered(told, case, Wanted.of(given))) from None


def rivals_wished(must: Sequence[str], found: InputFaults) -> list[str] | None:
    """The first two wishes that settle one decision, where faults are of such alone; None where of others."""
    pairs = [(one.read or "").split(" and ") for one in found.faults]
    if all(len(pair) == 2 and set(pair) <= set(must) for pair in pairs):
        return pairs[0]
    return None


def fault_view(fault: Fault) -> Answer:
    """One fault in words."""
    return {
        "where": fault.where,
        "line": fault.line,
        "read": None if fault.read is None else visible(fault.read),
        "allowed": fault.allowed,
        "hint": fault.hint,
        "note": fault.note,
    }
