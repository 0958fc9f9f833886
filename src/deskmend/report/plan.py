"""A plan: what to do first, what to buy, how, why, what comes after, how sure it is and what it does not say.

As plain text, as a document of format ``deskmend-plan/1``, and in parts for the web page.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, cast

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Advice
from deskmend.intake.prices import PriceTable
from deskmend.language import tr, trn
from deskmend.measures import Micro
from deskmend.planning.dates import Schedule
from deskmend.planning.draws import UncertainLength
from deskmend.planning.explain import ExposureRow, exposure_rows
from deskmend.planning.frontier import CheckedPlan
from deskmend.planning.model.offers import OptionSpec, shared_notes
from deskmend.planning.model.rules import concerns
from deskmend.planning.order import Reserve
from deskmend.planning.plan import Plan
from deskmend.planning.score import PLAIN, weights_of
from deskmend.planning.selection import key_of
from deskmend.report.assessment import add_causes, add_region_table, complaint_texts, most_left_text
from deskmend.report.budgets import nothing_helps_text, stop_json, stop_text
from deskmend.report.catalog import evidence_line
from deskmend.report.documents import bought_json, money_json, quantity_json, strain_json
from deskmend.report.fit import add_fit, crowded_out, crowded_text, fit_document
from deskmend.report.layout import Page
from deskmend.report.scores import add_plan_scores, plan_scores
from deskmend.report.stages import (
    add_bundles,
    add_instructions_of_stages,
    add_schedule,
    add_schedule_proof,
    add_stages,
    done_of,
    schedule_document,
    stages_document,
    states_of,
    stays_text,
)
from deskmend.report.steps import (
    after_two_weeks,
    filled,
    right_text,
    step_json,
    step_title,
    step_titles,
    when_of,
    why_numbers,
)
from deskmend.report.words import (
    add_cautions,
    add_signs,
    amount_text,
    case_name,
    measure_how,
    measure_words,
    minutes_text,
    money_text,
    other_warnings,
    quantity_text,
    strain_text,
    total_text,
)
from deskmend.risk.scores.day import methods
from deskmend.workstation.state import PERSON

if TYPE_CHECKING:
    from deskmend.report.case_documents import Afterwards, PlanDocument, TableSizesRecord

__all__ = [
    "add_assessor_notes",
    "add_proof",
    "afterwards",
    "complaints_of",
    "how_sure_text",
    "left_of",
    "no_steps_text",
    "plan_document",
    "plan_text",
    "reserve_texts",
]


STRAIN_HOUR = (
    "One strain-hour is one hour a day spent clearly outside what is comfortable for one part of the body. "
    "Each part counts by itself, so a day can hold more strain-hours than hours. Parts that trouble you "
    "count for more. It is a way to compare, not a measure of pain."
)
SHORT_OF_CLAIMS = (
    "A strain-hour is one hour a day with one part of the body clearly outside what is comfortable. The plan "
    "says how much of that is taken off, not that pain or injury is prevented. Whatever you build must stand "
    "firm before you put weight on it."
)


def plan_document(plan: Plan, catalog: Catalog) -> PlanDocument:
    """A plan: money as decimal text, strain [h/day] with six decimals, sizes [mm] [deg] [min] with three."""
    currency = plan.currency
    strains = {
        "before": plan.before,
        "after": plan.after,
        "plain_before": plan.plain_before,
        "plain_after": plan.plain_after,
    }
    later = afterwards(plan, catalog)
    by_region = {name: score.by_region for name, score in strains.items()}
    return {
        "format": "deskmend-plan/1",
        "case": case_name(plan.case),
        "currency": currency,
        "budget": money_json(plan.budget, currency),
        "limit": money_json(plan.limit, currency),
        "cost": money_json(plan.cost, currency),
        "cost_now": money_json(plan.cost if plan.schedule is None else plan.schedule.cost_now, currency),
        "minutes": plan.minutes,
        "strain": {
            "before": strain_json(plan.before.total),
            "after_free": strain_json(plan.after_free.total),
            "after": strain_json(plan.after.total),
            "plain_before": strain_json(plan.plain_before.total),
            "plain_after": strain_json(plan.plain_after.total),
            "best": None if plan.best is None else strain_json(plan.best.strain),
            "noise": strain_json(plan.noise),
            "by_region": {
                region: {name: strain_json(strain[region]) for name, strain in by_region.items()}
                for region in by_region["before"]
            },
        },
        "fit": fit_document(plan.lacks),
        "scores": plan_scores(plan),
        "in_place": [option.with_name for option in plan.in_place],
        "does_without": [option.with_name for option in plan.does_without],
        "steps": [
            step_json(number, step, when, plan, catalog)
            for number, (step, when) in enumerate(zip(plan.steps, when_of(plan), strict=True), start=1)
        ],
        "stages": stages_document(plan),
        "sequence": None if plan.schedule is None else schedule_document(plan.schedule, currency),
        "shopping": bought_json(plan.bill.lines, currency),
        "watch_for": [
            {
                "fix": reserve.option.fix.id,
                "with": reserve.option.with_name,
                "happens": filled(reserve.watch.happens, reserve.option),
                "then": filled(reserve.watch.then, reserve.option),
                "item": reserve.watch.item,
                "quantity": reserve.watch.quantity if reserve.watch.item is not None else None,
                "reserve": money_json(reserve.cost, currency),
            }
            for reserve in plan.watch_for
        ],
        "recheck": later["recheck"],
        "second_choices": later["second_choices"],
        "shared_seats": later["shared_seats"],
        "advice": later["advice"],
        "measure_again": None
        if plan.least_sure is None
        else {
            "measure": plan.least_sure[0].key,
            "owner": plan.least_sure[0].owner or None,
            "sd": quantity_json(plan.least_sure[0].sd),
            "unit": plan.least_sure[0].unit,
            "moves": strain_json(plan.least_sure[1]),
        },
        "where_to_stop": stop_json(plan.stop, currency),
        "proof": {
            "status": "optimal" if plan.proven else "not_proven",
            "strain_bound": None if plan.strain_bound is None else strain_json(plan.strain_bound),
            "engine": plan.choice.engine,
            "engines_agree": plan.proven_twice or None,
            "tables": None if plan.sizes is None else cast("TableSizesRecord", asdict(plan.sizes)),
        },
        "left_out": [
            {"fix": left.fix.id, "for": left.owner[1] or None, "cause": left.cause, "reason": left.reason}
            for left in plan.left_out
        ],
        "warnings": list(plan.warnings),
    }


def afterwards(plan: Plan, catalog: Catalog) -> Afterwards:
    """What comes after a plan, as parts of its document.

    What to look at after two weeks, second choices for what many give up, remarks on shared seats, and what
    only informs.
    """
    dropped = [(step.option, step.option.fix.often_dropped) for step in plan.steps]
    looks = [(step.option.with_name, _look_text(step.option, plan)) for step in plan.steps]
    return {
        "recheck": [{"with": name, "look": look} for name, look in looks if look],
        "second_choices": [
            {
                "with": option.with_name,
                "why": tr(often.why),
                "source": often.source,
                "instead": tr(often.instead),
                "fix": often.fix,
            }
            for option, often in dropped
            if often is not None
        ],
        "shared_seats": list(shared_notes(plan.case, states_of(plan))),
        "advice": [one.id for one in _advice(plan, catalog)],
    }


def _advice(plan: Plan, catalog: Catalog) -> list[Advice]:
    fits = _fits(plan)
    return [
        one
        for one in catalog.advice
        if not (fits and one.where_amiss) and concerns(one, PERSON, plan.state_after)
    ]


def _fits(plan: Plan) -> bool:
    """Whether a plan says that the place fits and nothing is to be changed."""
    return plan.does_nothing and plan.nothing_to_gain and _asks_for_nothing(plan)


def _look_text(option: OptionSpec, plan: Plan) -> str:
    return after_two_weeks(option, plan.state_after) or right_text(option, plan.state_after) or ""


def plan_text(plan: Plan, catalog: Catalog, prices: PriceTable, steps: bool = True) -> str:
    """A plan for the person who will carry it out, in short words; without `steps` the short list alone."""
    page = Page()
    add_signs(page, plan.case, catalog)
    add_fit(page, plan.lacks, plan.mismatches, plan.state_before)
    page.paragraph(tr("Plan: {case}", case=case_name(plan.case)))
    _summary(page, plan)
    _shared_seats(page, plan)
    if not plan.does_nothing or len(plan.stages) > 1:
        add_stages(page, plan, catalog, prices)
    add_bundles(page, plan)
    add_schedule(page, plan)
    left, complaints = left_of(plan), complaints_of(plan)
    page.blank()
    if crowded := crowded_out(plan.state_before, plan.state_after):
        page.paragraph(crowded_text(crowded))
    if not steps:
        page.points(complaints)
        page.blank()
        page.paragraph(tr(SHORT_OF_CLAIMS))
        more = tr("How each step is done, why, and how it is proven: the same command with --steps.")
        page.paragraph(more if plan.steps else tr("How it is proven: the same command with --steps."))
        return page.text()
    page.paragraph(tr(STRAIN_HOUR))
    _details(page, plan, catalog, prices)
    if plan.watch_for:
        page.heading(tr("Only if it happens"))
        page.points(reserve_texts(plan))
    _afterwards(page, plan, catalog)
    page.heading(tr("How much strain is left where"))
    add_region_table(page, plan.before, plan.after)
    add_causes(page, tr("What is left comes from"), left, complaints)
    add_plan_scores(page, plan)
    add_proof(page, plan)
    add_cautions(page)
    add_assessor_notes(page, plan, catalog)
    return page.text()


def left_of(plan: Plan) -> tuple[ExposureRow, ...]:
    """Every exposure with a plan; they add up to what it leaves."""
    return exposure_rows(plan.state_after, weights_of(plan.case))


def complaints_of(plan: Plan) -> list[str]:
    """What is said of complaints that nothing measured explains, neither now nor with a plan."""
    return complaint_texts(plan.case, left_of(plan), exposure_rows(plan.state_before, PLAIN))


def _summary(page: Page, plan: Plan) -> None:
    page.blank()
    before, after = strain_text(plan.before.total), strain_text(plan.after.total)
    if plan.goals:
        goals = tr(" and ").join(goal.text for goal in plan.goals)
        page.paragraph(tr("Asked for: {goals}, for the least money.", goals=goals))
    if plan.does_nothing and plan.goals:
        page.paragraph(
            tr(
                "That holds already, without any fix. Strain stays at {before} strain-hours a day.",
                before=before,
            )
        )
        return
    if plan.does_nothing:
        page.paragraph(no_steps_text(plan))
        page.paragraph(most_left_text(left_of(plan)))
        page.paragraph(stays_text(plan))
        return
    page.paragraph(
        tr(
            "Strain: {before} strain-hours a day now, {after} with this plan. Cost: {cost}. Work: {work}.",
            before=before,
            after=after,
            cost=total_text(plan.cost, plan.currency, plan.invented),
            work=minutes_text(plan.minutes),
        )
    )
    page.paragraph(most_left_text(left_of(plan)))
    page.paragraph(stays_text(plan))
    page.paragraph(f"{how_sure_text(plan)} {measure_key_text(plan)}".rstrip())
    if told := stop_text(plan):
        page.paragraph(told)
    if plan.schedule is not None:
        page.paragraph(_as_money_comes(plan.schedule, plan))


def no_steps_text(plan: Plan) -> str:
    """What a plan without steps says: that the place fits, or that nothing to be had makes a difference."""
    before = strain_text(plan.before.total)
    if _fits(plan) and plan.minutes_limit is None:
        return tr(
            "This place fits. Change nothing: nothing on offer, at any price, makes a difference that can be "
            "told. Strain stays at {before} strain-hours a day.",
            before=before,
        )
    if plan.nothing_to_gain:
        stays = tr("Strain stays at {before} strain-hours a day.", before=before)
        return f"{nothing_helps_text(plan.minutes_limit)} {stays}"
    if not plan.case.owns:
        return tr(
            "The case does not say what there is at home, and without such things nothing within these "
            "limits makes a difference that can be told: strain stays at {before} strain-hours a day. Say "
            "under owns which books, towels or cartons can be used and plan again, or plan with more money.",
            before=before,
        )
    return tr(
        "Leave it as it is: nothing within these limits makes a difference that can be told. Strain stays at "
        "{before} strain-hours a day.",
        before=before,
    )


def _asks_for_nothing(plan: Plan) -> bool:
    """Whether all fits, and no published score is as high as to ask for action."""
    asked = (
        plan.scores_before.score(method.name) or 0 for method in methods() if method.action_from is not None
    )
    limits = (method.action_from for method in methods() if method.action_from is not None)
    return not plan.lacks and all(score < limit for score, limit in zip(asked, limits, strict=True))


def how_sure_text(plan: Plan) -> str:
    """How sure a plan is in a few sentences: its proof, what cannot be told from it, what to measure."""
    asked = measure_again_text(plan) if _hidden_by(plan) is None else ""
    return f"{_how_sure(plan)} {asked}".rstrip()


def _hidden_by(plan: Plan) -> UncertainLength | None:
    """Measure to take before that on which most hangs, since a better plan is hidden behind it."""
    if plan.best is None or plan.goals or plan.schedule is not None or not plan.proven:
        return None
    return plan.hidden_by if plan.after.total - plan.best.strain <= plan.noise else None


def measure_again_text(plan: Plan) -> str:
    """Which one measure to take, or to take again, what hangs on it, and how it is taken."""
    if plan.least_sure is None:
        return ""
    length, by = plan.least_sure
    if strain_text(by) == strain_text(0):
        return ""
    told = tr(
        "Most hangs on one measure: {measure}. If it is {off} more or less, the plan takes off up to {by} "
        "more or less.",
        measure=measure_words(length.key),
        off=quantity_text(length.sd, length.unit),
        by=strain_text(by),
    )
    guess = length.estimated or length.given_as_guess
    first = (
        tr("It is only estimated so far: measure it first.") if guess else tr("Measure it once more first.")
    )
    return f"{told} {first} {measure_how(length.key)}".rstrip()


def measure_key_text(plan: Plan) -> str:
    """Where the one measure to take goes in the case file; empty where there is none."""
    length = _hidden_by(plan)
    if length is None and plan.least_sure is not None and measure_again_text(plan):
        length = plan.least_sure[0]
    if length is None:
        return ""
    return tr("It goes into the case as {path}.", path=plan.case.name_of(length.path))


def _how_sure(plan: Plan) -> str:
    """In plain words how well the choice was searched, and what cannot be told from it."""
    if not plan.proven:
        return tr("The search ran out of time: a better choice may exist. This one was checked and holds.")
    if plan.goals:
        return tr("Searched exactly: no choice of what is offered here reaches that for less money.")
    if plan.schedule is not None and plan.schedule.total > plan.schedule.least:
        return tr(
            "Searched exactly: over these months no other dates, and none of the other purchases that were "
            "looked at, leave less, but for {more} strain-hours in all that would take setting up twice.",
            more=strain_text(plan.schedule.total - plan.schedule.least, 2),
        )
    if plan.schedule is not None:
        return tr(
            "Searched exactly: over these months no other dates, and none of the other purchases that were "
            "looked at, leave less."
        )
    if plan.best is None or plan.best.strain >= plan.after.total:
        return tr("Searched exactly: no better choice of what is offered here, within money and time.")
    best, more = strain_text(plan.best.strain, 2), plan.after.total - plan.best.strain
    if more <= plan.noise:
        told = tr(
            "Searched exactly: within money and time the best choice of what is offered here leaves {best}. "
            "That is nearer to this plan than the measures can tell ({noise}).",
            best=best,
            noise=strain_text(plan.noise, 2),
        )
        parts = [told, *_otherwise(plan, plan.best), _hidden_text(_hidden_by(plan))]
        return " ".join(part for part in parts if part)
    return tr(
        "Searched exactly: within money and time the best choice of what is offered here leaves {best}. The "
        "{more} between are too little to be worth telling.",
        best=best,
        more=strain_text(more, 2),
    )


MOST_TOLD = 6
"""Steps by which the best choice differs from a plan, up to which they are named (judgement)."""


def _otherwise(plan: Plan, best: CheckedPlan) -> list[str]:
    """By which steps the best choice differs from a plan that cannot be told from it, where they are few."""
    ours = {step.option.with_name: step.option for step in plan.steps}
    theirs = {option.with_name: option for option in best.options}
    more = [option for name, option in theirs.items() if name not in ours]
    keys = {key_of(option) for option in more}
    less = [one for name, one in ours.items() if name not in theirs and key_of(one) not in keys]
    if len(more) + len(less) > MOST_TOLD:
        return []
    told = []
    if more:
        told.append(tr("Besides, or at another size, it has: {steps}.", steps=step_titles(more, plan)))
    if less:
        told.append(tr("It does without: {steps}.", steps=step_titles(less, plan)))
    return told


def _hidden_text(length: UncertainLength | None) -> str:
    """Which measure to take so that more can be told."""
    if length is None:
        return ""
    told = tr("What hides most of it is one measure: {measure}.", measure=measure_words(length.key))
    guess = length.estimated or length.given_as_guess
    again = (
        tr("It is only estimated so far: measure it and plan again.")
        if guess
        else tr("Measure it once more and plan again.")
    )
    return f"{told} {again} {measure_how(length.key)}".rstrip()


def _as_money_comes(schedule: Schedule, plan: Plan) -> str:
    """What delays purchases: money that is still to come, or only the time to make things."""
    today, whole = money_text(schedule.cost_now, plan.currency), money_text(schedule.spent, plan.currency)
    if schedule.cost_now == schedule.spent:
        return tr("All of it is bought today, for {whole}.", whole=whole)
    if schedule.spent <= schedule.savings.in_hand:
        return tr(
            "The money in hand pays for all of it, {whole}; only the time for the work delays it. {today} is "
            "spent today, the rest when there is time to use it.",
            today=today,
            whole=whole,
        )
    return tr(
        "It is bought as money comes in: {today} today, {whole} in all with what serves on the way.",
        today=today,
        whole=whole,
    )


def _shared_seats(page: Page, plan: Plan) -> None:
    notes = shared_notes(plan.case, states_of(plan))
    if notes:
        page.heading(tr("Shared with others"))
        page.points(notes, mark="!")


def _details(page: Page, plan: Plan, catalog: Catalog, prices: PriceTable) -> None:
    if plan.steps:
        page.heading(tr("How to do each step"))
        add_instructions_of_stages(page, plan, catalog, prices)


def reserve_texts(plan: Plan) -> list[str]:
    """What to do if something happens; money is to be kept back where what is left pays for all of it."""
    spent = plan.cost if plan.schedule is None else plan.schedule.spent
    asked = {reserve.watch.item: reserve.cost or 0 for reserve in plan.watch_for}
    paid = plan.limit is None or sum(asked.values()) <= plan.limit - spent
    return list(dict.fromkeys(_reserve_text(reserve, plan.currency, paid) for reserve in plan.watch_for))


def _reserve_text(reserve: Reserve, currency: str, paid: bool) -> str:
    happens, then = (filled(text, reserve.option) for text in (reserve.watch.happens, reserve.watch.then))
    told = tr("{happens} Then: {then}", happens=happens, then=then)
    if reserve.cost is None:
        return f"{told} {tr('There is no price for it here.')}"
    if not reserve.cost:
        return told
    cost = money_text(reserve.cost, currency)
    more = tr("Keep {cost} back for it.", cost=cost) if paid else tr("It would cost {cost} then.", cost=cost)
    return f"{told} {more}"


def _afterwards(page: Page, plan: Plan, catalog: Catalog) -> None:
    """The list for two weeks later, second choices, and what only informs."""
    parts = afterwards(plan, catalog)
    if parts["recheck"]:
        page.heading(tr("Two weeks later, look again"))
        page.paragraph(tr("Is each step still right, as it says above?"))
        for step in plan.steps:
            if look := after_two_weeks(step.option, plan.state_after):
                page.point("[ ]", f"{step_title(step.option, plan.state_before)}: {look}")
    if parts["second_choices"]:
        page.heading(tr("If you give it up"))
        for step in plan.steps:
            dropped = step.option.fix.often_dropped
            if dropped is not None:
                page.point("-", f"{tr(step.option.fix.title)}: {tr(dropped.why)} {tr(dropped.instead)}")
    if parts["advice"]:
        page.heading(tr("Worth knowing; not counted in this plan"))
    for one in _advice(plan, catalog):
        how, cautions = (
            [tr(line.say) for line in lines if concerns(line, PERSON, plan.state_after)]
            for lines in (one.how, one.cautions)
        )
        page.point("-", " ".join([f"{tr(one.title)}.", *how]))
        page.points(cautions, 3, "!")
        page.paragraph(tr("What stands behind it: {findings}", findings=evidence_line(one.evidence)), 3)


def add_proof(page: Page, plan: Plan) -> None:
    """Say how sure a plan is, and within which limits."""
    page.heading(tr("How sure this is"))
    within = _limits(plan)
    if plan.schedule is not None:
        add_schedule_proof(page, plan.schedule)
    elif plan.proven and plan.goals:
        page.paragraph(
            tr(
                "Proven: no other choice {within}, reaches the goal for less money, none as cheap takes "
                "fewer minutes, and of those none leaves less strain. Scores, strain, cost and every rule "
                "were checked again without the optimiser.",
                within=within,
            )
        )
    elif plan.proven and plan.best is not None and plan.after.total > plan.best.strain:
        page.paragraph(_shorter_text(plan, plan.best, within))
        if plan.proven_twice:
            page.paragraph(tr("A second method of search came to the very same best choice."))
    elif plan.proven:
        proof = tr(
            "Proven: no other choice {within}, leaves less strain, and none that leaves as little costs "
            "less. Strain, cost and every rule were checked again without the optimiser.",
            within=within,
        )
        twice = tr("A second method of search came to the very same plan.") if plan.proven_twice else ""
        page.paragraph(f"{proof} {twice}".rstrip())
    else:
        page.paragraph(
            tr(
                "Not proven best: the time allowed ran out. Strain, cost and every rule were checked again "
                "without the optimiser, so the plan holds; a better one may exist."
            )
        )
        left = plan.after.total if plan.best is None else plan.best.strain
        page.paragraph(_gap_text(left, plan.strain_bound, within))


def _shorter_text(plan: Plan, best: CheckedPlan, within: str) -> str:
    """What the best there is leaves, what this plan does, and why the two count as equal."""
    fewer, money = len(best.options) - len(plan.steps), best.cost - plan.cost
    spared = [
        *([trn("{count} step fewer", "{count} steps fewer", fewer)] if fewer > 0 else []),
        *([tr("{money} less", money=money_text(money, plan.currency))] if money > 0 else []),
    ]
    difference = plan.after.total - best.strain
    told = tr(
        "Proven: no choice {within}, leaves less than {best} strain-hours a day. This one leaves {after}, "
        "which is {difference} more.",
        within=within,
        best=strain_text(best.strain, 2),
        after=strain_text(plan.after.total, 2),
        difference=strain_text(difference, 2),
    )
    if spared:
        told += " " + tr("It does so with {spared}.", spared=tr(" and ").join(spared))
    if difference <= plan.noise:
        why = tr(
            "So small a difference cannot be told: what measures and estimates may be off makes it {noise} "
            "more or less (standard deviation).",
            noise=strain_text(plan.noise, 2),
        )
    else:
        why = tr("So small a difference is less than one part in a hundred of the strain today.")
    checked = tr("Strain, cost and every rule were checked again without the optimiser.")
    return f"{told} {why} {checked}"


def _gap_text(left: Micro, bound: Micro | None, within: str) -> str:
    """How much better than an unproven plan another one could be."""
    if bound is None:
        return tr("How far a better one could go is not known.")
    return tr(
        "No choice {within}, can leave less than {bound} strain-hours a day; this plan leaves "
        "{left}. The gap is {gap}.",
        within=within,
        bound=strain_text(bound, 2),
        left=strain_text(left, 2),
        gap=strain_text(left - bound, 2),
    )


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


def _left_free(plan: Plan) -> Micro:
    """What free fixes leave: today's stage may leave less than the distinct plan that costs nothing."""
    today = plan.stages[0]
    return min(plan.after_free.total, today.strain) if today.is_today else plan.after_free.total


