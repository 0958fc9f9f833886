"""A plan as plain text: what to do first, what to buy, how, why, and what it does not say.

A plan as one JSON document, format ``deskmend-plan/1``.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import EvidenceNote
from deskmend.intake.prices import PriceTable
from deskmend.language import tr, trn
from deskmend.measures import format_amount
from deskmend.planning.bill import BillLine
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.order import OrderedStep
from deskmend.planning.plan import Plan
from deskmend.report.afterwards import add_afterwards, add_cautions, add_shared_seats, add_signs, afterwards
from deskmend.report.assessment import add_region_table
from deskmend.report.dates import add_schedule, add_schedule_proof, schedule_document
from deskmend.report.json_text import case_name
from deskmend.report.layout import Page
from deskmend.report.scores import add_plan_scores, plan_scores
from deskmend.report.steps import (
    TODAY,
    add_cuts,
    bought_in,
    cut_documents,
    day_start,
    evidence_line,
    filled,
    material_text,
    place_of,
    running_bills,
    step_title,
    task_of,
    when_of,
    why_text,
)
from deskmend.report.words import (
    amount_text,
    minutes_text,
    money_text,
    quantity_json,
    source_title,
    strain_json,
    strain_text,
    tool_word,
)

__all__ = [
    "add_assessor_notes",
    "add_instructions",
    "add_proof",
    "evidence_json",
    "gain_text",
    "plan_document",
    "plan_text",
    "purchase_text",
    "used_text",
]

Document = dict[str, Any]


def plan_document(plan: Plan, catalog: Catalog) -> Document:
    """Write a plan as a document.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For what evidence cites.

    Returns
    -------
    dict
        Money as decimal text, strain [h/day] with six decimals, sizes [mm] [deg] [min] with three.
    """

    def money(minor: int | None) -> str | None:
        return None if minor is None else format_amount(minor, plan.currency)

    now, then = plan.before.by_region, plan.after.by_region
    plain_now, plain_then = plan.plain_before.by_region, plan.plain_after.by_region
    return {
        "format": "deskmend-plan/1",
        "case": case_name(plan.case),
        "currency": plan.currency,
        "budget": money(plan.budget),
        "limit": money(plan.limit),
        "cost": money(plan.cost),
        "cost_now": money(plan.cost if plan.schedule is None else plan.schedule.cost_now),
        "minutes": plan.minutes,
        "strain": {
            "before": strain_json(plan.before.total),
            "after_free": strain_json(plan.after_free.total),
            "after": strain_json(plan.after.total),
            "plain_before": strain_json(plan.plain_before.total),
            "plain_after": strain_json(plan.plain_after.total),
            "by_region": {
                region: {
                    "before": strain_json(now[region]),
                    "after": strain_json(then[region]),
                    "plain_before": strain_json(plain_now[region]),
                    "plain_after": strain_json(plain_then[region]),
                }
                for region in now
            },
        },
        "scores": plan_scores(plan),
        "steps": [
            _step(number, step, when, plan, catalog)
            for number, (step, when) in enumerate(zip(plan.steps, when_of(plan), strict=True), start=1)
        ],
        "sequence": None if plan.schedule is None else schedule_document(plan.schedule, plan.currency),
        "shopping": [
            {"item": line.item, "packs": line.packs, "cost": money(line.cost)} for line in plan.bill.lines
        ],
        "watch_for": [
            {
                "fix": reserve.option.fix.id,
                "with": reserve.option.with_name,
                "happens": filled(reserve.watch.happens, reserve.option),
                "then": filled(reserve.watch.then, reserve.option),
                "item": reserve.watch.item,
                "quantity": reserve.watch.quantity if reserve.watch.item is not None else None,
                "reserve": money(reserve.cost),
            }
            for reserve in plan.watch_for
        ],
        **afterwards(plan, catalog),
        "proof": {
            "status": "optimal" if plan.proven else "not_proven",
            "strain_bound": None if plan.strain_bound is None else strain_json(plan.strain_bound),
            "engine": plan.choice.engine,
            "engines_agree": plan.proven_twice or None,
            "tables": None if plan.sizes is None else asdict(plan.sizes),
        },
        "left_out": [
            {"fix": left.fix.id, "for": left.owner[1] or None, "cause": left.cause, "reason": left.reason}
            for left in plan.left_out
        ],
        "warnings": list(plan.warnings),
    }


def _step(number: int, step: OrderedStep, when: str, plan: Plan, catalog: Catalog) -> Document:
    option = step.option
    return {
        "order": number,
        "fix": option.fix.id,
        "title": tr(option.fix.title),
        "with": option.with_name,
        "place": place_of(option),
        "task": task_of(option),
        "size": _size(option),
        "unit": option.fix.size.unit if option.fix.size is not None else None,
        "pieces": [quantity_json(piece) for piece in option.pieces],
        "kind": option.fix.kind,
        "cost": format_amount(step.cost, plan.currency),
        "minutes": step.minutes,
        "when": when,
        "strain_after": strain_json(step.strain_after),
        "why": why_text(step),
        "cuts": cut_documents(option, plan.state_after),
        "how": [filled(line, option) for line in option.fix.how],
        "right": None if option.fix.right is None else filled(option.fix.right, option),
        "cautions": [filled(line, option) for line in option.fix.cautions],
        "side_effects": [filled(line, option) for line in option.fix.side_effects],
        "evidence": [evidence_json(note, catalog) for note in option.fix.evidence],
    }


def _size(option: OptionSpec) -> float | int | str | None:
    """Whole sizes as whole numbers, so that a size reads the same here as in the step's name."""
    if option.size is None or isinstance(option.size, str):
        return option.size
    size = quantity_json(option.size)
    return int(size) if size is not None and size == int(size) else size


