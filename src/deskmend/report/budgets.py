"""What more money buys: the next purchase, how long saving for it takes, and all budgets in one table.

A comparison of budgets as one JSON document, format ``deskmend-comparison/1``.

A comparison of budgets as plain text: what each budget buys, what changes, and where more buys little.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.language import tr, trn
from deskmend.measures import currencies, format_amount
from deskmend.planning.budgets import AtBudget, Comparison, PlanChange, Rung, change_between
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan import BudgetPlans
from deskmend.report.afterwards import add_cautions, add_signs
from deskmend.report.json_text import case_name
from deskmend.report.layout import Page
from deskmend.report.steps import size_text, step_title
from deskmend.report.words import (
    amount_text,
    decimal_text,
    minutes_text,
    money_text,
    quantity_json,
    region_word,
    strain_json,
    strain_text,
)
from deskmend.risk.scores.day import DayScores

__all__ = ["BudgetRow", "Fold", "budget_rows", "comparison_document", "comparison_text", "more_money"]

Document = dict[str, Any]


def comparison_document(comparison: Comparison) -> Document:
    """Write a comparison as a document.

    Parameters
    ----------
    comparison : Comparison
        The comparison.

    Returns
    -------
    dict
        Money as decimal text, strain [h/day] with six decimals. ``rungs`` are the plans that differ, cost
        strictly rising; ``at`` tells for each budget asked for which plan is best within it.
    """
    currency = comparison.currency
    rungs = []
    last: Rung | None = None
    for rung in comparison.rungs:
        rungs.append(_rung(rung, currency) | {"change": _change(change_between(last, rung))})
        last = rung
    knee = comparison.knee
    return {
        "format": "deskmend-comparison/1",
        "case": case_name(comparison.case),
        "currency": currency,
        "strain_before": strain_json(comparison.before.total),
        "by_region_before": _regions(comparison.before.by_region),
        "scores_before": _scores(comparison.scores_before),
        "rungs": rungs,
        "at": [_at(one, currency) for one in comparison.at],
        "knee": None if knee is None else format_amount(knee.cost, currency),
        "proven": comparison.proven,
        "warnings": list(comparison.warnings),
    }


def _rung(rung: Rung, currency: str) -> Document:
    return {
        "cost": format_amount(rung.cost, currency),
        "strain": strain_json(rung.strain),
        "minutes": rung.minutes,
        "fixes": [option.fix.id for option in rung.options],
        "with": _names(rung.options),
        "shopping": [
            {"item": line.item, "packs": line.packs, "cost": format_amount(line.cost, currency)}
            for line in rung.bill.lines
        ],
        "by_region": _regions(rung.score.by_region),
        "scores": _scores(rung.scores),
        "proven": rung.choice.proven,
    }


def _names(options: tuple[OptionSpec, ...]) -> list[str]:
    return [option.with_name for option in options]


def _change(step: PlanChange) -> Document:
    return {
        "enters": _names(step.enters),
        "leaves": _names(step.leaves),
        "resized": [{"from": one.before.with_name, "to": one.after.with_name} for one in step.resized],
    }


def _regions(by_region: dict[str, int]) -> Document:
    return {region: strain_json(value) for region, value in by_region.items()}


def _scores(scores: DayScores) -> Document:
    return {
        "rula": scores.rula,
        "rosa": scores.rosa,
        "rula_mean": quantity_json(scores.rula_mean),
        "rosa_mean": quantity_json(scores.rosa_mean),
    }


def _at(one: AtBudget, currency: str) -> Document:
    found = one.rung
    return {
        "budget": format_amount(one.budget, currency),
        "cost": None if found is None else format_amount(found.cost, currency),
        "strain": None if found is None else strain_json(found.strain),
        "minutes": None if found is None else found.minutes,
        "with": None if found is None else _names(found.options),
    }


COLUMNS = 6
"""Most budgets side by side in one table."""


def comparison_text(comparison: Comparison, catalog: Catalog) -> str:
    """Write a comparison for the person and for an assessor.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    catalog : Catalog
        For titles and warning signs.

    Returns
    -------
    str
        At most 100 characters a line; short words, no colours.
    """
    page = Page()
    page.paragraph(tr("What each budget buys: {case}", case=case_name(comparison.case)))
    signs = sign_warnings(comparison.case, catalog)
    add_signs(page, signs)
    _summary(page, comparison)
    if comparison.at:
        _side_by_side(page, comparison)
    else:
        _ladder(page, comparison)
        _knee(page, comparison)
    _changes(page, comparison, catalog)
    _proof(page, comparison)
    add_cautions(page)
    left = [warning for warning in comparison.warnings if warning not in signs]
    if left:
        page.heading(tr("For the assessor"))
        page.points(left)
    return page.text()


def _summary(page: Page, comparison: Comparison) -> None:
    page.blank()
    now = strain_text(comparison.before.total)
    least, most = comparison.rungs[0], comparison.rungs[-1]
    cheap, dear = (money_text(rung.cost, comparison.currency) for rung in (least, most))
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
    if not comparison.at:
        page.paragraph(tr("No more money takes more off, with the skill, tools and time of this case."))
    page.paragraph(
        tr(
            "One strain-hour is one hour a day spent clearly outside what is comfortable for one part of the "
            "body. It is a way to compare, not a measure of pain. The case's own budget is not looked at."
        )
    )


def _ladder(page: Page, comparison: Comparison) -> None:
    page.heading(tr("Every budget at which the best plan changes"))
    more = tr("more, for 1 {currency} more", currency=comparison.currency)
    rows = [[tr("from"), tr("strain left"), tr("taken off"), more, tr("work")]]
    last: Rung | None = None
    for rung in comparison.rungs:
        rows.append(
            [
                amount_text(rung.cost, comparison.currency),
                strain_text(rung.strain, 2),
                strain_text(comparison.before.total - rung.strain, 2),
                "" if last is None else strain_text(_rate(last, rung, comparison.currency), 2),
                minutes_text(rung.minutes),
            ]
        )
        last = rung
    page.table(rows, right=(0, 1, 2, 3), head=True)
    page.paragraph(tr("Between two lines the plan of the upper one stays the best."), 2)


def _rate(before: Rung, after: Rung, currency: str) -> int:
    """Strain taken off for one unit of money more [millionths of h/day]."""
    gain = Decimal(before.strain - after.strain) * 10 ** currencies()[currency]
    return int((gain / (after.cost - before.cost)).to_integral_value(ROUND_HALF_UP))


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
    last: Rung | None = None
    for rung in comparison.rungs:
        page.blank()
        bought = [
            f"{line.packs} x {tr(catalog.items[line.item].title)}, "
            f"{money_text(line.cost, comparison.currency)}"
            for line in rung.bill.lines
        ]
        page.paragraph(
            tr(
                "{cost}, strain {strain} ({purchases})",
                cost=money_text(rung.cost, comparison.currency),
                strain=strain_text(rung.strain, 2),
                purchases=tr("buy {things}", things="; ".join(bought)) if bought else tr("nothing to buy"),
            )
        )
        step = change_between(last, rung)
        page.points([step_title(option, comparison.state_before) for option in step.enters], 2, "+")
        for one in step.resized:
            title = step_title(one.after, comparison.state_before)
            page.point("~", tr("{step}, until here {size}", step=title, size=size_text(one.before)), 2)
        page.points([step_title(option, comparison.state_before) for option in step.leaves], 2, "-")
        last = rung
    page.blank()
    page.paragraph(tr("+ comes in, - is dropped or comes to lie unused, ~ is set anew."), 2)


def _side_by_side(page: Page, comparison: Comparison) -> None:
    for start in range(0, len(comparison.at), COLUMNS):
        part = comparison.at[start : start + COLUMNS]
        page.heading(tr("Further budgets") if start else tr("Side by side"))
        plans = [one.rung for one in part]
        rows = [[tr("budget"), tr("now"), *(amount_text(one.budget, comparison.currency) for one in part)]]
        rows.append([tr("cost"), "", *(_money(plan, comparison.currency) for plan in plans)])
        rows.append([tr("work"), "", *(_nothing() if p is None else minutes_text(p.minutes) for p in plans)])
        rows.append(
            [tr("strain left, all"), *_strains([comparison.before.total], [_total(p) for p in plans])]
        )
        for region, value in comparison.before.by_region.items():
            then = [None if plan is None else plan.score.by_region[region] for plan in plans]
            rows.append([f"  {region_word(region)}", *_strains([value], then)])
        now = comparison.scores_before
        scores = [None if plan is None else plan.scores for plan in plans]
        for name, pick in ((tr("RULA, worst posture"), "rula"), (tr("ROSA, worst task"), "rosa")):
            rows.append([name, _number(now, pick), *(_number(one, pick) for one in scores)])
        page.table(rows, right=tuple(range(1, len(rows[0]))), head=True)
    if any(one.rung is None for one in comparison.at):
        page.paragraph(tr("none: what must be in the plan is not to be had for that."), 2)


def _nothing() -> str:
    return tr("none")


def _money(plan: Rung | None, currency: str) -> str:
    return _nothing() if plan is None else amount_text(plan.cost, currency)


def _total(plan: Rung | None) -> int | None:
    return None if plan is None else plan.strain


def _strains(now: list[int], then: list[int | None]) -> list[str]:
    return ["" if value is None else strain_text(value, 2) for value in (*now, *then)]


def _number(scores: DayScores | None, name: str) -> str:
    value = None if scores is None else getattr(scores, name)
    return _nothing() if value is None else decimal_text(value, 1)


def _proof(page: Page, comparison: Comparison) -> None:
    page.heading(tr("How sure this is"))
    limit = comparison.minutes_limit
    within = "" if limit is None else tr(" with {minutes} minutes of work", minutes=limit)
    if comparison.proven:
        page.paragraph(
            tr(
                "Proven: at no budget is there a plan{within} that leaves less strain than the one shown. "
                "Strain, cost and every rule of each plan were checked again without the optimiser.",
                within=within,
            )
        )
    else:
        page.paragraph(tr("Not proven best at every budget. Each plan was checked again and holds."))


@dataclass(frozen=True)
class BudgetRow:
    """One budget in the table of all budgets."""

    number: int
    money: str
    left: str
    taken: str
    work: str
    comes: tuple[str, ...]
    goes: tuple[str, ...]
    anew: tuple[str, ...]


@dataclass(frozen=True)
class Fold:
    """One line in plain words, with details to fold out.

    Attributes
    ----------
    line : str
        What is said.
    details : tuple of str
        What stands behind it; empty where nothing folds out.
    """

    line: str
    details: tuple[str, ...] = ()


def budget_rows(plans: BudgetPlans) -> list[BudgetRow]:
    """Every budget at which the plan changes, with what changes.

    Parameters
    ----------
    plans : BudgetPlans
        The plans.
    """
    comparison = plans.comparison
    out = []
    last: Rung | None = None
    for number, rung in enumerate(comparison.rungs):
        change = change_between(last, rung)
        out.append(
            BudgetRow(
                number,
                money_text(rung.cost, comparison.currency),
                strain_text(rung.strain),
                strain_text(comparison.before.total - rung.strain),
                minutes_text(rung.minutes),
                tuple(step_title(option, comparison.state_before) for option in change.enters),
                tuple(step_title(option, comparison.state_before) for option in change.leaves),
                tuple(
                    tr(
                        "{thing}, until here {size}",
                        thing=step_title(one.after, comparison.state_before),
                        size=size_text(one.before),
                    )
                    for one in change.resized
                ),
            )
        )
        last = rung
    return out


def more_money(plans: BudgetPlans, number: int, catalog: Catalog) -> list[Fold]:
    """What the next purchase is after one budget, and how long saving for it takes.

    Parameters
    ----------
    plans : BudgetPlans
        The plans.
    number : int
        Position of the budget, from 0.
    catalog : Catalog
        For titles.
    """
    rungs, currency = plans.comparison.rungs, plans.comparison.currency
    if number + 1 >= len(rungs):
        if plans.comparison.at:
            return [Fold(tr("No dearer plan was asked for."))]
        return [Fold(tr("More money takes no more strain off here."))]
    here, then = rungs[number], rungs[number + 1]
    change = change_between(here, then)
    state = plans.comparison.state_before
    details = [
        *(tr("New: {thing}.", thing=step_title(option, state)) for option in change.enters),
        *(tr("Set anew: {thing}.", thing=step_title(one.after, state)) for one in change.resized),
        *(tr("No longer used: {thing}.", thing=step_title(option, state)) for option in change.leaves),
    ]
    out = [
        Fold(
            tr(
                "Next to buy: a plan for {money} in all. That is {more} more. It takes off {gain} more "
                "a day.",
                money=money_text(then.cost, currency),
                more=money_text(then.cost - here.cost, currency),
                gain=strain_text(here.strain - then.strain, 2),
            ),
            tuple(details),
        )
    ]
    waiting = _waiting(plans, number)
    return out if waiting is None else [*out, waiting]


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
    details = tuple(
        trn(
            "{money}: after {count} month; strain left {left}",
            "{money}: after {count} months; strain left {left}",
            count,
            money=money_text(rung.cost, currency),
            left=strain_text(rung.strain),
        )
        for rung, count in months
    )
    return Fold(line, details)
