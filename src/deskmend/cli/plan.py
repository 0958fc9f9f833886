"""``deskmend plan``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.options import FIX, Shared, amounts, shared
from deskmend.cli.output import emit_page
from deskmend.language import tr

if TYPE_CHECKING:
    from deskmend.report.case_documents import PlanDocument


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
    from deskmend.planning.goals import goals_of, split_goals
    from deskmend.planning.plan import planned
    from deskmend.planning.prepared import prepare
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
    goals = goals_of(split_goals(reach))
    case, catalog, prices, notes = given.inputs(case_file)
    money = amounts({"--budget": budget, "--saving": saving}, prices.currency)
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

        with given.waiting(tr("planning again with measures off")):
            money_limit, time_limit = best.limit, best.minutes_limit
            taken = [step.option for step in best.steps]
            sure = sure_of(
                case, catalog, prices, money_limit, time_limit, samples, seed, must, never, plan=taken
            )
    given.remark(best.warnings, on_page=True)

    def document() -> PlanDocument:
        told = plan_document(best, catalog)
        if worth is not None:
            from deskmend.report.worth import worth_document

            told["worth"] = worth_document(worth, best.currency)
        if sure is not None:
            from deskmend.report.sure import sure_document

            told["sure"] = sure_document(sure)
        return told

    def page() -> None:
        emit_page(plan_text, best, catalog, prices, steps)
        if worth is not None:
            from deskmend.report.worth import worth_text

            emit_page(worth_text, worth, best, catalog)
        if sure is not None:
            from deskmend.report.sure import sure_text

            emit_page(sure_text, sure, best)

    given.answer(document, page)
    return output.DONE if best.proven else output.NOT_PROVEN