def evidence_json(note: EvidenceNote, catalog: Catalog) -> Document:
    """One finding with the title of its source, the year within it."""
    source = catalog.sources[note.source]
    return {
        "source": note.source,
        "title": source_title(source),
        "where": source.place or None,
        "n": note.n,
        "finding": tr(note.finding),
        "grade": note.grade,
        "tested": note.tested,
        "verdict": note.verdict,
    }


ASK_FIRST = {"owner": "Ask the owner first.", "employer": "Ask the employer first."}
"""By whose leave it takes."""


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
    page.paragraph(tr("Plan: {case}", case=case_name(plan.case)))
    add_signs(page, sign_warnings(plan.case, catalog))
    _summary(page, plan)
    add_shared_seats(page, plan)
    _lists(page, plan, catalog, prices)
    add_schedule(page, plan, catalog)
    _details(page, plan, catalog, prices)
    _watch(page, plan)
    add_afterwards(page, plan, catalog)
    page.heading(tr("How much strain is left where"))
    add_region_table(page, plan.before, plan.after)
    add_plan_scores(page, plan)
    add_proof(page, plan)
    add_cautions(page)
    add_assessor_notes(page, plan, catalog)
    return page.text()


def _summary(page: Page, plan: Plan) -> None:
    page.blank()
    before, after = strain_text(plan.before.total), strain_text(plan.after.total)
    if plan.goals:
        goals = tr(" and ").join(goal.text for goal in plan.goals)
        page.paragraph(tr("Asked for: {goals}, for the least money.", goals=goals))
    if not plan.steps and plan.goals:
        page.paragraph(
            tr(
                "That holds already, without any fix. Strain stays at {before} strain-hours a day.",
                before=before,
            )
        )
        return
    if not plan.steps:
        page.paragraph(
            tr(
                "Nothing within these limits takes strain off. It stays at {before} strain-hours a day.",
                before=before,
            )
        )
        return
    page.paragraph(
        tr(
            "Strain: {before} strain-hours a day now, {after} with this plan. Cost: {cost}. Work: {work}.",
            before=before,
            after=after,
            cost=money_text(plan.cost, plan.currency),
            work=minutes_text(plan.minutes),
        )
    )
    if plan.schedule is not None:
        today, whole = (
            money_text(minor, plan.currency) for minor in (plan.schedule.cost_now, plan.schedule.spent)
        )
        page.paragraph(
            tr(
                "It is bought as money comes in: {today} today, {whole} in all with what serves on the way.",
                today=today,
                whole=whole,
            )
        )
    page.paragraph(
        tr(
            "One strain-hour is one hour a day spent clearly outside what is comfortable for one part of the "
            "body. Each part counts by itself, so a day can hold more strain-hours than hours. Parts that "
            "trouble you count for more. It is a way to compare, not a measure of pain."
        )
    )


