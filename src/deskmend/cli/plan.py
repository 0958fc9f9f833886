"""``deskmend plan``, and what else is asked of one case: ``assess``, ``compare``, ``report``."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.output import (
    FIX,
    Shared,
    amount_list,
    amounts,
    emit_page,
    refuse_other_than_page,
    refuse_target,
    shared,
    write_new,
)
from deskmend.errors import InputFaults, option_fault, read_each, visible
from deskmend.language import tr

if TYPE_CHECKING:
    from deskmend.intake.case import Case
    from deskmend.intake.catalog import Catalog
    from deskmend.intake.prices import PriceTable
    from deskmend.planning.budgets import Comparison
    from deskmend.planning.plan import BudgetPlans
    from deskmend.report.case_documents import PlanDocument
    from deskmend.report.html.page import Reader
    from deskmend.report.layout import Fold


@click.command("assess", short_help="Show the strain of a workplace, as it is or with fixes.")
@click.argument("case_file", metavar="CASE")
@click.option(
    "--with",
    "fixes",
    metavar=FIX,
    multiple=True,
    help="Show what this fix would do. Give it several times to apply several fixes together.",
)
@click.option(
    "--exposures",
    is_flag=True,
    help="Also list every exposure with its hours, severity and weight, adding up to the strain.",
)
@shared("catalog", "learned", "prices", "today")
def assess_command(
    given: Shared,
    case_file: str,
    fixes: tuple[str, ...],
    exposures: bool,
) -> None:
    """Show where a workplace strains the body.

    CASE is a case file. Strain is shown by region of the body, then everything that lies outside its range,
    the worst first. With fixes, strain is shown before and after, with what they cost.
    """
    from deskmend.planning.assessment import assess
    from deskmend.report.assessment import assessment_document, assessment_text

    case, catalog, prices, notes = given.inputs(case_file, {"--with": fixes})
    assessment = assess(case, catalog, prices, fixes, notes)
    given.remark(assessment.warnings, on_page=True)
    given.answer(
        lambda: assessment_document(assessment),
        lambda: emit_page(assessment_text, assessment, catalog, exposures),
    )


@click.command("plan", short_help="Find the best fixes for the money and time at hand.")
@click.argument("case_file", metavar="CASE")
@click.option("--budget", metavar="A", help="Money in hand, as 40.00; the case's own if left out.")
@click.option(
    "--saving",
    metavar="A",
    help="Money that comes in each month; the plan then says what to buy when. "
    "The case's own if neither this nor --budget is given.",
)
@click.option(
    "--minutes",
    metavar="N",
    type=click.IntRange(0, 100_000),
    help="Working time for all fixes together [min]; the case's own if left out.",
)
@click.option(
    "--reach",
    metavar="SCORE=VALUE",
    multiple=True,
    help="Reach this for the least money: rula, rosa, strain or a region, as rosa=4 or neck=0.5. Repeatable.",
)
@click.option("--must", metavar=FIX, multiple=True, help="A fix that has to be in the plan. Repeatable.")
@click.option("--never", metavar=FIX, multiple=True, help="A fix that must not be in the plan. Repeatable.")
@click.option(
    "--prove", is_flag=True, help="Have a second engine come to the same plan. Not together with --time."
)
@click.option(
    "--every-gain",
    is_flag=True,
    help="The best plan itself, with every step that takes anything off, however little.",
)
@click.option(
    "--worth",
    "ask_worth",
    is_flag=True,
    help="Also say up to which price each thing is worth buying, what else would do, and what stays open.",
)
@click.option(
    "--within",
    metavar="PERCENT",
    type=click.IntRange(0, 100),
    default=5,
    show_default=True,
    help="With --worth: how much more strain a plan that does without a thing may leave.",
)
@click.option(
    "--sure",
    "samples",
    metavar="N",
    type=click.IntRange(1, 1000),
    help="Also plan again N times, as 40, with measures, prices and limits drawn from what they may be, and "
    "say how often each fix stays and what to measure again.",
)
@click.option(
    "--seed",
    metavar="N",
    type=click.IntRange(0, 2**32 - 1),
    default=1,
    show_default=True,
    help="With --sure: where chance begins; the same number draws the same samples.",
)
@click.option(
    "--steps",
    is_flag=True,
    help="Also say how each step is done and why, what comes after, and how the plan is proven.",
)
@click.option(
    "--time",
    "seconds",
    metavar="S",
    type=click.FloatRange(min=0, min_open=True, max=1_000_000),
    help="Most seconds to search at this budget alone; without it the search goes on until the plan is "
    "proven best.",
)
@shared("catalog", "learned", "prices", "today")
def plan_command(
    given: Shared,
    case_file: str,
    budget: str | None,
    saving: str | None,
    minutes: int | None,
    reach: tuple[str, ...],
    must: tuple[str, ...],
    never: tuple[str, ...],
    prove: bool,
    every_gain: bool,
    ask_worth: bool,
    within: int,
    samples: int | None,
    seed: int,
    steps: bool,
    seconds: float | None,
) -> int:
    """Find the fixes that take most strain off, and the order to do them in.

    CASE is a case file. The plan is the best within money, time and skill, without steps that make no
    difference that can be told, and it is checked again without the optimiser before it is shown. Shown is
    the short list: what to do and buy, in order. Without a budget it goes as far as money buys much. With
    --reach it is the cheapest that brings each score to its value or under, then the quickest; a region's
    strain counts as in the plan, with the person's weights. With money that comes in month by month it is the
    purchases and dates that leave least strain over all days to the horizon. Exit code 1: no plan keeps to
    the limits or reaches the goals. Exit code 3: the search ended before the plan was proven best.
    """
    from deskmend.planning.budgets import EveryBudget
    from deskmend.planning.plan import planned
    from deskmend.planning.reach import goals_of, split_goals
    from deskmend.planning.ready_case import prepare
    from deskmend.report.plan import plan_document, plan_text

    if prove and seconds is not None:
        raise click.BadOptionUsage(
            "--prove", "--prove and --time do not go together: a proof takes what it takes"
        )
    if ask_worth and reach:
        raise click.BadOptionUsage(
            "--worth", "--worth and --reach do not go together: a thing is worth what strain it takes off"
        )
    if samples is not None and reach:
        raise click.BadOptionUsage(
            "--sure", "--sure and --reach do not go together: samples look for the least strain"
        )
    offered = {"--budget": budget, "--saving": saving}
    (case, catalog, prices, notes), (goals, money) = given.inputs_and(
        case_file,
        lambda currency: read_each(
            partial(goals_of, split_goals(reach)), partial(amounts, offered, currency)
        ),
        {"--must": must, "--never": never},
    )
    with given.waiting(tr("searching for the best plan")):
        ready = prepare(case, catalog, prices, must, never)
        every = EveryBudget(ready, case.means.minutes if minutes is None else minutes)
        best = planned(
            ready,
            money["--budget"],
            minutes,
            notes=notes,
            seconds=seconds,
            goals=goals,
            prove=prove,
            saving=money["--saving"],
            every=every,
            every_gain=every_gain,
        )
    worth = None
    if ask_worth:
        from deskmend.planning.worth import worth_of

        with given.waiting(tr("planning again at other prices")):
            worth = worth_of(ready, best.limit, best.minutes_limit, within, every)
    sure = None
    if samples is not None:
        from deskmend.planning.sure import sure_of
        from deskmend.processes import usable_cores

        with given.waiting(tr("planning again with measures off")):
            money_limit, time_limit = best.limit, best.minutes_limit
            taken = [step.option for step in best.steps]
            sure = sure_of(
                case,
                catalog,
                prices,
                money_limit,
                time_limit,
                samples,
                seed,
                must,
                never,
                plan=taken,
                every=every,
                processes=usable_cores(),
            )
    given.remark(best.warnings, on_page=True)

    def document() -> PlanDocument:
        told = plan_document(best, catalog)
        if worth is not None:
            from deskmend.report.worth import worth_document

            told["worth"] = worth_document(worth, best.currency)
        if sure is not None:
            from deskmend.report.worth import sure_document

            told["sure"] = sure_document(sure)
        return told

    def page() -> None:
        emit_page(plan_text, best, catalog, prices, steps)
        if worth is not None:
            from deskmend.report.worth import worth_text

            emit_page(worth_text, worth, best, catalog)
        if sure is not None:
            from deskmend.report.worth import sure_text

            emit_page(sure_text, sure, best)

    given.answer(document, page)
    return output.DONE if best.proven else output.NOT_PROVEN


@click.command("compare", short_help="Show the best plan at every budget, and what changes.")
@click.argument("case_file", metavar="CASE")
@click.option("--at", metavar="A,B,C", help="Only these budgets, side by side, as 0,20,50.")
@click.option(
    "--plot",
    metavar="FILE.svg|png",
    help="Draw strain left over money spent; a file of that name is replaced.",
)
@click.option(
    "--every-gain",
    is_flag=True,
    help="The best plan of all at every budget, also where it cannot be told from the one before.",
)
@click.option("--beside", "other_file", metavar="CASE2", help="Set another case beside this one instead.")
@click.option(
    "--with", "fixes", metavar=FIX, multiple=True, help="With --beside: a fix done in CASE. Repeatable."
)
@click.option(
    "--beside-with",
    "others",
    metavar=FIX,
    multiple=True,
    help="With --beside: one done in CASE2. Repeatable.",
)
@click.option(
    "--out",
    metavar="FILE.html",
    help="With --beside: write both with their drawings as a page too; a file of that name is replaced.",
)
@shared("catalog", "learned", "prices", "today")
def compare_command(
    given: Shared,
    case_file: str,
    at: str | None,
    every_gain: bool,
    plot: str | None,
    other_file: str | None,
    fixes: tuple[str, ...],
    others: tuple[str, ...],
    out: str | None,
) -> int:
    """Show what each budget buys, or two workplaces side by side.

    CASE is a case file. Without --at, every budget is found at which the plan changes, from the least up,
    with what comes in and what is dropped: plans that can be told apart, whatever measures and estimates may
    be off. The budget and saving of the case are not looked at, its limit of minutes and its wishes are. With
    --beside nothing is planned: two cases, or one twice with other fixes, are assessed and set side by side
    in strain, scores, measures and drawings. Exit code 1: what must be in the plan cannot be had.
    """
    if other_file is not None:
        if at is not None or plot is not None or every_gain:
            raise click.BadOptionUsage("--beside", "--beside goes with neither --at, --plot nor --every-gain")
        return _beside(given, (case_file, other_file), (fixes, others), out)
    if fixes or others or out is not None:
        raise click.BadOptionUsage("--with", "--with, --beside-with and --out take --beside CASE2")
    from deskmend.planning.budgets import compared
    from deskmend.planning.ready_case import prepare
    from deskmend.report.budgets import comparison_document, comparison_text

    if plot is not None and not plot.lower().endswith((".svg", ".png")):
        raise InputFaults([option_fault("--plot", plot, "a name that ends in .svg or .png")])
    if plot is not None:
        refuse_target(Path(plot))
    (case, catalog, prices, notes), budgets = given.inputs_and(case_file, partial(amount_list, "--at", at))
    with given.waiting(tr("looking for every budget")):
        found = compared(prepare(case, catalog, prices), budgets, notes, every_gain)
    if plot is not None:
        _draw(Path(plot), found)
    given.remark(found.warnings, on_page=True)
    given.answer(lambda: comparison_document(found), lambda: emit_page(comparison_text, found, catalog))
    return output.DONE if found.proven else output.NOT_PROVEN


def _draw(path: Path, found: Comparison) -> None:
    from deskmend.report.drawing.plot import plot_of, plot_png, plot_svg

    curve = plot_of(found)
    write_new(path, plot_svg(curve) if path.suffix.lower() == ".svg" else plot_png(curve), force=True)


def _beside(
    given: Shared,
    files: tuple[str, str],
    fixes: tuple[Sequence[str], Sequence[str]],
    out: str | None,
) -> int:
    """Two workplaces side by side."""
    from deskmend.planning.assessment import assess, beside
    from deskmend.report.assessment import beside_document, beside_text

    if out is not None:
        refuse_other_than_page(out)
    options = "--with", "--beside-with"
    try:
        told = read_each(*(partial(given.inputs, file) for file in files))
    except InputFaults as error:
        names = zip(files, options, fixes, strict=True)
        raise error.beside(
            *(partial(given.misnamed, file, {one: asked}) for file, one, asked in names)
        ) from None
    found = read_each(
        *(
            partial(assess, *inputs[:3], asked, inputs.notes, option)
            for inputs, asked, option in zip(told, fixes, options, strict=True)
        )
    )
    pair = beside(*found)
    if out is not None:
        from deskmend.report.html.page import beside_html

        write_new(Path(out), beside_html(pair), force=True)
    given.remark(dict.fromkeys([*found[0].warnings, *found[1].warnings]), on_page=False)
    given.answer(lambda: beside_document(pair), lambda: emit_page(beside_text, pair))
    return output.DONE


@click.command("report", short_help="Write the page to read, print and act on.")
@click.argument("case_file", metavar="CASE")
@click.option(
    "--out",
    metavar="FILE.html",
    required=True,
    help="Where the page goes; a file of that name is replaced.",
)
@click.option("--budget", metavar="A", help="Plan shown first, as 40.00; the case's own if left out.")
@click.option("--at", metavar="A,B,C", help="Only these budgets, as 0,20,50; else every one that matters.")
@click.option(
    "--worth",
    "ask_worth",
    is_flag=True,
    help="Say too up to which price each thing is worth buying; that can take minutes.",
)
@click.option(
    "--sure",
    "samples",
    metavar="N",
    type=click.IntRange(1, 1000),
    help="Say too how sure the plan is, from planning again N times, as 40; that can take minutes.",
)
@click.option(
    "--dates",
    "ask_dates",
    is_flag=True,
    help="Say too what to buy when, from the case's saving per month; that can take minutes.",
)
@click.option("--must", metavar=FIX, multiple=True, help="A fix that has to be in the plans. Repeatable.")
@click.option("--never", metavar=FIX, multiple=True, help="A fix that must not be in the plans. Repeatable.")
@click.option(
    "--with",
    "fixes",
    metavar=FIX,
    multiple=True,
    help="One plan alone, of exactly the fixes named. Repeatable; not together with other wishes.",
)
@click.option(
    "--for",
    "reader",
    type=click.Choice(["worker", "employer", "assessor"]),
    help="This reader's part alone; the employer's tells nothing of anybody's health.",
)
@click.option(
    "--sender",
    "sender_file",
    metavar="FILE",
    help="Who hands it over: a file of format deskmend-sender/1 with name, address, contact, date, reference "
    "and notes.",
)
@shared("catalog", "learned", "prices")
def report_command(
    given: Shared,
    case_file: str,
    out: str,
    budget: str | None,
    at: str | None,
    ask_worth: bool,
    samples: int | None,
    ask_dates: bool,
    must: tuple[str, ...],
    never: tuple[str, ...],
    fixes: tuple[str, ...],
    reader: Reader | None,
    sender_file: str | None,
) -> int:
    """Write one page about a workplace: for the worker, for the owner or employer, and for the assessor.

    CASE is a case file. The page is one file that needs no network and asks for nothing. It shows the best
    plan at every budget; a slider moves between them, and without script a table shows them all. A plan
    changed by hand, with --must, --never or --with, is told as such, with what that costs against the best.
    Exit code 1: what must be in the plan cannot be had. Exit code 3: not every plan is proven best.
    """
    from deskmend.intake.case_file import load_sender
    from deskmend.planning.by_hand import plans_by_hand
    from deskmend.planning.plan import budget_plans, planned
    from deskmend.report.html.page import page_html

    if fixes and (must or never or at or ask_dates or ask_worth or samples is not None):
        raise click.BadOptionUsage(
            "--with",
            "--with shows one plan alone: not with --must, --never, --at, --dates, --worth or --sure",
        )
    if reader == "employer" and (ask_dates or ask_worth or samples is not None):
        raise click.BadOptionUsage(
            "--for", "--for employer tells none of that: not with --dates, --worth or --sure"
        )

    (case, catalog, prices, notes), (_, sender, amount, budgets) = given.inputs_and(
        case_file,
        lambda currency: read_each(
            partial(refuse_other_than_page, out),
            lambda: None if sender_file is None else load_sender(sender_file),
            partial(amounts, {"--budget": budget}, currency),
            partial(amount_list, "--at", at, currency),
        ),
        {"--must": must, "--never": never, "--with": fixes},
    )
    if ask_dates and not case.means.saving_per_month:
        raise click.BadOptionUsage("--dates", "--dates takes a saving_per_month in the case")
    money = amount["--budget"]
    with given.waiting(tr("looking for every budget")):
        if fixes:
            plans = plans_by_hand(case, catalog, prices, fixes, money, notes)
        else:
            plans = budget_plans(case, catalog, prices, money, budgets, notes, must=must, never=never)
        worth = _worth(plans, catalog) if ask_worth else []
        if samples is not None:
            worth += _sure(plans, case, catalog, prices, samples, must, never)
        dated = None
        if ask_dates:
            saving, every = plans.saving, plans.every
            dated = planned(every.ready, money, notes=notes, saving=saving, every=every)
        page = page_html(plans, catalog, prices, worth, dated, reader, sender)
    write_new(Path(out), page, force=True)
    given.remark(plans.plans[plans.chosen].warnings)
    given.written(out, tr("{file} is written. Open it in any browser, or print it.", file=visible(out, None)))
    return output.DONE if plans.comparison.proven else output.NOT_PROVEN


def _worth(plans: BudgetPlans, catalog: Catalog) -> list[Fold]:
    """What things are worth within the money at hand."""
    from deskmend.planning.worth import worth_of
    from deskmend.report.worth import worth_folds

    chosen = plans.plans[plans.chosen]
    limit = plans.budget if plans.enough else chosen.cost
    found = worth_of(plans.every.ready, limit, chosen.minutes_limit, every=plans.every)
    return worth_folds(found, chosen, catalog)


def _sure(
    plans: BudgetPlans,
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    samples: int,
    must: Sequence[str],
    never: Sequence[str],
) -> list[Fold]:
    """How sure the plan for the money at hand is."""
    from deskmend.planning.sure import sure_of
    from deskmend.processes import usable_cores
    from deskmend.report.worth import sure_folds

    chosen = plans.plans[plans.chosen]
    limit = plans.budget if plans.enough else chosen.cost
    taken = [step.option for step in chosen.steps]
    sure = sure_of(
        case,
        catalog,
        prices,
        limit,
        chosen.minutes_limit,
        samples,
        must=must,
        never=never,
        plan=taken,
        every=plans.every,
        processes=usable_cores(),
    )
    return sure_folds(sure, chosen)
