"""The plan of a case: the best fix set within money and time, proven, checked and put in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from deskmend.choice import Choice, Problem, solve
from deskmend.errors import DefectError, Fault, InputFaults, did_you_mean
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import WatchFor
from deskmend.intake.ids import ALLOWED_FIX_NAME, parse_fix_name
from deskmend.intake.price_table import PriceTable
from deskmend.money import format_amount
from deskmend.planning.assessment import missing_measures
from deskmend.planning.bill import Bill, bill_of, cheapest_packs, minutes_of
from deskmend.planning.breaches import breaches
from deskmend.planning.inputs import fitting_faults, sign_warnings
from deskmend.planning.model import Model, add_terms
from deskmend.planning.offers import KEEP, LeftOut, Offers, OptionSpec, offers_for
from deskmend.planning.order import OrderedStep, put_in_order
from deskmend.planning.rules import ruled_model
from deskmend.planning.score import PLAIN, Score, score, weights_of
from deskmend.planning.selection import matching, select, state_with
from deskmend.risk.posture_scores import DayScores, scores_of
from deskmend.workstation.state import State, state_of

__all__ = ["NoPlan", "Plan", "Prepared", "Reserve", "plan", "prepare", "verify_plan"]


class NoPlan(Exception):
    """No plan keeps to the limits.

    Attributes
    ----------
    hinders : str
        Which limit hinders.
    would_help : str
        What would make a plan possible.
    """

    def __init__(self, hinders: str, would_help: str) -> None:
        self.hinders, self.would_help = hinders, would_help
        super().__init__(f"no plan: {hinders}; {would_help}")


@dataclass(frozen=True)
class Reserve:
    """Advice for what may happen, with what it would cost then."""

    option: OptionSpec
    watch: WatchFor
    cost: int | None


@dataclass(frozen=True)
class Prepared:
    """A case made ready for choosing.

    Attributes
    ----------
    case, prices, state, offers, model : objects
        What the choice is made from.
    weights : dict
        Region weights [-].
    forbidden : tuple of dict
        What wishes rule out.
    """

    case: Case
    catalog: Catalog
    prices: PriceTable
    state: State
    offers: Offers
    model: Model
    weights: dict[str, float]
    forbidden: tuple[dict[str, str | int], ...]

    def problem(self, money: int | None, minutes: int | None) -> Problem:
        """The choice within money [minor units] and work [min]."""
        base = self.model.problem(self.case, self.prices, money, minutes)
        return replace(base, forbidden=(*base.forbidden, *self.forbidden)) if self.forbidden else base

    def options_of(self, choice: Choice) -> tuple[OptionSpec, ...]:
        """Options that a choice takes, in catalog order."""
        out = []
        for offer in self.offers.decisions:
            name = choice.options[offer.name]
            out += [option for option in offer.options if option.name == name and name != KEEP]
        return tuple(out)


@dataclass(frozen=True)
class Plan:
    """A proven, checked and ordered plan.

    Attributes
    ----------
    case : Case
        For whom.
    currency : str
        Of all amounts.
    budget, limit : int or None
        Money in hand, and money that may be spent [minor units]; None: no limit.
    steps : tuple of OrderedStep
        In order.
    bill : Bill
        What is bought.
    minutes : int
        All work [min].
    before, after, after_free : Score
        Strain with the person's weights: now, with the plan, with what costs nothing alone.
    plain_before, plain_after : Score
        Without discomfort weights.
    state_before, state_after : State
        The states.
    watch_for : tuple of Reserve
        Advice that depends on what happens.
    choice : Choice
        What the engine answered, with its proof.
    strain_bound : int or None
        No plan can leave less strain than this [millionths of h/day].
    left_out : tuple of LeftOut
        Fixes not offered, with reasons.
    warnings : tuple of str
        What has to be said, the most important first.
    """

    case: Case
    currency: str
    budget: int | None
    limit: int | None
    steps: tuple[OrderedStep, ...]
    bill: Bill
    minutes: int
    before: Score
    after: Score
    after_free: Score
    plain_before: Score
    plain_after: Score
    state_before: State
    state_after: State
    watch_for: tuple[Reserve, ...]
    choice: Choice
    strain_bound: int | None
    left_out: tuple[LeftOut, ...]
    warnings: tuple[str, ...]

    @property
    def cost(self) -> int:
        """Cost of all that is bought [minor units]."""
        return self.bill.total

    @cached_property
    def scores_before(self) -> DayScores:
        """Published scores now."""
        return scores_of(self.state_before)

    @cached_property
    def scores_after(self) -> DayScores:
        """Published scores with the plan."""
        return scores_of(self.state_after)

    @property
    def proven(self) -> bool:
        """Whether the plan is proven best."""
        return self.choice.proven


def prepare(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
) -> Prepared:
    """Make a case ready for choosing: what can be chosen, exact tables, rules and wishes.

    Parameters
    ----------
    case : Case
        The case; its own wishes count too.
    catalog : Catalog
        Fixes.
    prices : PriceTable
        What things cost.
    must, never : sequence of str
        Fixes that have to be, and must not be, in the plan.

    Raises
    ------
    InputFaults
        A wish names nothing that this case offers.
    """
    faults = fitting_faults(case, catalog)
    state = state_of(case)
    offers = offers_for(case, state, catalog, prices)
    wanted = [*case.wishes.must, *must]
    unwanted = [*case.wishes.never, *never]
    faults += _unknown(unwanted, catalog)
    chosen = _musts(wanted, offers, case, catalog, prices, faults)
    if faults:
        raise InputFaults(faults)
    offers = offers.without(_refused(unwanted, chosen, offers))
    model = ruled_model(state, offers)
    weights = weights_of(case)
    add_terms(model, weights)
    forbidden: list[dict[str, str | int]] = []
    for text, group in zip(wanted, chosen, strict=True):
        decision = _decision(group[0])
        if all(offer.name != decision for offer in model.offers.decisions):
            why = next((left.reason for left in model.offers.left_out if left.fix is group[0].fix), "")
            raise NoPlan(f"{text} must be in the plan, but cannot be", why or "leave it out")
        forbidden.append({decision: KEEP})
    return Prepared(case, catalog, prices, state, model.offers, model, weights, tuple(forbidden))


def _refused(
    unwanted: Sequence[str], chosen: Sequence[Sequence[OptionSpec]], offers: Offers
) -> dict[str, list[str]]:
    """Options that wishes rule out, by decision: what must never be, and the rivals of what must be."""
    out: dict[str, list[str]] = {}
    for text in unwanted:
        name = parse_fix_name(text)
        if name is None:
            raise DefectError(f"unchecked name {text}")
        for option in matching(name, offers):
            out.setdefault(_decision(option), []).append(option.name)
    for group in chosen:
        decision = _decision(group[0])
        allowed = {option.name for option in group}
        offer = next(o for o in offers.decisions if o.name == decision)
        out.setdefault(decision, []).extend(o.name for o in offer.options if o.name not in allowed)
    return out


def _decision(option: OptionSpec) -> str:
    return f"{option.owner[1]}.{option.fix.decision}" if option.owner[1] else option.fix.decision


def _unknown(names: Sequence[str], catalog: Catalog) -> list[Fault]:
    out: list[Fault] = []
    for text in names:
        name = parse_fix_name(text)
        if name is None:
            out.append(Fault("command line", None, "never", text, ALLOWED_FIX_NAME))
        elif name.fix.lower() not in (f.lower() for f in catalog.by_id):
            hint = did_you_mean(name.fix, catalog.by_id)
            out.append(Fault("command line", None, "never", text, "a fix of the catalog", hint))
    return out


def plan(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    budget: int | None = None,
    minutes: int | None = None,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    notes: Sequence[str] = (),
    seconds: float | None = None,
) -> Plan:
    """Find the fix set that leaves least strain, then costs least, within money and time.

    Parameters
    ----------
    case : Case
        The case.
    catalog : Catalog
        Fixes.
    prices : PriceTable
        What things cost.
    budget : int, optional
        Money [minor units]; the case's own if left out.
    minutes : int, optional
        Work [min]; the case's own if left out.
    must, never : sequence of str
        Fixes that have to be, and must not be, in the plan.
    notes : sequence of str
        Warnings from before.
    seconds : float, optional
        Time the solver may take [s].

    Returns
    -------
    Plan
        Priced and scored again without the optimiser.

    Raises
    ------
    NoPlan
        Nothing keeps to the limits.
    InputFaults
        A wish cannot be understood.
    DefectError
        The check disagrees with the optimiser.
    """
    budget = case.means.budget if budget is None else budget
    minutes = case.means.minutes if minutes is None else minutes
    ready = prepare(case, catalog, prices, must, never)
    choice = solve(ready.problem(budget, minutes), seconds=seconds)
    if not choice.found:
        raise _hindered(ready, budget, minutes, choice)
    options = ready.options_of(choice)
    after, bill = verify_plan(ready, choice, budget, minutes)
    free = choice if bill.total == 0 else solve(ready.problem(0, minutes), seconds=seconds)
    free_options = ready.options_of(free) if free.found else ()
    steps = put_in_order(options, ready.state, case, prices, ready.weights)
    bound = None if choice.bound is None else choice.bound + ready.model.fixed_strain
    return Plan(
        case,
        prices.currency,
        budget,
        budget,
        steps,
        bill,
        minutes_of(options),
        score(ready.state, ready.weights),
        score(after, ready.weights),
        score(state_with(ready.state, free_options), ready.weights),
        score(ready.state, PLAIN),
        score(after, PLAIN),
        ready.state,
        after,
        tuple(_reserves(steps, case, prices)),
        choice,
        bound,
        ready.offers.left_out,
        tuple(
            dict.fromkeys(
                [
                    *sign_warnings(case, catalog),
                    *notes,
                    *_left_out_notes(ready),
                    *_means_notes(case, budget),
                    *missing_measures(ready.state),
                ]
            )
        ),
    )


def _left_out_notes(ready: Prepared) -> list[str]:
    reasons: dict[str, list[str]] = {}
    for left in ready.offers.left_out:
        if left.cause == "no_price":
            reasons.setdefault(left.reason, []).append(left.fix.id)
    return [f"{reason}: {', '.join(dict.fromkeys(ids))} cannot be planned" for reason, ids in reasons.items()]


def _means_notes(case: Case, budget: int | None) -> list[str]:
    out = []
    if budget is None:
        out.append("no budget is given: the plan may spend any amount")
    if case.means.saving_per_month is not None:
        out.append("a saving per month is noted; this plan spends the money in hand only")
    return out


def _reserves(steps: Sequence[OrderedStep], case: Case, prices: PriceTable) -> list[Reserve]:
    out = []
    chosen = {step.option.fix.id for step in steps}
    for step in steps:
        for watch in step.option.fix.watch:
            if watch.item is not None and watch.item in chosen:
                continue
            cost: int | None = 0
            if watch.item is not None:
                owned = case.owns.get(watch.item)
                need = watch.quantity - (owned.count if owned else 0)
                priced = prices.items.get(watch.item)
                packs = cheapest_packs(priced, need) if priced and need > 0 else None
                cost = 0 if need <= 0 else packs[1] if packs else None
            out.append(Reserve(step.option, watch, cost))
    return out


def verify_plan(
    ready: Prepared, choice: Choice, budget: int | None, minutes: int | None
) -> tuple[State, Bill]:
    """Apply, score and price a plan again, without the optimiser, and refuse it if anything differs.

    Parameters
    ----------
    ready : Prepared
        The case.
    choice : Choice
        What an engine answered.
    budget, minutes : int or None
        The limits.

    Returns
    -------
    state : State
        After the plan.
    bill : Bill
        What it costs.

    Raises
    ------
    DefectError
        Strain, cost, minutes or a rule do not hold.
    """
    options = ready.options_of(choice)
    after = state_with(ready.state, options)
    strain = score(after, ready.weights).total
    bill = bill_of(options, ready.case, ready.prices)
    wrong = []
    claimed = choice.value + ready.model.fixed_strain
    if strain != claimed:
        wrong.append(f"strain {strain} scored again, {claimed} claimed")
    if bill.total != choice.cost or bill.missing:
        wrong.append(f"cost {bill.total} priced again, {choice.cost} claimed; not to be had: {bill.missing}")
    if minutes_of(options) != choice.minutes:
        wrong.append(f"minutes {minutes_of(options)} added again, {choice.minutes} claimed")
    if budget is not None and bill.total > budget:
        wrong.append(f"cost {bill.total} over the limit {budget}")
    if minutes is not None and choice.minutes > minutes:
        wrong.append(f"minutes {choice.minutes} over the limit {minutes}")
    wrong += [
        f"{b.fix.id}: {b.reason}" for b in breaches(ready.state, after, [(o.fix, o.owner) for o in options])
    ]
    if wrong:
        raise DefectError("the plan failed its check: " + "; ".join(wrong))
    return after, bill


def _hindered(ready: Prepared, budget: int | None, minutes: int | None, choice: Choice) -> NoPlan:
    if choice.status == "not_proven":
        return NoPlan("nothing was found in the time allowed", "allow more time")
    for name, money, time in (
        ("money", None, minutes),
        ("time", budget, None),
        ("money and time", None, None),
    ):
        other = solve(replace(ready.problem(money, time), first="cost"))
        if other.found:
            cost = f"{format_amount(other.cost, ready.prices.currency)} {ready.prices.currency}"
            return NoPlan(
                f"{name} does not suffice for what must be in the plan",
                f"{cost} and {other.minutes} minutes would",
            )
    return NoPlan("what must be in the plan cannot go together here", "leave out one of the musts")


def _musts(
    names: Sequence[str],
    offers: Offers,
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    faults: list[Fault],
) -> list[list[OptionSpec]]:
    """Options that satisfy each must: all sizes where the name gives none."""
    out = []
    for text in names:
        name = parse_fix_name(text)
        found = matching(name, offers) if name is not None else []
        owners = {option.owner for option in found}
        if len(owners) == 1:
            out.append(found)
        else:
            faults.extend(select([text], offers, case, prices, catalog.by_id, "must").faults)
    return out
