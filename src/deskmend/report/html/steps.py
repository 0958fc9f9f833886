"""What the worker's part of a page says for one budget, and how each step is done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.planning.bill import cut_pieces
from deskmend.planning.order import OrderedStep
from deskmend.planning.plan import Plan
from deskmend.report.drawing.cuts import cut_drawing
from deskmend.report.html.blocks import Blocks
from deskmend.report.plan import ASK_FIRST, add_instructions, gain_text, purchase_text, used_text
from deskmend.report.steps import TODAY, filled, step_title, when_of, why_text
from deskmend.report.words import minutes_text, money_text, region_word, strain_text

__all__ = ["Bar", "Card", "Purchase", "RungView", "StepLine", "cards_of", "rung_view"]


@dataclass(frozen=True)
class StepLine:
    """One step in a list."""

    number: int
    text: str
    leave: str
    card: str


@dataclass(frozen=True)
class Purchase:
    """One thing to buy, and what to look at when buying it."""

    text: str
    ask: str


@dataclass(frozen=True)
class Bar:
    """Strain of one part of the body now and then, as text and as shares of the longest bar [-]."""

    part: str
    now: str
    then: str
    now_share: float
    then_share: float


@dataclass(frozen=True)
class RungView:
    """What is shown for one budget.

    Attributes
    ----------
    number : int
        Position among the budgets, from 0.
    money, name : str
        Cost in words, alone and with the strain left.
    summary : tuple of str
        Short sentences.
    today, make : tuple of StepLine
        Steps that need nothing bought, and those after the shopping.
    buy : tuple of Purchase
        What is bought.
    total : str
        What all that costs.
    only_if : tuple of str
        Advice for what may happen.
    bars : tuple of Bar
        Strain by part of the body.
    """

    number: int
    money: str
    name: str
    summary: tuple[str, ...]
    today: tuple[StepLine, ...]
    buy: tuple[Purchase, ...]
    total: str
    make: tuple[StepLine, ...]
    only_if: tuple[str, ...]
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class Card:
    """How one fix is done, for all budgets whose plan holds it.

    Attributes
    ----------
    key : str
        Anchor on the page.
    title, name : str
        Its name with its size, for people and as commands take it.
    rungs : tuple of int
        Budgets whose plan holds it.
    reasons : tuple of (str, tuple of int)
        Why it is there, with the budgets for which it reads so.
    text : Markup
        What it takes, how it is done, what to mind.
    pieces : Markup
        Drawing of what is cut; empty where nothing is.
    recheck : str
        What to look at after two weeks.
    """

    key: str
    title: str
    name: str
    rungs: tuple[int, ...]
    reasons: tuple[tuple[str, tuple[int, ...]], ...]
    text: Markup
    pieces: Markup
    recheck: str


def rung_view(
    number: int, plan: Plan, catalog: Catalog, prices: PriceTable, keys: dict[str, str]
) -> RungView:
    """Put one plan into short lists.

    Parameters
    ----------
    number : int
        Position among the budgets, from 0.
    plan : Plan
        The plan.
    catalog : Catalog
        For titles.
    prices : PriceTable
        For what is sold second hand.
    keys : dict
        Anchor of each fix by its name.
    """
    lines, strain = [], plan.before.total
    for position, step in enumerate(plan.steps, start=1):
        text = f"{step_title(step.option, plan.state_before)}{gain_text(strain, step)}"
        leave = step.option.fix.leave
        asks = tr(ASK_FIRST[leave]) if leave != "none" else ""
        lines.append(StepLine(position, text, asks, keys[step.option.with_name]))
        strain = step.strain_after
    today = [line for line, when in zip(lines, when_of(plan), strict=True) if when == TODAY]
    money = money_text(plan.cost, plan.currency)
    return RungView(
        number,
        money,
        tr("{money}, strain {left}", money=money, left=strain_text(plan.after.total)),
        tuple(_summary(plan, money)),
        tuple(today),
        tuple(
            Purchase(
                purchase_text(line, plan, catalog) + used_text(line.item, prices), _ask(line.item, catalog)
            )
            for line in plan.bill.lines
        ),
        money,
        tuple(lines[len(today) :]),
        tuple(_only_if(plan)),
        _bars(plan),
    )


def _summary(plan: Plan, money: str) -> list[str]:
    if not plan.steps:
        return [tr("Nothing that can be had for this money takes strain off.")]
    cost = tr("This plan costs {money}.", money=money) if plan.cost else tr("This plan costs nothing.")
    return [
        cost,
        tr("The work takes {time}.", time=minutes_text(plan.minutes)) if plan.minutes else "",
        tr(
            "Strain is {before} a day now. With this plan it is {after}.",
            before=strain_text(plan.before.total),
            after=strain_text(plan.after.total),
        ),
    ]


def _ask(item: str, catalog: Catalog) -> str:
    ask = catalog.items[item].ask
    return tr(ask) if ask else ""


def _only_if(plan: Plan) -> list[str]:
    out: list[str] = []
    for reserve in plan.watch_for:
        happens, then = (filled(text, reserve.option) for text in (reserve.watch.happens, reserve.watch.then))
        told = [tr("{happens} Then: {then}", happens=happens, then=then)]
        if reserve.cost is None:
            told.append(tr("There is no price for it here."))
        elif reserve.cost:
            told.append(tr("Keep {cost} back for it.", cost=money_text(reserve.cost, plan.currency)))
        out.append(" ".join(told))
    return list(dict.fromkeys(out))


def _bars(plan: Plan) -> tuple[Bar, ...]:
    now, then = plan.before.by_region, plan.after.by_region
    longest = max(*now.values(), *then.values(), 1)
    return tuple(
        Bar(
            region_word(region),
            strain_text(now[region]),
            strain_text(then[region]),
            now[region] / longest,
            then[region] / longest,
        )
        for region in now
        if now[region] or then[region]
    )


def cards_of(plans: Sequence[Plan], chosen: int, catalog: Catalog, prices: PriceTable) -> list[Card]:
    """How each fix is done, once each: those of the plan shown first in its order, then the others.

    Parameters
    ----------
    plans : sequence of Plan
        One a budget.
    chosen : int
        Number of the plan shown first, from 0.
    catalog : Catalog
        For titles.
    prices : PriceTable
        For what is sold second hand.
    """
    found: dict[tuple[str, Markup, Markup], dict[int, OrderedStep]] = {}
    for number, plan in enumerate(plans):
        for step in plan.steps:
            blocks = Blocks(4)
            add_instructions(blocks, step.option, step.minutes, plan, catalog, prices)
            pieces = Markup(cut_drawing(cut_pieces(step.option, plan.state_after)))
            found.setdefault((step.option.with_name, blocks.html(), pieces), {})[number] = step
    names = [step.option.with_name for plan in (plans[chosen], *reversed(plans)) for step in plan.steps]
    order = sorted(found, key=lambda one: (chosen not in found[one], names.index(one[0])))
    return [
        _card(f"step-{position}", found[one], one[1], one[2], plans[0])
        for position, one in enumerate(order, start=1)
    ]


def _card(key: str, steps: dict[int, OrderedStep], text: Markup, pieces: Markup, plan: Plan) -> Card:
    reasons: dict[str, list[int]] = {}
    for number, step in steps.items():
        reasons.setdefault(why_text(step), []).append(number)
    option = next(iter(steps.values())).option
    look = option.fix.recheck or option.fix.right
    return Card(
        key,
        step_title(option, plan.state_before),
        option.with_name,
        tuple(steps),
        tuple((why, tuple(numbers)) for why, numbers in reasons.items()),
        text,
        pieces,
        filled(look, option) if look is not None else "",
    )
