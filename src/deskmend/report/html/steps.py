"""The worker's part of a page: what it says for one budget, and how each step is done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.language import tr
from deskmend.planning.bill import cut_pieces
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan import Plan
from deskmend.planning.selection import FixKey, key_of
from deskmend.planning.stages import Stage
from deskmend.report.causes import most_left_text
from deskmend.report.drawing.cuts import cut_drawing
from deskmend.report.html.blocks import Blocks
from deskmend.report.plan import complaints_of, how_sure_text, left_of, no_steps_text, reserve_texts
from deskmend.report.stages import (
    Done,
    done_of,
    line_texts,
    no_sum_text,
    nothing_text,
    rights_of,
    stage_title,
    why_of,
)
from deskmend.report.steps import (
    add_instructions,
    ask_text,
    leave_text,
    purchase_text,
    recheck_text,
    step_title,
    used_text,
    why_numbers,
)
from deskmend.report.words import minutes_text, money_text, region_word, strain_text, total_text

__all__ = ["BuyLine", "Card", "RegionBar", "RungView", "StageView", "StepLine", "cards_of", "rung_view"]


@dataclass(frozen=True)
class StepLine:
    """One thing that is done for a stage.

    `share` and `had` are the strain left once it is done, and before, of the most there is [-]; `tick`
    names it where it is ticked off; `together` says which steps only help together.
    """

    number: int
    new: bool
    later: bool
    text: str
    leave: str
    card: str
    share: float
    had: float
    left: str
    tick: str
    together: str


@dataclass(frozen=True)
class BuyLine:
    """One thing to buy, and what to look at when buying it."""

    text: str
    ask: str
    tick: str


@dataclass(frozen=True)
class StageView:
    """One stage: what is bought for it, and what is done then; `nothing` says that nothing is."""

    title: str
    buy: tuple[BuyLine, ...]
    total: str
    lines: tuple[StepLine, ...]
    nothing: str
    kept: str


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
    """What is shown for one budget; `running` says whether there are steps with bars."""

    number: int
    money: str
    name: str
    summary: tuple[str, ...]
    stages: tuple[StageView, ...]
    running: bool
    invented: bool
    only_if: tuple[str, ...]
    bars: tuple[RegionBar, ...]
    lines: tuple[str, ...]
    no_sum: str


@dataclass(frozen=True)
class Card:
    """How one fix is done, for all budgets whose plan holds it.

    `key` is its anchor on the page; reasons, the figures behind them, sentences that say when it is right,
    and what to look at after two weeks have the budgets for which they read so; `pieces` is the drawing of
    what is cut, empty where nothing is.
    """

    key: str
    title: str
    name: str
    rungs: tuple[int, ...]
    reasons: tuple[tuple[str, tuple[int, ...]], ...]
    figures: tuple[tuple[str, tuple[int, ...]], ...]
    rights: tuple[tuple[str, tuple[int, ...]], ...]
    text: Markup
    pieces: Markup
    rechecks: tuple[tuple[str, tuple[int, ...]], ...]


def rung_view(
    number: int, plan: Plan, catalog: Catalog, prices: PriceTable, keys: dict[str, str]
) -> RungView:
    """One plan as short lists; `number` is its place among the budgets, `keys` the anchor of each fix."""
    money = money_text(plan.cost, plan.currency)
    stages = tuple(_stage_view(stage, lines, plan, catalog, prices, keys) for stage, lines in done_of(plan))
    total = total_text(plan.cost, plan.currency, plan.invented)
    return RungView(
        number,
        money,
        tr("{money}, strain {left}", money=money, left=strain_text(plan.after.total)),
        tuple(_summary(plan, total)),
        stages,
        any(stage.lines for stage in stages),
        plan.invented and bool(plan.cost),
        tuple(reserve_texts(plan)),
        _bars(plan),
        tuple(line_texts(plan)),
        no_sum_text(plan),
    )


def _stage_view(
    stage: Stage,
    lines: Sequence[Done],
    plan: Plan,
    catalog: Catalog,
    prices: PriceTable,
    keys: dict[str, str],
) -> StageView:
    most = max(
        plan.before.total, *(line.change.strain_after for _, found in done_of(plan) for line in found), 1
    )
    at = plan.stages.index(stage)
    start = plan.stages[at - 1].strain if at else plan.before.total
    befores = [start, *(line.change.strain_after for line in lines)][: len(lines)]
    numbers = {key_of(line.change.option): line.number for _, found in done_of(plan) for line in found}
    return StageView(
        stage_title(stage),
        tuple(
            BuyLine(
                purchase_text(line, plan.currency, catalog) + used_text(line.item, prices),
                ask_text(catalog.items[plain_item(line.item)], prices),
                f"buy {line.item}",
            )
            for line in stage.buys
        ),
        total_text(sum(line.cost for line in stage.buys), plan.currency, plan.invented),
        tuple(
            StepLine(
                line.number,
                line.new,
                not stage.is_today,
                f"{line.text}.",
                leave_text(line.change.option),
                keys[line.change.option.with_name],
                line.change.strain_after / most,
                had / most,
                strain_text(line.change.strain_after),
                f"step {line.change.option.with_name}",
                _together(line, plan, numbers),
            )
            for line, had in zip(lines, befores, strict=True)
        ),
        nothing_text(stage, plan),
        "; ".join(purchase_text(line, plan.currency, catalog) for line in stage.kept),
    )


def _together(line: Done, plan: Plan, numbers: Mapping[FixKey, int]) -> str:
    """Which steps only help together, said at the first of them; empty elsewhere."""
    of = plan.line_of.get(key_of(line.change.option))
    if of is None or len(of.options) < 2 or not line.new:
        return ""
    steps = sorted(numbers[key_of(option)] for option in of.options if key_of(option) in numbers)
    if line.number != steps[0]:
        return ""
    cost = sum(step.cost for step in plan.steps if step.option in of.options)
    return tr(
        "Only together: steps {steps}. They take off {strain} for {cost}.",
        steps=", ".join(map(str, steps)),
        strain=strain_text(of.leaving_out),
        cost=money_text(cost, plan.currency),
    )


def _summary(plan: Plan, money: str) -> list[str]:
    left = [most_left_text(left_of(plan)), *complaints_of(plan)]
    if not plan.steps:
        return [no_steps_text(plan), *left]
    cost = tr("This plan costs {money}.", money=money) if plan.cost else tr("This plan costs nothing.")
    return [
        cost,
        tr("The work takes {time}.", time=minutes_text(plan.minutes)) if plan.minutes else "",
        tr(
            "Strain is {before} a day now. With this plan it is {after}.",
            before=strain_text(plan.before.total),
            after=strain_text(plan.after.total),
        ),
        how_sure_text(plan),
        *left,
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
    """How each fix is done at each size, once each: those of the plan shown first, then the others."""
    found: dict[tuple[str, Markup, Markup], dict[int, Done]] = {}
    names: dict[int, list[str]] = {}
    for number, plan in enumerate(plans):
        coming = [line for _, lines in done_of(plan) for line in lines if line.change.after is not None]
        coming.sort(key=lambda line: line.number)
        names[number] = list(dict.fromkeys(line.change.option.with_name for line in coming))
        for line in coming:
            option, state = line.change.option, line.stage.state
            blocks = Blocks(4)
            add_instructions(
                blocks, option, line.change.takes, state, catalog, prices, line.change.state_before
            )
            pieces = Markup(cut_drawing(cut_pieces(option, state)))
            found.setdefault((option.with_name, blocks.html(), pieces), {}).setdefault(number, line)
    whole = [name for number in (chosen, *reversed(range(len(plans)))) for name in names[number]]
    order = sorted(found, key=lambda one: (chosen not in found[one], whole.index(one[0])))
    return [
        _card(f"step-{position}", found[one], one[1], one[2], plans)
        for position, one in enumerate(order, start=1)
    ]


def _card(key: str, lines: Mapping[int, Done], text: Markup, pieces: Markup, plans: Sequence[Plan]) -> Card:
    option = next(iter(lines.values())).change.option
    whys = {n: [why_of(line.change)] for n, line in lines.items()}
    figures = {
        n: [why_numbers(line.change.state_before, line.change.state_after)] for n, line in lines.items()
    }
    rights = {n: rights_of(plans[n], line.change.option) for n, line in lines.items()}
    looks = {n: recheck_text(option, plans[n].state_after) for n in lines if _in_the_end(option, plans[n])}
    return Card(
        key,
        step_title(option, plans[0].state_before),
        option.with_name,
        tuple(lines),
        _by_text(whys),
        _by_text({n: [text for text in told if text] for n, told in figures.items()}),
        _by_text(rights),
        text,
        pieces,
        _by_text({number: [look] if look else [] for number, look in looks.items()}),
    )


def _in_the_end(option: OptionSpec, plan: Plan) -> bool:
    return any(one.with_name == option.with_name for one in plan.stages[-1].options)


def _by_text(texts: Mapping[int, Sequence[str]]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Each text once, with the budgets for which it is said."""
    out: dict[str, list[int]] = {}
    for number, told in texts.items():
        for text in told:
            out.setdefault(text, []).append(number)
    return tuple((text, tuple(numbers)) for text, numbers in out.items())
