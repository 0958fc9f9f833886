"""A plan as plain text: what to do first, what to buy, how, why, and what it does not say."""

from __future__ import annotations

from deskmend.intake.catalog import Catalog
from deskmend.intake.price_table import PriceTable
from deskmend.money import format_amount
from deskmend.planning.bill import BillLine
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.order import OrderedStep
from deskmend.planning.plan import Plan
from deskmend.report.afterwards import add_afterwards, add_shared_seats
from deskmend.report.case_name import case_name
from deskmend.report.cautions import add_cautions, add_signs
from deskmend.report.layout import Page
from deskmend.report.numbers import minutes_text, money_text, strain_text
from deskmend.report.region_table import add_region_table
from deskmend.report.schedule_text import add_schedule, add_schedule_proof
from deskmend.report.scores_text import add_plan_scores
from deskmend.report.step_words import (
    TODAY,
    bought_in,
    day_words,
    evidence_line,
    filled,
    material_text,
    running_bills,
    step_title,
    when_of,
    why_text,
)

__all__ = ["plan_text"]


def plan_text(plan: Plan, catalog: Catalog, prices: PriceTable) -> str:
    """Write a plan for the person who will carry it out.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For titles and warning signs.
    prices : PriceTable
        The prices it was made with.

    Returns
    -------
    str
        At most 100 characters a line; short words, no colours.
    """
    page = Page()
    page.paragraph(f"Plan: {case_name(plan.case)}")
    add_signs(page, sign_warnings(plan.case, catalog))
    _summary(page, plan)
    add_shared_seats(page, plan)
    _lists(page, plan, catalog, prices)
    add_schedule(page, plan, catalog)
    _details(page, plan, catalog, prices)
    _watch(page, plan)
    add_afterwards(page, plan, catalog)
    page.heading("How much strain is left where")
    add_region_table(page, plan.before, plan.after)
    add_plan_scores(page, plan)
    _proof(page, plan)
    add_cautions(page)
    _assessor(page, plan, catalog)
    return page.text()


def _summary(page: Page, plan: Plan) -> None:
    page.blank()
    before, after = strain_text(plan.before.total), strain_text(plan.after.total)
    if plan.goals:
        page.paragraph(f"Asked for: {' and '.join(goal.text for goal in plan.goals)}, for the least money.")
    if not plan.steps and plan.goals:
        page.paragraph(f"That holds already, without any fix. Strain stays at {before} strain-hours a day.")
        return
    if not plan.steps:
        page.paragraph(
            f"Nothing within these limits takes strain off. It stays at {before} strain-hours a day."
        )
        return
    page.paragraph(
        f"Strain: {before} strain-hours a day now, {after} with this plan. "
        f"Cost: {money_text(plan.cost, plan.currency)}. Work: {minutes_text(plan.minutes)}."
    )
    if plan.schedule is not None:
        today, whole = (
            money_text(minor, plan.currency) for minor in (plan.schedule.cost_now, plan.schedule.spent)
        )
        page.paragraph(
            f"It is bought as money comes in: {today} today, {whole} in all with what serves on the way."
        )
    page.paragraph(
        "One strain-hour is one hour a day spent clearly outside what is comfortable for one part of the "
        "body. Each part counts by itself, so a day can hold more strain-hours than hours. Parts that "
        "trouble you count for more. It is a way to compare, not a measure of pain."
    )


def _lists(page: Page, plan: Plan, catalog: Catalog, prices: PriceTable) -> None:
    bills = running_bills(plan, prices)
    numbered = list(enumerate(zip(plan.steps, when_of(plan), strict=True), start=1))
    free = [(number, step) for number, (step, when) in numbered if when == TODAY]
    later = [(number, step) for number, (step, when) in numbered if when != TODAY]
    strain = plan.before.total
    if free:
        page.heading("Today, for nothing")
        for number, step in free:
            page.point(f"{number}.", f"{step_title(step.option, plan.state_before)}{_gain(strain, step)}")
            strain = step.strain_after
    if later:
        page.heading("Buy, in this order")
        for number, step in later:
            bought = [_purchase(line, plan, catalog) for line in bought_in(number - 1, bills)]
            # What costs nothing here waits for a thing bought above it.
            waits = " Nothing to buy." if step.day else " Nothing to buy: it waits for a step above."
            what = f" Buy {'; '.join(bought)}." if bought else waits
            page.point(
                f"{number}.",
                f"{_date(step)}{step_title(step.option, plan.state_before)}{_gain(strain, step)}{what}",
            )
            strain = step.strain_after
        page.paragraph(f"All together: {money_text(plan.cost, plan.currency)}.")


def _date(step: OrderedStep) -> str:
    """Date of a step that waits for money or time, before its title."""
    if not step.day:
        return ""
    words = day_words(step.day)
    return f"{words[0].upper()}{words[1:]}: "


def _gain(before: int, step: OrderedStep) -> str:
    gain = before - step.strain_after
    if gain > 0:
        return f". Takes off {strain_text(gain, 2)}."
    return f". Adds {strain_text(-gain, 2)} for now; a later step needs it." if gain < 0 else "."


def _purchase(line: BillLine, plan: Plan, catalog: Catalog) -> str:
    packs = "1 pack" if line.packs == 1 else f"{line.packs} packs"
    return f"{packs} of {catalog.items[line.item].title}, {money_text(line.cost, plan.currency)}"