def add_assessor_notes(page: Page, plan: Plan, catalog: Catalog) -> None:
    """Say what an assessor wants to know besides: warnings, plain strain, money left, what is not offered."""
    page.heading(tr("For the assessor"))
    page.points(other_warnings(plan.warnings, plan.case, catalog))
    page.point(
        "-",
        tr(
            "without the person's discomfort weights: {now} now, {then} then; with free fixes alone {free} "
            "(weighted)",
            now=strain_text(plan.plain_before.total, 2),
            then=strain_text(plan.plain_after.total, 2),
            free=strain_text(_left_free(plan), 2),
        ),
    )
    if plan.limit:
        spent = plan.cost if plan.schedule is None else plan.schedule.spent
        left = amount_text(plan.limit - spent, plan.currency)
        limit = money_text(plan.limit, plan.currency)
        told = (
            tr("money: {left} of {limit} is left", left=left, limit=limit)
            if plan.schedule is None
            else tr("money up to the last month: {left} of {limit} is left", left=left, limit=limit)
        )
        page.point("-", told)
    # from the same states as the reasons beside the steps, so that one never says what the other denies
    for line in sorted((one for _, lines in done_of(plan) for one in lines), key=lambda one: one.number):
        figures = why_numbers(line.change.state_before, line.change.state_after)
        if figures and line.change.after is not None:
            page.point("-", tr("in figures, {step}: {figures}", step=line.text, figures=figures))
    # Each reason once, with the fixes it holds for, each of them once.
    reasons: dict[str, dict[str, None]] = {}
    for one in plan.left_out:
        reasons.setdefault(one.reason.rstrip("."), {})[one.fix.id] = None
    for reason, names in reasons.items():
        page.point("-", tr("not offered, {reason}: {fixes}", reason=reason, fixes=", ".join(names)))
    if plan.steps:
        page.paragraph(tr("The same again as an assessment:"))
        page.points([f"--with {step.option.with_name}" for step in plan.steps], 2, "")
