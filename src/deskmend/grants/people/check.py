"""What people are given: plans applied, scored and priced again without the optimiser, many at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from deskmend.errors import DefectError
from deskmend.grants.people.columns import Column
from deskmend.grants.people.offered import OfferedPlans, PlanBasis
from deskmend.grants.people.plans import PersonPlans
from deskmend.intake.applicants import ApplicantRow
from deskmend.intake.case import Case
from deskmend.intake.catalog_records import Urgency
from deskmend.intake.reading.text_file import parse_fix_name
from deskmend.measures import Micro, Minutes
from deskmend.planning.bill import Bill, bill_of, minutes_of
from deskmend.planning.draws import LEAST_SHARE_TOLD
from deskmend.planning.inputs import most_urgent
from deskmend.planning.model.cohorts import carrier_name
from deskmend.planning.model.offers import KEEP, Offer, Offers, OptionSpec
from deskmend.planning.model.rules import breaches_of_many
from deskmend.planning.order import Outcomes, in_set_up_order, put_in_order
from deskmend.planning.plan_check import clashes
from deskmend.planning.score import strain_of_many
from deskmend.planning.selection import matching, state_with
from deskmend.risk.scores.day import score_of
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import PERSON, State

__all__ = ["Claim", "GivenPlan", "check_plans", "claim_of", "column_given"]


@dataclass(frozen=True)
class Claim:
    """What is said of a person's plan, and all that its check needs; no table and no engine is among it.

    - `row`: the person's row.
    - `case`: what the row comes to under the fund's rules: what was given before is owned, and discomfort is
      left out unless it counts.
    - `state`: without the fixes.
    - `offers`: what the person can choose.
    - `weights`: region weight by region.
    - `column`: the plan; its ``choice`` pairs decisions with the names of their options. No pairs: nothing is
      done.
    - `free_strain`: strain with free fixes only [millionths of h/day].
    """

    row: ApplicantRow
    case: Case
    state: State
    offers: Offers
    weights: Mapping[str, float]
    column: Column
    free_strain: Micro


@dataclass(frozen=True)
class GivenPlan:
    """What one person is given, applied, scored and priced again without the optimiser.

    - `id`: who.
    - `options`: fixes in set-up order.
    - `steps`: the same in the order of doing, where that was asked; else empty.
    - `today`: how many of the steps can be done at once: they cost nothing, and none would be better
      otherwise until the things that are bought are there.
    - `together`: groups of the steps each of which serves only with another of its group, where steps were
      asked.
    - `state`: without the fixes.
    - `bill`: what is bought, at listed prices.
    - `strain_before`, `strain_free`, `strain_after`: now, with free fixes only, and with the plan [millionths
      of h/day].
    - `minutes`: work [min].
    - `urgency`: of the most urgent warning sign that the person has; which sign is nobody's business here.
    """

    id: str
    options: tuple[OptionSpec, ...]
    steps: tuple[OptionSpec, ...]
    today: int
    together: tuple[tuple[OptionSpec, ...], ...]
    state: State
    bill: Bill
    strain_before: Micro
    strain_free: Micro
    strain_after: Micro
    minutes: Minutes
    urgency: Urgency | None

    @property
    def state_after(self) -> State:
        """The workplace with the plan."""
        return state_with(self.state, self.options)


def column_given(column: Column, plans: PersonPlans | OfferedPlans) -> Column:
    """The plan itself, or the free one where the engine was broken off before it had asked for plans."""
    return plans.free if column.choice is None and not column.packs else column


def claim_of(plans: PersonPlans, column: Column) -> Claim:
    """What the check of a person's plan needs."""
    column, one = column_given(column, plans), plans.member
    return Claim(plans.row, plans.case, one.state, one.offers, one.weights, column, plans.free.strain)