def _lists(page: Page, plan: Plan, catalog: Catalog, prices: PriceTable) -> None:
    bills = running_bills(plan, prices)
    numbered = list(enumerate(zip(plan.steps, when_of(plan), strict=True), start=1))
    free = [(number, step) for number, (step, when) in numbered if when == TODAY]
    later = [(number, step) for number, (step, when) in numbered if when != TODAY]
    strain = plan.before.total
    if free:
        page.heading(tr("Today, for nothing"))
        for number, step in free:
            page.point(f"{number}.", f"{step_title(step.option, plan.state_before)}{gain_text(strain, step)}")
            strain = step.strain_after
    if later:
        page.heading(tr("Buy, in this order"))
        for number, step in later:
            bought = [purchase_text(line, plan, catalog) for line in bought_in(number - 1, bills)]
            # What costs nothing here waits for a thing bought above it.
            waits = tr("Nothing to buy.") if step.day else tr("Nothing to buy: it waits for a step above.")
            what = tr("Buy {things}.", things="; ".join(bought)) if bought else waits
            page.point(
                f"{number}.",
                f"{_date(step)}{step_title(step.option, plan.state_before)}{gain_text(strain, step)} {what}",
            )
            strain = step.strain_after
        page.paragraph(tr("All together: {cost}.", cost=money_text(plan.cost, plan.currency)))


def _date(step: OrderedStep) -> str:
    """Date of a step that waits for money or time, before its title."""
    return f"{day_start(step.day)}: " if step.day else ""


def gain_text(before: int, step: OrderedStep) -> str:
    """What a step takes off, as the end of a sentence."""
    gain = before - step.strain_after
    if gain > 0:
        return tr(". Takes off {strain}.", strain=strain_text(gain, 2))
    if gain < 0:
        return tr(". Adds {strain} for now; a later step needs it.", strain=strain_text(-gain, 2))
    return "."


def purchase_text(line: BillLine, plan: Plan, catalog: Catalog) -> str:
    """Packs of one thing and what they cost."""
    return trn(
        "{count} pack of {thing}, {cost}",
        "{count} packs of {thing}, {cost}",
        line.packs,
        thing=tr(catalog.items[line.item].title),
        cost=money_text(line.cost, plan.currency),
    )


def _details(page: Page, plan: Plan, catalog: Catalog, prices: PriceTable) -> None:
    if not plan.steps:
        return
    page.heading(tr("How to do each step"))
    for number, step in enumerate(plan.steps, start=1):
        page.blank()
        page.point(f"{number}.", step_title(step.option, plan.state_before))
        page.paragraph(tr("Why: {why}", why=why_text(step)), 3)
        add_instructions(page, step.option, step.minutes, plan, catalog, prices, 3)


def add_instructions(
    page: Page,
    option: OptionSpec,
    minutes: int,
    plan: Plan,
    catalog: Catalog,
    prices: PriceTable,
    indent: int = 0,
) -> None:
    """Say what one fix takes, how it is done, when it is right, what to mind and what stands behind it.

    Parameters
    ----------
    page : Page
        Written to.
    option : OptionSpec
        The fix with its size.
    minutes : int
        Work counted for it [min].
    plan : Plan
        For the case.
    catalog : Catalog
        For titles.
    prices : PriceTable
        For what is sold second hand.
    indent : int
        Columns left free [characters].
    """
    fix = option.fix
    needs = [material_text(material, option, plan.case, catalog) for material in fix.materials]
    if needs:
        page.paragraph(tr("You need: {things}.", things="; ".join(needs)), indent)
    asks = [catalog.items[m.item] for m in fix.materials]
    page.points(
        [f"{tr(item.title)}{used_text(item.id, prices)}: {tr(item.ask)}" for item in asks if item.ask],
        indent + 2,
    )
    add_cuts(page, option, plan.state_after, catalog, indent)
    if fix.tools:
        page.paragraph(tr("Tools: {tools}.", tools=", ".join(tool_word(tool) for tool in fix.tools)), indent)
    if minutes:
        page.paragraph(tr("Time: {time}.", time=minutes_text(minutes)), indent)
    for place, line in enumerate(fix.how):
        page.point(f"{chr(ord('a') + place % 26)})", filled(line, option), indent)
    if fix.right is not None:
        page.paragraph(tr("Right when: {sign}", sign=filled(fix.right, option)), indent)
    for caution in fix.cautions:
        page.point("!", filled(caution, option), indent)
    if fix.leave != "none":
        page.point("!", tr(ASK_FIRST[fix.leave]), indent)
    if fix.side_effects:
        page.paragraph(tr("Good to know:"), indent)
        page.points([filled(line, option) for line in fix.side_effects], indent + 2)
    if fix.upkeep is not None:
        page.paragraph(tr("Upkeep: {what}", what=filled(fix.upkeep, option)), indent)
    page.paragraph(tr("What stands behind it: {findings}", findings=evidence_line(fix.evidence)), indent)


