"""Every budget at which the best plan changes: what each buys, what changes, and where more buys little.

As plain text, as a document of format ``deskmend-comparison/1``, and as the web page's table of all budgets
and its lines on what more money would buy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

from deskmend.errors import DefectError
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.text_file import parse_fix_name
from deskmend.language import tr, trn
from deskmend.measures import Micro, Minor, Minutes, currencies
from deskmend.planning.bill import cheapest_packs
from deskmend.planning.budgets import AtBudget, Comparison, PlanChange, Resized, Stop, change_between
from deskmend.planning.frontier import CheckedPlan
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan import BudgetPlans, ByHand, Plan
from deskmend.report.documents import (
    bought_json,
    money_json,
    names_json,
    regions_json,
    strain_json,
)
from deskmend.report.layout import Fold, Page
from deskmend.report.scores import scores_json
from deskmend.report.steps import buys_text, size_text, step_title
from deskmend.report.words import (
    add_cautions,
    add_signs,
    amount_text,
    case_name,
    decimal_text,
    minutes_text,
    money_text,
    other_warnings,
    region_word,
    strain_text,
    total_text,
)
from deskmend.risk.scores.day import DayScores, methods
from deskmend.workstation.state import State

if TYPE_CHECKING:
    from deskmend.report.case_documents import (
        AtRecord,
        ChangeRecord,
        ComparisonDocument,
        RungRecord,
        StopRecord,
    )

__all__ = [
    "BudgetRow",
    "budget_rows",
    "by_hand_texts",
    "comparison_document",
    "comparison_text",
    "dearer_plans",
    "nothing_helps_text",
    "stop_json",
    "stop_of_all_text",
    "stop_text",
]

SIDE_BY_SIDE = 4
"""Most budgets side by side in one table."""


def _climb(comparison: Comparison) -> Iterator[tuple[CheckedPlan | None, CheckedPlan, PlanChange]]:
    """Each plan from the cheapest up, with the one before it and what changes."""
    for last, rung in zip((None, *comparison.rungs), comparison.rungs, strict=False):
        yield last, rung, change_between(last, rung)


def comparison_document(comparison: Comparison) -> ComparisonDocument:
    """A comparison: money as decimal text, strain [h/day] with six decimals.

    ``rungs`` are the plans that differ, cost strictly rising; ``at`` tells for each budget asked for which
    plan is best within it.
    """
    currency = comparison.currency
    knee = comparison.knee
    return {
        "format": "deskmend-comparison/1",
        "case": case_name(comparison.case),
        "currency": currency,
        "strain_before": strain_json(comparison.before.total),
        "by_region_before": regions_json(comparison.before.by_region),
        "scores_before": scores_json(comparison.scores_before),
        "rungs": [
            _rung_json(rung, currency) | {"change": _change_json(change)}
            for _, rung, change in _climb(comparison)
        ],
        "at": [_at_json(one, currency) for one in comparison.at],
        "knee": None if knee is None else money_json(knee.cost, currency),
        "proven": comparison.proven,
        "warnings": list(comparison.warnings),
    }


def _rung_json(rung: CheckedPlan, currency: str) -> RungRecord:
    return {
        "cost": money_json(rung.cost, currency),
        "strain": strain_json(rung.strain),
        "minutes": rung.minutes,
        "fixes": [option.fix.id for option in rung.options],
        "with": names_json(rung.options),
        "shopping": bought_json(rung.bill.lines, currency),
        "by_region": regions_json(rung.score.by_region),
        "scores": scores_json(rung.scores),
        "proven": rung.choice.proven,
    }


def _change_json(change: PlanChange) -> ChangeRecord:
    return {
        "enters": names_json(change.enters),
        "leaves": names_json(change.leaves),
        "resized": [{"from": one.before.with_name, "to": one.after.with_name} for one in change.resized],
    }


def _at_json(one: AtBudget, currency: str) -> AtRecord:
    found = one.plan
    return {
        "budget": money_json(one.budget, currency),
        "cost": None if found is None else money_json(found.cost, currency),
        "strain": None if found is None else strain_json(found.strain),
        "minutes": None if found is None else found.minutes,
        "with": None if found is None else names_json(found.options),
    }


def comparison_text(comparison: Comparison, catalog: Catalog) -> str:
    """A comparison for the person and for an assessor, in short words."""
    page = Page()
    add_signs(page, comparison.case, catalog)
    page.paragraph(tr("What each budget buys: {case}", case=case_name(comparison.case)))
    _summary(page, comparison)
    if comparison.at:
        _side_by_side(page, comparison)
    elif any(rung.options for rung in comparison.rungs):
        _ladder(page, comparison)
        _knee(page, comparison)
    if any(rung.options for rung in comparison.rungs):
        _changes(page, comparison, catalog)
    _proof(page, comparison)
    add_cautions(page)
    remarks = other_warnings(comparison.warnings, comparison.case, catalog)
    if remarks:
        page.heading(tr("For the assessor"))
        page.points(remarks)
    return page.text()


def _summary(page: Page, comparison: Comparison) -> None:
    page.blank()
    now = strain_text(comparison.before.total)
    least, most = comparison.rungs[0], comparison.rungs[-1]
    invented = comparison.every.ready.prices.invented
    cheap, dear = (total_text(rung.cost, comparison.currency, invented) for rung in (least, most))
    if not comparison.at and not any(rung.options for rung in comparison.rungs):
        page.paragraph(
            tr("Strain now: {now} strain-hours a day.", now=now)
            + " "
            + nothing_helps_text(comparison.minutes_limit)
        )
    elif least is most:
        page.paragraph(
            tr(
                "Strain now: {now} strain-hours a day. For {cheap} it comes down to {more}.",
                now=now,
                cheap=cheap,
                more=strain_text(least.strain),
            )
        )
    else:
        page.paragraph(
            tr(
                "Strain now: {now} strain-hours a day. For {cheap} it comes down to {more}, for {dear} to "
                "{less}.",
                now=now,
                cheap=cheap,
                more=strain_text(least.strain),
                dear=dear,
                less=strain_text(most.strain),
            )
        )
    if not comparison.at and any(rung.options for rung in comparison.rungs):
        page.paragraph(no_more_text(comparison))
    page.paragraph(
        tr(
            "One strain-hour is one hour a day spent clearly outside what is comfortable for one part of the "
            "body. It is a way to compare, not a measure of pain. The case's own budget is not looked at."
        )
    )


def no_more_text(comparison: Comparison) -> str:
    """That no more money takes more off, or what the best choice of all would leave that cannot be told."""
    best, last = comparison.every.frontier[-1], comparison.rungs[-1]
    if best.strain >= last.strain:
        return tr("No more money takes more off, with the skill, tools and time of this case.")
    return tr(
        "No more money takes more off by a difference that can be told, with the skill, tools and time of "
        "this case. The best choice of all leaves {strain}, for {cost}.",
        strain=strain_text(best.strain, 2),
        cost=money_text(best.cost, comparison.currency),
    )


def _ladder(page: Page, comparison: Comparison) -> None:
    page.heading(tr("Every budget at which the best plan changes"))
    more = tr("more, for 1 {currency} more", currency=comparison.currency)
    rows = [[tr("from"), tr("strain left"), tr("taken off"), more, tr("work")]]
    for last, rung, _ in _climb(comparison):
        rows.append(
            [
                amount_text(rung.cost, comparison.currency),
                strain_text(rung.strain, 2),
                strain_text(comparison.before.total - rung.strain, 2),
                "" if last is None else strain_text(_rate(last, rung, comparison.currency), 2),
                minutes_text(rung.minutes),
            ]
        )
    page.table(rows, right=(0, 1, 2, 3), head=True)
    page.paragraph(tr("Between two lines the plan of the upper one stays the best."), 2)


def _rate(before: CheckedPlan, after: CheckedPlan, currency: str) -> Micro:
    """Strain taken off for one unit of money more."""
    return _rate_between(before.cost, before.strain, after, currency)


def _rate_between(cost: Minor, strain: Micro, after: CheckedPlan, currency: str) -> Micro:
    gain = Decimal(strain - after.strain) * 10 ** currencies()[currency]
    return int((gain / (after.cost - cost)).to_integral_value(ROUND_HALF_UP))


def nothing_helps_text(minutes: Minutes | None) -> str:
    """That no money changes anything that can be told, within so much work."""
    if minutes is None:
        return tr("Nothing on offer, at any price, makes a difference that can be told.")
    return tr(
        "Nothing on offer, at any price, makes a difference that can be told within {minutes} of work.",
        minutes=minutes_text(minutes),
    )


def stop_text(plan: Plan) -> str:
    """Where money begins to buy less, and by how much; empty where that stands out nowhere.

    A plan that costs less than that is told what more money would do up to there; where nothing stands out,
    what the next plan would do.
    """
    stop, currency = plan.stop, plan.currency
    if stop is not None and plan.cost < stop.plan.cost and plan.after.total > stop.plan.strain:
        here = _rate_between(plan.cost, plan.after.total, stop.plan, currency)
        return tr(
            "More money would still help: on the way from this plan to the one for {cost}, 1 {currency} more "
            "takes off {here} strain-hours a day, and {beyond} from there on.",
            cost=money_text(stop.plan.cost, currency),
            currency=currency,
            here=strain_text(here, 2),
            beyond=strain_text(_rate(stop.plan, stop.last, currency), 2),
        )
    if stop is None and plan.dearer is not None and plan.schedule is None:
        return tr(
            "More money would still help: the next plan costs {cost} and takes off {gain} strain-hours a day "
            "more.",
            cost=money_text(plan.dearer.cost, currency),
            gain=strain_text(plan.after.total - plan.dearer.strain, 2),
        )
    return stop_of_all_text(stop, currency)


def stop_of_all_text(stop: Stop | None, currency: str) -> str:
    """The same whatever plan is looked at."""
    if stop is None:
        return ""
    return tr(
        "Money begins to buy less at {cost}: up to there 1 {currency} takes off {until} strain-hours a "
        "day, from there on {beyond}.",
        cost=money_text(stop.plan.cost, currency),
        currency=currency,
        until=strain_text(_rate(stop.first, stop.plan, currency), 2),
        beyond=strain_text(_rate(stop.plan, stop.last, currency), 2),
    )


def by_hand_texts(by_hand: ByHand, plan: Plan, catalog: Catalog) -> list[str]:
    """That a plan was changed by hand, and what that costs against the best choice without it."""
    money, left = money_text(plan.cost, plan.currency), strain_text(by_hand.left, 2)
    if by_hand.fixes:
        told = tr(
            "Put together by hand: exactly these steps. They leave {left} and cost {money}.",
            left=left,
            money=money,
        )
    else:
        wishes = [
            *(tr("with {fix}", fix=_fix_title(fix, catalog)) for fix in by_hand.must),
            *(tr("without {fix}", fix=_fix_title(fix, catalog)) for fix in by_hand.never),
        ]
        told = tr(
            "Changed by hand: {wishes}. The best choice that keeps to it leaves {left}.",
            wishes=", ".join(wishes),
            left=left,
        )
    return [f"{told} {_against_the_best(by_hand)}", *_over_limits(by_hand, plan)]


def _fix_title(name: str, catalog: Catalog) -> str:
    """What a fix is called that somebody named as ``kitchen.screen_books=105``."""
    parsed = parse_fix_name(name)
    fixes = {one.id.lower(): one for one in catalog.fixes}
    if parsed is None or parsed.fix.lower() not in fixes:
        raise DefectError(f"unchecked name {name}")
    title = tr(fixes[parsed.fix.lower()].title)
    return f"{title}: {parsed.value}" if parsed.value else title


def _against_the_best(by_hand: ByHand) -> str:
    if by_hand.best is None:
        return tr("Without the change there is no plan within the money and time.")
    less = by_hand.left - by_hand.best
    if less > 0:
        return tr(
            "Without the change the best for the same money leaves {best}: the change costs {less} "
            "strain-hours a day.",
            best=strain_text(by_hand.best, 2),
            less=strain_text(less, 2),
        )
    return tr("For the same money no choice on offer leaves less: the change costs nothing.")


def _over_limits(by_hand: ByHand, plan: Plan) -> list[str]:
    """Where a set of fixes goes beyond the means of the case, which nothing else held it to."""
    out = []
    means = plan.case.means
    if by_hand.fixes and plan.budget is not None and plan.cost > plan.budget:
        more = money_text(plan.cost - plan.budget, plan.currency)
        out.append(tr("That is {more} more than is in hand.", more=more))
    if by_hand.fixes and means.minutes is not None and plan.minutes > means.minutes:
        over = minutes_text(plan.minutes - means.minutes)
        out.append(tr("The work takes {over} more than there is time for.", over=over))
    return out


def stop_json(stop: Stop | None, currency: str) -> StopRecord | None:
    """The same as data: strain [h/day] left there, and taken off for one unit of money up to there."""
    if stop is None:
        return None
    return {
        "cost": money_json(stop.plan.cost, currency),
        "strain": strain_json(stop.plan.strain),
        "up_to_there": strain_json(_rate(stop.first, stop.plan, currency)),
        "mean_of_all": strain_json(_rate(stop.first, stop.last, currency)),
    }


def _knee(page: Page, comparison: Comparison) -> None:
    page.heading(tr("Where more money begins to buy less"))
    first, last, knee = comparison.rungs[0], comparison.rungs[-1], comparison.knee
    if knee is None:
        page.paragraph(
            tr("No budget stands out: no plan lies under the straight line from the first to the last.")
        )
        return
    currency = comparison.currency
    page.paragraph(
        tr(
            "At {cost}. Up to there, 1 {currency} takes off {until} strain-hours a day; from there on "
            "{beyond}. In the mean of the whole way it is {mean}. It is the plan furthest under the straight "
            "line from the first plan to the last. It advises nothing: what comes next may be worth its "
            "price.",
            cost=money_text(knee.cost, currency),
            currency=currency,
            until=strain_text(_rate(first, knee, currency), 2),
            beyond=strain_text(_rate(knee, last, currency), 2),
            mean=strain_text(_rate(first, last, currency), 2),
        )
    )


def _changes(page: Page, comparison: Comparison, catalog: Catalog) -> None:
    page.heading(tr("What changes from one to the next"))
    state = comparison.state_before
    for _, rung, change in _climb(comparison):
        page.blank()
        page.paragraph(
            tr(
                "{cost}, strain {strain} ({purchases})",
                cost=money_text(rung.cost, comparison.currency),
                strain=strain_text(rung.strain, 2),
                purchases=buys_text(rung.bill.lines, comparison.currency, catalog),
            )
        )
        page.points(_titles(change.enters, state), 2, "+")
        page.points(_resized(change.resized, state), 2, "~")
        page.points(_titles(change.leaves, state), 2, "-")
    page.blank()
    page.paragraph(tr("+ comes in, - is dropped or comes to lie unused, ~ is set anew."), 2)


def _titles(options: Sequence[OptionSpec], state: State) -> tuple[str, ...]:
    return tuple(step_title(option, state) for option in options)


def _resized(changes: Sequence[Resized], state: State) -> tuple[str, ...]:
    return tuple(
        tr("{step}, until here {size}", step=step_title(one.after, state), size=size_text(one.before))
        for one in changes
    )


def _side_by_side(page: Page, comparison: Comparison) -> None:
    currency, now = comparison.currency, comparison.before
    for start in range(0, len(comparison.at), SIDE_BY_SIDE):
        part = comparison.at[start : start + SIDE_BY_SIDE]
        page.heading(tr("Further budgets") if start else tr("Side by side"))
        plans = [one.plan for one in part]
        none = tr("none")
        rows = [
            [tr("budget"), tr("now"), *(amount_text(one.budget, currency) for one in part)],
            [tr("cost"), "", *_each(plans, none, lambda plan: amount_text(plan.cost, currency))],
            [tr("work"), "", *_each(plans, none, lambda plan: minutes_text(plan.minutes))],
            [
                tr("strain left, all"),
                strain_text(now.total, 2),
                *_each(plans, "", lambda plan: strain_text(plan.strain, 2)),
            ],
        ]
        for region, strain in now.by_region.items():
            then = ["" if plan is None else strain_text(plan.score.by_region[region], 2) for plan in plans]
            rows.append([f"  {region_word(region)}", strain_text(strain, 2), *then])
        before = comparison.scores_before
        scores = [None if plan is None else plan.scores for plan in plans]
        for method in methods():
            rows.append([tr(method.worst), *(_number(one, method.name) for one in (before, *scores))])
        page.table(rows, right=tuple(range(1, len(rows[0]))), head=True)
    if any(one.plan is None for one in comparison.at):
        page.paragraph(tr("none: what must be in the plan is not to be had for that."), 2)


def _each(plans: Sequence[CheckedPlan | None], none: str, shown: Callable[[CheckedPlan], str]) -> list[str]:
    return [none if plan is None else shown(plan) for plan in plans]


def _number(scores: DayScores | None, name: str) -> str:
    value = None if scores is None else scores.score(name)
    return tr("none") if value is None else decimal_text(value, 1)


def _proof(page: Page, comparison: Comparison) -> None:
    page.heading(tr("How sure this is"))
    limit = comparison.minutes_limit
    within = "" if limit is None else tr(" with {minutes} minutes of work", minutes=limit)
    if comparison.proven and comparison.every_gain:
        page.paragraph(
            tr(
                "Proven: at no budget is there a plan{within} that leaves less strain than the one shown. "
                "Strain, cost and every rule of each plan were checked again without the optimiser.",
                within=within,
            )
        )
    elif comparison.proven:
        page.paragraph(
            tr(
                "Proven: at no budget is there a plan{within} that leaves less strain than the one shown by "
                "a difference that can be told. Strain, cost and every rule of each plan were checked again "
                "without the optimiser.",
                within=within,
            )
        )
    else:
        page.paragraph(tr("Not proven best at every budget. Each plan was checked again and holds."))


@dataclass(frozen=True)
class BudgetRow:
    """One budget in the table of all budgets."""

    money: str
    left: str
    taken: str
    work: str
    comes: tuple[str, ...]
    goes: tuple[str, ...]
    anew: tuple[str, ...]


def budget_rows(comparison: Comparison) -> list[BudgetRow]:
    """Every budget at which the plan changes, with what changes."""
    state = comparison.state_before
    return [
        BudgetRow(
            money_text(rung.cost, comparison.currency),
            strain_text(rung.strain),
            strain_text(comparison.before.total - rung.strain),
            minutes_text(rung.minutes),
            _titles(change.enters, state),
            _titles(change.leaves, state),
            _resized(change.resized, state),
        )
        for _, rung, change in _climb(comparison)
    ]


def dearer_plans(plans: BudgetPlans, number: int) -> list[Fold]:
    """What the next purchase is after one budget, and how long saving for it takes."""
    rungs, currency = plans.comparison.rungs, plans.comparison.currency
    if number + 1 >= len(rungs):
        if plans.comparison.at:
            return [Fold(tr("No dearer plan was asked for."))]
        if not any(rung.options for rung in rungs):
            return [Fold(nothing_helps_text(plans.comparison.minutes_limit))]
        return [Fold(no_more_text(plans.comparison))]
    here, then = rungs[number], rungs[number + 1]
    change = change_between(here, then)
    state = plans.comparison.state_before
    anew = [one.after for one in change.resized]
    details = (
        *(tr("New: {thing}.", thing=title) for title in _titles(change.enters, state)),
        *(tr("Set anew: {thing}.", thing=title) for title in _titles(anew, state)),
        *(tr("No longer used: {thing}.", thing=title) for title in _titles(change.leaves, state)),
    )
    line = tr(
        "Next to buy: a plan for {money} in all. It takes off {gain} more a day.",
        money=money_text(then.cost, currency),
        gain=strain_text(here.strain - then.strain, 2),
    )
    out = [
        Fold(
            f"{line} {_new_money_text(here, then, plans.every.ready.prices)}",
            details,
        )
    ]
    waiting = _waiting(plans, number)
    return out if waiting is None else [*out, waiting]


def _new_money(here: CheckedPlan, then: CheckedPlan, prices: PriceTable) -> Minor:
    """What a dearer plan takes from who has bought all that one plan buys, each further pack at its price."""
    had = {line.item: line.packs for line in here.bill.lines}
    out = 0
    for line in then.bill.lines:
        more = line.packs - had.get(line.item, 0)
        priced = prices.items[line.item]
        packs = cheapest_packs(priced, more * priced.pack) if more > 0 else None
        out += packs[1] if packs else 0
    return out


def _new_money_text(here: CheckedPlan, then: CheckedPlan, prices: PriceTable) -> str:
    """The same, and whether what is bought for the one plan is used in the other."""
    wanted = {line.item: line.packs for line in then.bill.lines}
    idle = [line for line in here.bill.lines if line.packs > wanted.get(line.item, 0)]
    new = money_text(_new_money(here, then, prices), prices.currency)
    if not here.bill.lines:
        return tr("It takes {new} of new money.", new=new)
    if not idle:
        return tr("It builds on what this one buys, for {new} of new money.", new=new)
    if len(idle) == len(here.bill.lines):
        return tr("It uses nothing that this one buys: it takes {new} of new money.", new=new)
    return tr("It does not use all that this one buys: it takes {new} of new money.", new=new)


def _waiting(plans: BudgetPlans, number: int) -> Fold | None:
    """How many months of saving each dearer plan takes, from the money in hand."""
    if not plans.saving:
        return None
    currency, saving = plans.comparison.currency, plans.saving
    in_hand = plans.budget or 0
    months = [
        (rung, max(0, -(-(rung.cost - in_hand) // saving))) for rung in plans.comparison.rungs[number + 1 :]
    ]
    each = money_text(saving, currency)
    if months[0][1] == 0:
        line = tr("You have the money for it now.")
    else:
        line = trn(
            "If you save {each} a month, you can pay for it after {count} month.",
            "If you save {each} a month, you can pay for it after {count} months.",
            months[0][1],
            each=each,
        )
    return Fold(line, tuple(_waited(count, rung, currency) for rung, count in months))


def _waited(months: int, rung: CheckedPlan, currency: str) -> str:
    """From when on there is the money for a plan, and what is left then."""
    money, left = money_text(rung.cost, currency), strain_text(rung.strain)
    if not months:
        return tr("{money}: at once; strain left {left}", money=money, left=left)
    return trn(
        "{money}: after {count} month; strain left {left}",
        "{money}: after {count} months; strain left {left}",
        months,
        money=money,
        left=left,
    )