def check_plans(claims: Sequence[Claim], basis: PlanBasis, steps: bool) -> list[GivenPlan]:
    """Check the plans of many people again without the optimiser, and say what each is.

    Nobody's answer depends on who else is among them. Where `steps` is true, each person's fixes are put in
    the order of doing as well, with what each costs. Raises DefectError where somebody's strain, packs,
    minutes, score, wishes or rules do not hold; it names the first one.
    """
    taken = [in_set_up_order(_options(claim)) for claim in claims]
    before = [claim.state for claim in claims]
    after = [_after(claim, options) for claim, options in zip(claims, taken, strict=True)]
    weights = [claim.weights for claim in claims]
    strains = strain_of_many([*before, *after], [*weights, *weights])
    broken = breaches_of_many(before, after, [[(o.fix, o.owner) for o in options] for options in taken])
    given = []
    for number, (claim, options) in enumerate(zip(claims, taken, strict=True)):
        strain, bill, minutes = (
            strains[len(claims) + number],
            bill_of(options, claim.case, basis.listed),
            minutes_of(options),
        )
        kept = basis.kept
        score = None if kept is None else score_of(after[number], kept.name)
        wrong = [
            *_wrong_figures(claim, strain, bill, score),
            *_wrong_limits(claim, options, bill, minutes),
            *(f"{breach.fix.id}: {breach.reason}" for breach in broken[number]),
            *clashes(options),
        ]
        if wrong:
            raise DefectError(f"{claim.row.id}: {'; '.join(wrong)}")
        given.append(
            GivenPlan(
                claim.row.id,
                options,
                *(_in_order(claim, options, basis) if steps else ((), 0)),
                _together(claim, options, strains[number]) if steps else (),
                claim.state,
                bill,
                strains[number],
                claim.free_strain,
                strain,
                minutes,
                most_urgent(claim.case, basis.catalog),
            )
        )
    return given


def _pairs(claim: Claim) -> tuple[tuple[str, str], ...]:
    choice = claim.column.choice
    return choice if isinstance(choice, tuple) else ()


def _options(claim: Claim) -> list[OptionSpec]:
    """Options that a claim names, in catalog order; whatever is not offered is a defect."""
    pairs = _pairs(claim)
    taken = dict(pairs)
    if len(taken) != len(pairs):
        raise DefectError(f"{claim.row.id}: a decision is settled twice in {pairs}")
    out = []
    for offer in claim.offers.decisions:
        name = taken.pop(offer.name, KEEP)
        if name == KEEP:
            continue
        found = [option for option in offer.options if option.name == name]
        if len(found) != 1:
            raise DefectError(f"{claim.row.id}: {offer.name} offers no {name}")
        out += found
    # Whether a thing that serves several owners is had is a decision of its own; it follows from the others.
    carriers = {carrier_name(o.fix.id) for o in claim.offers.options() if o.fix.carried} if taken else set()
    if strangers := [name for name in taken if name not in carriers]:
        raise DefectError(f"{claim.row.id}: no decision is called {', '.join(strangers)}")
    return out


def _after(claim: Claim, options: Sequence[OptionSpec]) -> State:
    try:
        return state_with(claim.state, options)
    except TwoSets as clash:
        raise DefectError(f"{claim.row.id}: {clash}") from clash


def _wrong_figures(claim: Claim, strain: int, bill: Bill, score: int | None) -> Iterator[str]:
    packs = tuple((line.item, line.packs) for line in bill.lines)
    column = claim.column
    if (strain, packs, score) != (column.strain, column.packs, column.score):
        yield (
            f"{strain} with {packs}, score {score} worked out again, "
            f"{column.strain} with {column.packs}, score {column.score} claimed"
        )