def _details(page: Page, plan: Plan, catalog: Catalog, prices: PriceTable) -> None:
    if not plan.steps:
        return
    page.heading("How to do each step")
    for number, step in enumerate(plan.steps, start=1):
        option, fix = step.option, step.option.fix
        page.blank()
        page.point(f"{number}.", step_title(option, plan.state_before))
        page.paragraph(f"Why: {why_text(step)}", 3)
        needs = [material_text(material, option, plan.case, catalog) for material in fix.materials]
        if needs:
            page.paragraph(f"You need: {'; '.join(needs)}.", 3)
        asks = [catalog.items[m.item] for m in fix.materials]
        page.points(
            [f"{item.title}{_used(item.id, prices)}: {item.ask}" for item in asks if item.ask is not None], 5
        )
        if fix.tools:
            page.paragraph(f"Tools: {', '.join(tool.replace('_', ' ') for tool in fix.tools)}.", 3)
        if step.minutes:
            page.paragraph(f"Time: {minutes_text(step.minutes)}.", 3)
        for place, line in enumerate(fix.how):
            page.point(f"{chr(ord('a') + place % 26)})", filled(line, option), 3)
        if fix.right is not None:
            page.paragraph(f"Right when: {filled(fix.right, option)}", 3)
        for caution in fix.cautions:
            page.point("!", filled(caution, option), 3)
        if fix.leave != "none":
            page.point("!", f"Ask the {fix.leave} first.", 3)
        if fix.side_effects:
            page.paragraph("Good to know:", 3)
            page.points([filled(line, option) for line in fix.side_effects], 5)
        if fix.upkeep is not None:
            page.paragraph(f"Upkeep: {filled(fix.upkeep, option)}", 3)
        page.paragraph(f"What stands behind it: {evidence_line(fix.evidence)}", 3)


def _used(item: str, prices: PriceTable) -> str:
    priced = prices.get(item)
    return " (second hand, look before you pay)" if priced and priced.condition == "used" else ""


def _watch(page: Page, plan: Plan) -> None:
    if not plan.watch_for:
        return
    page.heading("Only if it happens")
    for reserve in plan.watch_for:
        happens = filled(reserve.watch.happens, reserve.option)
        text = f"{happens} Then: {filled(reserve.watch.then, reserve.option)}"
        if reserve.cost is None:
            text += " There is no price for it here."
        elif reserve.cost:
            text += f" Keep {money_text(reserve.cost, plan.currency)} back for it."
        page.point("-", text)


def _proof(page: Page, plan: Plan) -> None:
    page.heading("How sure this is")
    money = "at any cost" if plan.limit is None else f"within {money_text(plan.limit, plan.currency)}"
    time = "" if plan.minutes_limit is None else f"{plan.minutes_limit} minutes of work and "
    within = f"{money}, with {time}the skill and tools given,"
    if plan.schedule is not None:
        add_schedule_proof(page, plan.schedule)
        return
    if plan.proven and plan.goals:
        page.paragraph(
            f"Proven: no other choice {within} reaches the goal for less money, none as cheap takes fewer "
            "minutes, and of those none leaves less strain. Scores, strain, cost and every rule were checked "
            "again without the optimiser."
        )
        return
    if plan.proven:
        page.paragraph(
            f"Proven: no other choice {within} leaves less strain, and none that leaves as little costs "
            "less. "
            "Strain, cost and every rule were checked again without the optimiser."
            + (" A second method of search came to the very same plan." if plan.proven_twice else "")
        )
        return
    page.paragraph(
        "Not proven best: the time allowed ran out. Strain, cost and every rule were checked again without "
        "the optimiser, so the plan holds; a better one may exist."
    )
    if plan.strain_bound is not None:
        gap = plan.after.total - plan.strain_bound
        page.paragraph(
            f"No choice {within} can leave less than {strain_text(plan.strain_bound, 2)} strain-hours a day; "
            f"this plan leaves {strain_text(plan.after.total, 2)}. The gap is {strain_text(gap, 2)}."
        )
    else:
        page.paragraph("How far a better one could go is not known.")


def _assessor(page: Page, plan: Plan, catalog: Catalog) -> None:
    page.heading("For the assessor")
    signs = set(sign_warnings(plan.case, catalog))
    page.points([warning for warning in plan.warnings if warning not in signs])
    page.point(
        "-",
        f"without the person's discomfort weights: {strain_text(plan.plain_before.total, 2)} now, "
        f"{strain_text(plan.plain_after.total, 2)} then; with free fixes alone "
        f"{strain_text(plan.after_free.total, 2)} (weighted)",
    )
    if plan.limit is not None:
        left = plan.limit - plan.cost
        page.point(
            "-",
            f"money: {format_amount(left, plan.currency)} of {money_text(plan.limit, plan.currency)} is left",
        )
    for reason, names in _reasons(plan).items():
        page.point("-", f"not offered, {reason}: {', '.join(names)}")
    if plan.steps:
        page.paragraph("The same again as an assessment:")
        page.points([f"--with {step.option.with_name}" for step in plan.steps], 2, "")


def _reasons(plan: Plan) -> dict[str, list[str]]:
    out: dict[str, list[str]] = {}
    for left in plan.left_out:
        names = out.setdefault(left.reason.rstrip("."), [])
        if left.fix.id not in names:
            names.append(left.fix.id)
    return out
