"""``deskmend report``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.files import refuse_other_than_page, write_new
from deskmend.cli.options import FIX, Shared, amount_list, amounts, shared
from deskmend.errors import visible
from deskmend.language import tr

if TYPE_CHECKING:
    from deskmend.intake.case import Case
    from deskmend.intake.catalog import Catalog
    from deskmend.intake.prices import PriceTable
    from deskmend.planning.plan import BudgetPlans
    from deskmend.report.html.page import Reader
    from deskmend.report.layout import Fold


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
    from deskmend.intake.sender import load_sender
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

    refuse_other_than_page(out)
    sender = None if sender_file is None else load_sender(sender_file)
    case, catalog, prices, notes = given.inputs(case_file)
    if ask_dates and not case.means.saving_per_month:
        raise click.BadOptionUsage("--dates", "--dates takes a saving_per_month in the case")
    money = amounts({"--budget": budget}, prices.currency)["--budget"]
    budgets = amount_list("--at", at, prices.currency)
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
    from deskmend.report.sure import sure_folds

    chosen = plans.plans[plans.chosen]
    limit = plans.budget if plans.enough else chosen.cost
    taken = [step.option for step in chosen.steps]
    sure = sure_of(
        case, catalog, prices, limit, chosen.minutes_limit, samples, must=must, never=never, plan=taken
    )
    return sure_folds(sure, chosen)