def _wrong_limits(claim: Claim, options: Sequence[OptionSpec], bill: Bill, minutes: int) -> Iterator[str]:
    most, wishes = claim.case.means.minutes, claim.case.wishes
    if bill.missing:
        yield f"not to be had: {bill.missing}"
    if most is not None and minutes > most:
        yield f"minutes {minutes} over the limit {most}"
    for wish in wishes.never:
        if _named(wish, options):
            yield f"{wish} is in the plan and must not be"
    fixed = claim.row.decided.fixed if claim.row.decided is not None and claim.column.packs else ()
    for wish in (*wishes.must, *fixed):
        if not _named(wish, options):
            yield f"{wish} is not in the plan and must be"


def _named(wish: str, options: Sequence[OptionSpec]) -> list[OptionSpec]:
    """Options that a wish stands for."""
    name = parse_fix_name(wish)
    return [] if name is None else matching(name, Offers((Offer("", PERSON, tuple(options)),), ()))


def _in_order(
    claim: Claim, options: Sequence[OptionSpec], basis: PlanBasis
) -> tuple[tuple[OptionSpec, ...], int]:
    """Fixes in the order of doing, and how many of them can be done today."""
    done = put_in_order(options, claim.case, basis.listed, Outcomes(claim.state, dict(claim.weights)))
    paid = next((number for number, step in enumerate(done) if step.cost > 0), len(done))
    today = [step.option for step in done[:paid]]
    if paid < len(done):
        while waits := [one for one in today if _better_for_now(one, today, claim, basis)]:
            today.remove(waits[0])
    # what is bought comes all at once, so the rest is set up as a whole
    return (*today, *in_set_up_order(one for one in options if one not in today)), len(today)


def _together(claim: Claim, options: Sequence[OptionSpec], now: Micro) -> tuple[tuple[OptionSpec, ...], ...]:
    """Groups of fixes that serve only together, at the sizes they have.

    Two of them do where, without the one, the other may not stand or takes nothing off that is worth telling,
    and so the other way round.
    """
    places = range(len(options))
    without = [{place} for place in places] + [{one, other} for one, other in combinations(places, 2)]
    plans = [[option for place, option in enumerate(options) if place not in gone] for gone in without]
    states = [state_with(claim.state, plan) for plan in plans]
    strains = strain_of_many(states, [claim.weights] * len(states))
    broken = breaches_of_many(
        [claim.state] * len(states), states, [[(o.fix, o.owner) for o in plan] for plan in plans]
    )
    left = {
        frozenset(gone): None if breach else strain
        for gone, strain, breach in zip(without, strains, broken, strict=True)
    }

    def falls_with(other: int, one: int) -> bool:
        alone, both = left[frozenset({one})], left[frozenset({one, other})]
        return both is not None and (alone is None or LEAST_SHARE_TOLD * (both - alone) <= now)

    groups = [{place} for place in places]
    for one, other in combinations(places, 2):
        if falls_with(one, other) and falls_with(other, one):
            joined = [group for group in groups if group & {one, other}]
            groups = [*(group for group in groups if group not in joined), set().union(*joined)]
    return tuple(tuple(options[place] for place in sorted(group)) for group in groups if len(group) > 1)


def _better_for_now(option: OptionSpec, today: Sequence[OptionSpec], claim: Claim, basis: PlanBasis) -> bool:
    """Whether leaving a fix, or a rival of it that costs nothing, leaves less among what is done today."""
    rivals = next(offer.options for offer in claim.offers.decisions if option in offer.options)
    others = [one for one in today if one is not option]
    tried = [others, *([*others, rival] for rival in rivals if rival is not option)]
    free = [
        plan
        for plan in tried
        if not (bill := bill_of(plan, claim.case, basis.listed)).total and not bill.missing
    ]
    sound = [plan for plan in free if not clashes(plan)]
    states = [state_with(claim.state, plan) for plan in (today, *sound)]
    now, *instead = strain_of_many(states, [claim.weights] * len(states))
    broken = breaches_of_many(
        [claim.state] * len(sound), states[1:], [[(o.fix, o.owner) for o in plan] for plan in sound]
    )
    return any(strain < now and not breach for strain, breach in zip(instead, broken, strict=True))
