"""The worker's part of a page: what it says for one budget or several, and how each step is done."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.language import tr
from deskmend.planning.bill import BillLine, cut_pieces
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan import Plan
from deskmend.planning.stages import Stage
from deskmend.report.assessment import most_left_text
from deskmend.report.cuts import cut_drawing
from deskmend.report.html.blocks import Blocks
from deskmend.report.plan import complaints_of, how_sure_text, left_of, no_steps_text, reserve_texts
from deskmend.report.stages import (
    DoneLine,
    bundle_texts,
    bundle_title,
    done_of,
    groups_of,
    in_buying_order,
    kept_text,
    no_sum_text,
    nothing_text,
    parted_text,
    rights_of,
    stage_title,
    standing_lines,
    stays_text,
    together_text,
    wanting,
    why_of,
)
from deskmend.report.steps import (
    add_instructions,
    after_two_weeks,
    ask_text,
    cautions_of,
    leave_text,
    purchase_text,
    short_text,
    step_title,
    used_text,
    why_numbers,
)
from deskmend.report.words import minutes_text, money_text, region_word, strain_text, total_text

__all__ = [
    "Anchors",
    "BuyLine",
    "Card",
    "LineGroup",
    "RegionBar",
    "RungView",
    "Rungs",
    "StageView",
    "StepLine",
    "cards_of",
    "merged",
    "region_bars",
    "reserves_by_rung",
    "rung_view",
]

Said = TypeVar("Said", bound=Hashable)
Rungs = tuple[int, ...]
"""Budgets by their place among those of a page."""


def merged(lists: Sequence[Sequence[Said]]) -> list[tuple[Said, Rungs]]:
    """One list, each entry with the numbers of the lists that have it; every list keeps its order in it.

    >>> merged([["a", "c"], ["a", "b", "c"], ["c", "a"]])
    [('a', (0, 1)), ('b', (1,)), ('c', (0, 1, 2)), ('a', (2,))]
    """
    out: list[tuple[Said, list[int]]] = []
    for number, entries in enumerate(lists):
        at = 0
        for entry in entries:
            place = next((n for n in range(at, len(out)) if out[n][0] == entry), None)
            if place is None:
                place = at
                out.insert(place, (entry, []))
            out[place][1].append(number)
            at = place + 1
    return [(entry, tuple(numbers)) for entry, numbers in out]


@dataclass(frozen=True)
class StepLine:
    """One thing that is done for a stage.

    `share` and `had` are the strain left once it is done, and before, of the most there is [-]; `tick`
    names it where it is ticked off; `short` and `cautions` are what stands beside it in print; `parted`
    says which steps, others between them, only help together.
    """

    number: int
    new: bool
    undone: bool
    later: bool
    text: str
    leave: str
    card: str
    share: float
    had: float
    left: str
    tick: str
    short: str
    cautions: tuple[str, ...]
    parted: str


@dataclass(frozen=True)
class LineGroup:
    """Lines of a stage that are one thing to do, with what it takes off; one line alone has no `title`."""

    numbers: str
    title: str
    told: str
    lines: tuple[StepLine, ...]

    @property
    def letters(self) -> int:
        """Letters that it takes on paper [-]."""
        said = [self.title, self.told]
        for line in self.lines:
            said += [line.text, line.leave, line.short, *line.cautions, line.parted]
        return sum(map(len, said))


@dataclass(frozen=True)
class BuyLine:
    """One thing to buy, what to look at when buying it, and the steps it is for, each with its anchor."""

    text: str
    ask: str
    tick: str
    steps: tuple[tuple[int, str], ...]


@dataclass(frozen=True)
class StageView:
    """One stage: what is bought for it, and what is done then; `nothing` says that nothing is."""

    title: str
    buy: tuple[BuyLine, ...]
    total: str
    groups: tuple[LineGroup, ...]
    start: str
    nothing: str
    kept: str


@dataclass(frozen=True)
class RegionBar:
    """Strain of one part of the body now and then, as text and as shares of the longest bar [-].

    `then` has the budgets for which it reads so; one scale holds for all of them.
    """

    part: str
    rungs: Rungs
    now: str
    now_share: float
    then: tuple[tuple[tuple[str, float], Rungs], ...]


@dataclass(frozen=True)
class RungView:
    """What is shown for one budget; `running` says whether there are steps with bars."""

    number: int
    money: str
    name: str
    summary: tuple[str, ...]
    sure: tuple[str, ...]
    stages: tuple[StageView, ...]
    running: bool
    invented: bool
    lines: tuple[tuple[str, str], ...]
    no_sum: str

    @property
    def letters(self) -> int:
        """Letters that it takes on paper, with the blank that lines leave which stay on one sheet [-]."""
        groups = [group.letters for stage in self.stages for group in stage.groups]
        said = [*self.summary, *self.sure]
        for stage in self.stages:
            said += [stage.title, stage.nothing, stage.kept]
            said += [part for one in stage.buy for part in (one.text, one.ask)]
        return sum(map(len, said)) + sum(groups) + max(groups, default=0)


@dataclass(frozen=True)
class Card:
    """How one fix is done, for all budgets whose plan holds it.

    `key` is its anchor on the page, `at` the budgets and stages it serves; reasons, the figures behind them,
    sentences that say when it is right, and what to look at after two weeks have the budgets for which they
    read so; `pieces` is the drawing of what is cut, empty where nothing is.
    """

    key: str
    title: str
    name: str
    short: str
    rungs: Rungs
    at: tuple[tuple[int, int], ...]
    reasons: tuple[tuple[str, Rungs], ...]
    figures: tuple[tuple[str, Rungs], ...]
    rights: tuple[tuple[str, Rungs], ...]
    text: Markup
    pieces: Markup
    rechecks: tuple[tuple[str, Rungs], ...]


class Anchors:
    """Where on the page it stands how a fix is done, for one budget, stage by stage."""

    def __init__(self, cards: Iterable[Card], number: int) -> None:
        self._keys = {(stage, card.name): card.key for card in cards for n, stage in card.at if n == number}

    def of(self, option: OptionSpec, stage: int) -> str:
        """Anchor of a fix as it is in a stage, or was last before it."""
        found = (self._keys.get((at, option.with_name)) for at in range(stage, -1, -1))
        return next(key for key in found if key is not None)


def rung_view(number: int, plan: Plan, catalog: Catalog, prices: PriceTable, anchors: Anchors) -> RungView:
    """One plan as short lists; `number` is its place among the budgets."""
    money = money_text(plan.cost, plan.currency)
    found = list(done_of(plan))
    stages = tuple(
        _stage_view(at, stage, lines, plan, catalog, prices, anchors)
        for at, (stage, lines) in enumerate(found)
    )
    last = len(plan.stages) - 1
    total = total_text(plan.cost, plan.currency, plan.invented)
    return RungView(
        number,
        money,
        tr("{money}, strain {left}", money=money, left=strain_text(plan.after.total)),
        tuple(_summary(plan, total)),
        tuple(_sure(plan)),
        stages,
        any(stage.groups for stage in stages),
        plan.invented and bool(plan.cost),
        tuple(
            (text, anchors.of(bundle.head, last))
            for text, bundle in zip(bundle_texts(plan), plan.bundles, strict=True)
        ),
        no_sum_text(plan),
    )


def _stage_view(
    at: int,
    stage: Stage,
    lines: Sequence[DoneLine],
    plan: Plan,
    catalog: Catalog,
    prices: PriceTable,
    anchors: Anchors,
) -> StageView:
    most = max(
        plan.before.total, *(line.change.strain_after for _, found in done_of(plan) for line in found), 1
    )
    start = plan.stages[at - 1].strain if at else plan.before.total
    befores = [start, *(line.change.strain_after for line in lines)][: len(lines)]
    views = {
        id(line): StepLine(
            line.number,
            line.new,
            line.change.after is None,
            not stage.is_today,
            f"{line.text}.",
            leave_text(line.change.option),
            anchors.of(line.change.option, at),
            line.change.strain_after / most,
            had / most,
            strain_text(line.change.strain_after),
            f"step {line.change.option.with_name}",
            _short(line),
            tuple(cautions_of(line.change.after, stage.state)) if line.change.after else (),
            parted_text(line, plan),
        )
        for line, had in zip(lines, befores, strict=True)
    }
    groups = []
    for group in groups_of(lines, plan):
        title = told = ""
        inside = tuple(views[id(line)] for line in group.lines)
        if group.of is not None:
            title, told = f"{bundle_title(group.of, plan)}.", together_text(group.of, plan)
            # said once for all of them
            inside = tuple(replace(line, parted="") for line in inside)
        groups.append(LineGroup(group.numbers, title, told, inside))
    return StageView(
        stage_title(stage),
        tuple(_buy_line(line, at, plan, catalog, prices, anchors) for line in in_buying_order(stage, plan)),
        total_text(sum(line.cost for line in stage.buys), plan.currency, plan.invented),
        tuple(groups),
        strain_text(start),
        nothing_text(stage, plan),
        kept_text(stage, plan, catalog),
    )


def _short(line: DoneLine) -> str:
    """How a line is done in a few words; empty where it is only taken away."""
    after = line.change.after
    return "" if after is None else short_text(after, line.change.state_before, line.stage.state)


def _buy_line(
    line: BillLine, at: int, plan: Plan, catalog: Catalog, prices: PriceTable, anchors: Anchors
) -> BuyLine:
    steps = {one.number: anchors.of(one.change.option, stage) for stage, one in wanting(line, at, plan)}
    return BuyLine(
        purchase_text(line, plan.currency, catalog) + used_text(line.item, prices),
        ask_text(catalog.items[plain_item(line.item)], prices),
        f"buy {line.item}",
        tuple(sorted(steps.items())),
    )


def _summary(plan: Plan, money: str) -> list[str]:
    if plan.does_nothing:
        return [no_steps_text(plan), stays_text(plan)]
    return [
        tr("This plan costs {money}.", money=money) if plan.cost else tr("This plan costs nothing."),
        tr("The work takes {time}.", time=minutes_text(plan.minutes)) if plan.minutes else "",
        tr(
            "Strain is {before} a day now. With this plan it is {after}.",
            before=strain_text(plan.before.total),
            after=strain_text(plan.after.total),
        ),
        stays_text(plan),
    ]


def _sure(plan: Plan) -> list[str]:
    """How sure a plan is, and what it leaves: after the steps, since those come first."""
    how = [] if plan.does_nothing else [how_sure_text(plan)]
    return [*how, most_left_text(left_of(plan)), *complaints_of(plan)]


def region_bars(plans: Sequence[Plan]) -> list[RegionBar]:
    """Strain of each part of the body that any plan has strain for, now and with each plan."""
    now = plans[0].before.by_region
    longest = max(*now.values(), *(most for plan in plans for most in plan.after.by_region.values()), 1)
    out = []
    for region in now:
        then: dict[tuple[str, float], list[int]] = {}
        for number, plan in enumerate(plans):
            left = plan.after.by_region[region]
            if now[region] or left:
                then.setdefault((strain_text(left), left / longest), []).append(number)
        if then:
            rungs = tuple(sorted(number for found in then.values() for number in found))
            values = tuple((value, tuple(found)) for value, found in then.items())
            said = strain_text(now[region]), now[region] / longest
            out.append(RegionBar(region_word(region), rungs, *said, values))
    return out


def reserves_by_rung(plans: Sequence[Plan]) -> list[tuple[str, Rungs]]:
    """What to do if something happens, each once, with the budgets for which it is said."""
    return merged([reserve_texts(plan) for plan in plans])


def cards_of(plans: Sequence[Plan], chosen: int, catalog: Catalog, prices: PriceTable) -> list[Card]:
    """How each fix is done at each size, once each: those of the plan shown first, then the others."""
    found: dict[tuple[str, Markup, Markup], dict[int, DoneLine]] = {}
    at: dict[tuple[str, Markup, Markup], list[tuple[int, int]]] = {}
    names: dict[int, list[str]] = {}
    for number, plan in enumerate(plans):
        coming = [line for _, lines in done_of(plan) for line in lines if line.change.after is not None]
        coming.sort(key=lambda line: line.number)
        coming += standing_lines(plan)
        names[number] = list(dict.fromkeys(line.change.option.with_name for line in coming))
        for line in coming:
            option, state = line.change.option, line.stage.state
            blocks = Blocks(4)
            add_instructions(
                blocks, option, line.change.takes, state, catalog, prices, line.change.state_before
            )
            pieces = Markup(cut_drawing(cut_pieces(option, state)))
            key = option.with_name, blocks.html(), pieces
            found.setdefault(key, {}).setdefault(number, line)
            at.setdefault(key, []).append((number, plan.stages.index(line.stage)))
    whole = [name for number in (chosen, *reversed(range(len(plans)))) for name in names[number]]
    order = sorted(found, key=lambda one: (chosen not in found[one], whole.index(one[0])))
    return [
        replace(_card(f"step-{position}", found[one], one[1], one[2], plans), at=tuple(at[one]))
        for position, one in enumerate(order, start=1)
    ]


def _card(
    key: str, lines: Mapping[int, DoneLine], text: Markup, pieces: Markup, plans: Sequence[Plan]
) -> Card:
    option = next(iter(lines.values())).change.option
    whys = {n: [why_of(line.change)] for n, line in lines.items()}
    figures = {
        n: [why_numbers(line.change.state_before, line.change.state_after)] for n, line in lines.items()
    }
    rights = {n: rights_of(plans[n], line.change.option) for n, line in lines.items()}
    looks = {n: after_two_weeks(option, plans[n].state_after) for n in lines if _in_the_end(option, plans[n])}
    return Card(
        key,
        step_title(option, plans[0].state_before),
        option.with_name,
        _short(next(iter(lines.values()))),
        tuple(lines),
        (),
        _by_text(whys),
        _by_text({n: [text for text in told if text] for n, told in figures.items()}),
        _by_text(rights),
        text,
        pieces,
        _by_text({number: [look] if look else [] for number, look in looks.items()}),
    )


def _in_the_end(option: OptionSpec, plan: Plan) -> bool:
    return any(one.with_name == option.with_name for one in plan.stages[-1].options)


def _by_text(texts: Mapping[int, Sequence[str]]) -> tuple[tuple[str, Rungs], ...]:
    """Each text once, with the budgets for which it is said."""
    out: dict[str, list[int]] = {}
    for number, told in texts.items():
        for text in told:
            out.setdefault(text, []).append(number)
    return tuple((text, tuple(numbers)) for text, numbers in out.items())