def used_text(item: str, prices: PriceTable) -> str:
    """That a thing is sold second hand; empty where it is not."""
    priced = prices.get(item)
    return tr(" (second hand, look before you pay)") if priced and priced.condition == "used" else ""


def _watch(page: Page, plan: Plan) -> None:
    if not plan.watch_for:
        return
    page.heading(tr("Only if it happens"))
    for reserve in plan.watch_for:
        happens = filled(reserve.watch.happens, reserve.option)
        then = filled(reserve.watch.then, reserve.option)
        told = [tr("{happens} Then: {then}", happens=happens, then=then)]
        if reserve.cost is None:
            told.append(tr("There is no price for it here."))
        elif reserve.cost:
            told.append(tr("Keep {cost} back for it.", cost=money_text(reserve.cost, plan.currency)))
        page.point("-", " ".join(told))


def add_proof(page: Page, plan: Plan) -> None:
    """Say how sure a plan is, and within which limits."""
    page.heading(tr("How sure this is"))
    within = _limits(plan)
    if plan.schedule is not None:
        add_schedule_proof(page, plan.schedule)
        return
    if plan.proven and plan.goals:
        page.paragraph(
            tr(
                "Proven: no other choice {within}, reaches the goal for less money, none as cheap takes "
                "fewer minutes, and of those none leaves less strain. Scores, strain, cost and every rule "
                "were checked again without the optimiser.",
                within=within,
            )
        )
        return
    if plan.proven:
        proof = tr(
            "Proven: no other choice {within}, leaves less strain, and none that leaves as little costs "
            "less. Strain, cost and every rule were checked again without the optimiser.",
            within=within,
        )
        twice = tr("A second method of search came to the very same plan.") if plan.proven_twice else ""
        page.paragraph(f"{proof} {twice}".rstrip())
        return
    page.paragraph(
        tr(
            "Not proven best: the time allowed ran out. Strain, cost and every rule were checked again "
            "without the optimiser, so the plan holds; a better one may exist."
        )
    )
    if plan.strain_bound is not None:
        gap = plan.after.total - plan.strain_bound
        page.paragraph(
            tr(
                "No choice {within}, can leave less than {bound} strain-hours a day; this plan leaves "
                "{left}. The gap is {gap}.",
                within=within,
                bound=strain_text(plan.strain_bound, 2),
                left=strain_text(plan.after.total, 2),
                gap=strain_text(gap, 2),
            )
        )
    else:
        page.paragraph(tr("How far a better one could go is not known."))


def _limits(plan: Plan) -> str:
    """Limits that the proof holds within, as part of a sentence."""
    money = (
        tr("at any cost")
        if plan.limit is None
        else tr("within {money}", money=money_text(plan.limit, plan.currency))
    )
    if plan.minutes_limit is None:
        return tr("{money}, with the skill and tools given", money=money)
    return tr(
        "{money}, with {minutes} minutes of work and the skill and tools given",
        money=money,
        minutes=plan.minutes_limit,
    )


def add_assessor_notes(page: Page, plan: Plan, catalog: Catalog) -> None:
    """Say what an assessor wants to know besides: warnings, plain strain, money left, what is not offered."""
    page.heading(tr("For the assessor"))
    signs = set(sign_warnings(plan.case, catalog))
    page.points([warning for warning in plan.warnings if warning not in signs])
    page.point(
        "-",
        tr(
            "without the person's discomfort weights: {now} now, {then} then; with free fixes alone {free} "
            "(weighted)",
            now=strain_text(plan.plain_before.total, 2),
            then=strain_text(plan.plain_after.total, 2),
            free=strain_text(plan.after_free.total, 2),
        ),
    )
    if plan.limit is not None:
        left = amount_text(plan.limit - plan.cost, plan.currency)
        limit = money_text(plan.limit, plan.currency)
        page.point("-", tr("money: {left} of {limit} is left", left=left, limit=limit))
    for reason, names in _reasons(plan).items():
        page.point("-", tr("not offered, {reason}: {fixes}", reason=reason, fixes=", ".join(names)))
    if plan.steps:
        page.paragraph(tr("The same again as an assessment:"))
        page.points([f"--with {step.option.with_name}" for step in plan.steps], 2, "")


def _reasons(plan: Plan) -> dict[str, list[str]]:
    out: dict[str, list[str]] = {}
    for left in plan.left_out:
        names = out.setdefault(left.reason.rstrip("."), [])
        if left.fix.id not in names:
            names.append(left.fix.id)
    return out
