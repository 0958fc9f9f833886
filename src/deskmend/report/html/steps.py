"""The worker's part of a page: what it says for one budget, and how each step is done."""

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
from deskmend.report.plan import reserve_text
from deskmend.report.steps import (
    TODAY,
    add_instructions,
    gains_of,
    leave_text,
    look_text,
    purchase_text,
    step_title,
    used_text,
    when_of,
    why_text,
)
from deskmend.report.words import minutes_text, money_text, region_word, strain_text

__all__ = ["BuyLine", "Card", "RegionBar", "RungView", "StepLine", "cards_of", "rung_view"]


@dataclass(frozen=True)
class StepLine:
    """One step in a list."""

    number: int
    text: str
    leave: str
    card: str


@dataclass(frozen=True)
class BuyLine:
    """One thing to buy, and what to look at when buying it."""

    text: str
    ask: str


@dataclass(frozen=True)
class RegionBar:
    """Strain of one part of the body now and then, as text and as shares of the longest bar [-]."""

    part: str
    now: str
    then: str
    now_share: float
    then_share: float


@dataclass(frozen=True)
class RungView:
    """What is shown for one budget: what needs nothing bought, what is bought, what is made after that."""

    number: int
    money: str
    name: str
    summary: tuple[str, ...]
    today: tuple[StepLine, ...]
    buy: tuple[BuyLine, ...]
    total: str
    make: tuple[StepLine, ...]
    only_if: tuple[str, ...]
    bars: tuple[RegionBar, ...]


@dataclass(frozen=True)
class Card:
    """How one fix is done, for all budgets whose plan holds it.

    `key` is its anchor on the page; each reason has the budgets for which it reads so; `pieces` is the
    drawing of what is cut, empty where nothing is.
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
    """One plan as short lists; `number` is its place among the budgets, `keys` the anchor of each fix."""
    lines = [
        StepLine(position, gain, leave_text(step.option), keys[step.option.with_name])
        for position, (step, gain) in enumerate(zip(plan.steps, gains_of(plan), strict=True), start=1)
    ]
    today = [line for line, when in zip(lines, when_of(plan), strict=True) if when == TODAY]
    money = money_text(plan.cost, plan.currency)
    return RungView(
        number,
        money,
        tr("{money}, strain {left}", money=money, left=strain_text(plan.after.total)),
        tuple(_summary(plan, money)),
        tuple(today),
        tuple(
            BuyLine(
                purchase_text(line, plan.currency, catalog) + used_text(line.item, prices),
                tr(catalog.items[line.item].ask or ""),
            )
            for line in plan.bill.lines
        ),
        money,
        tuple(lines[len(today) :]),
        tuple(dict.fromkeys(reserve_text(reserve, plan.currency) for reserve in plan.watch_for)),
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


def _bars(plan: Plan) -> tuple[RegionBar, ...]:
    now, then = plan.before.by_region, plan.after.by_region
    longest = max(*now.values(), *then.values(), 1)
    return tuple(
        RegionBar(
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
    """How each fix is done, once each: those of the plan shown first in its order, then the others."""
    found: dict[tuple[str, Markup, Markup], dict[int, OrderedStep]] = {}
    for number, plan in enumerate(plans):
        for step in plan.steps:
            blocks = Blocks(4)
            add_instructions(blocks, step, plan, catalog, prices)
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
    return Card(
        key,
        step_title(option, plan.state_before),
        option.with_name,
        tuple(steps),
        tuple((why, tuple(numbers)) for why, numbers in reasons.items()),
        text,
        pieces,
        look_text(option),
    )
