"""A comparison of budgets as plain text: what each budget buys, what changes, and where more buys little."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr
from deskmend.money import currencies
from deskmend.planning.compare import Comparison, Rung, step_between
from deskmend.planning.inputs import sign_warnings
from deskmend.report.case_name import case_name
from deskmend.report.cautions import add_cautions, add_signs
from deskmend.report.layout import Page
from deskmend.report.numbers import amount_text, decimal_text, minutes_text, money_text, strain_text
from deskmend.report.step_words import size_text, step_title
from deskmend.report.words import region_word
from deskmend.risk.posture_scores import DayScores

__all__ = ["comparison_text"]

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
        step = step_between(last, rung)
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
