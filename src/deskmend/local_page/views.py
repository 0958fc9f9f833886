"""What the screens of one case show, as figures and pieces of HTML."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.intake.interview import question_file
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.text_file import parse_fix_name
from deskmend.language import tr
from deskmend.local_page.rendering import Answer, rendered
from deskmend.measures import Micro
from deskmend.planning.assessment import Assessment
from deskmend.planning.bill import bill_of
from deskmend.planning.budgets import change_between
from deskmend.planning.frontier import Bundle, CheckedPlan
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.mismatch import mismatches_in
from deskmend.planning.model.offers import Offers, OptionSpec
from deskmend.planning.model.rules import breaches_of_many
from deskmend.planning.plan import Plan
from deskmend.planning.score import Score, strain_of_many, weights_of
from deskmend.planning.selection import FixKey, decision_of, key_of, state_with
from deskmend.report.budgets import stop_text
from deskmend.report.drawing.person import modes_of
from deskmend.report.drawing.side import side_view
from deskmend.report.fit import first_lines, suits_fold
from deskmend.report.html.drawings import drawings_of
from deskmend.report.html.steps import cards_of
from deskmend.report.plan import how_sure_text, measure_again_text, no_steps_text, reserve_texts
from deskmend.report.stages import done_of, instead_text, kept_text, nothing_text, stage_title
from deskmend.report.steps import (
    ask_text,
    leave_text,
    owned_title,
    purchase_text,
    size_text,
    step_title,
    step_titles,
    used_text,
)
from deskmend.report.words import (
    case_name,
    exposure_words,
    first_of_all,
    measure_words,
    minutes_text,
    money_text,
    other_warnings,
    region_word,
    strain_text,
    total_text,
    waits,
)
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import state_of

__all__ = ["beside_view", "money_view", "plan_view", "strain_view", "wish_title"]

Wishing = tuple[Sequence[str], Sequence[str]]
"""Fixes that must be, and must never be, by name."""


@dataclass(frozen=True)
class Bar:
    """Strain of one part of the body, now and with the plan, as text and as shares of the longest bar [-]."""

    part: str
    now: str
    left: str
    now_share: float
    left_share: float


@dataclass(frozen=True)
class StepRow:
    """One thing to do: `before` and `left` are the strain without and with it, as shares of that now [-]."""

    number: int
    new: bool
    title: str
    size: str
    leave: str
    left: str
    before_share: float
    left_share: float
    card: Any


@dataclass(frozen=True)
class StageRows:
    """One stage of the plan."""

    title: str
    buys: tuple[tuple[str, str], ...]
    total: str
    steps: tuple[StepRow, ...]
    nothing: str
    kept: str


@dataclass(frozen=True)
class WishRow:
    """One fix that may be wished or refused: ``free``, ``must`` or ``never`` now."""

    name: str
    title: str
    wish: str
    without: str
    instead: str


def money_view(now: Micro, distinct: Sequence[CheckedPlan], chosen: CheckedPlan, currency: str) -> Answer:
    """What every budget comes to, and the one that is chosen: figures that need no steps."""
    return {
        "now": strain_text(now),
        "now_strain": now,
        "rungs": [
            {
                "cost": one.cost,
                "money": money_text(one.cost, currency),
                "left": strain_text(one.strain),
                "strain": one.strain,
                "words": tr(
                    "{money}, strain {left}",
                    money=money_text(one.cost, currency),
                    left=strain_text(one.strain),
                ),
            }
            for one in distinct
        ],
        "chosen": distinct.index(chosen),
        "summary": tr("Strain {now} now, {left} left", now=strain_text(now), left=strain_text(chosen.strain)),
        "told": tr(
            "Plan for {money}: strain {left} left of {now}.",
            money=money_text(chosen.cost, currency),
            left=strain_text(chosen.strain),
            now=strain_text(now),
        ),
    }


def plan_view(
    plan: Plan,
    distinct: Sequence[CheckedPlan],
    catalog: Catalog,
    prices: PriceTable,
    offers: Offers,
    wishing: Wishing,
    case: str,
) -> Answer:
    """One plan with the wishes that may be changed; see `money_view` for its figures."""
    rows = wish_rows(plan, offers, catalog, prices, wishing)
    in_hand = plan.case.means.budget
    return {
        "title": case_name(plan.case),
        "in_hand_money": "" if in_hand is None else money_text(in_hand, plan.currency),
        "too_dear": in_hand is not None and distinct[0].cost > in_hand,
        "notes": rendered(
            "notes.html",
            first=first_of_all(plan.case, catalog),
            signs=sign_warnings(plan.case, catalog),
            waits=waits(plan.case, catalog),
            warnings=other_warnings(plan.warnings, plan.case, catalog),
            fit=first_lines(plan.lacks, plan.mismatches, plan.state_before),
        ),
        "drawing": rendered(
            "drawing.html", drawings=drawings_of([plan]), estimate=_estimate(plan), case=case
        ),
        "steps": rendered(
            "steps.html",
            empty=no_steps_text(plan) if plan.does_nothing else "",
            stages=_stages(plan, catalog, prices),
            time=minutes_text(plan.minutes) if plan.minutes else "",
            only_if=reserve_texts(plan),
            bars=bars_now_and_then(plan.before, plan.after),
            sure=how_sure_text(plan),
            stop=stop_text(plan),
        ),
        "wishes": rendered("wishes.html", rows=rows[0], others=rows[1]),
    }


def _estimate(plan: Plan) -> tuple[str, str, str] | None:
    """The measure that was only estimated and on which most hangs, and what hangs on it.

    Third is where it goes in the case file, where no question asks for it.
    """
    if plan.least_sure is None:
        return None
    length, _ = plan.least_sure
    told = measure_again_text(plan)
    if not told or not (length.estimated or length.given_as_guess):
        return None
    asked = {one.to.replace(".0.", ".*.") for one in question_file().questions if one.kind == "measure"}
    return measure_words(length.key), told, "" if length.key in asked else plan.case.name_of(length.path)


def _stages(plan: Plan, catalog: Catalog, prices: PriceTable) -> list[StageRows]:
    cards = {card.name: card for card in cards_of([plan], 0, catalog, prices)}
    most = max(plan.before.total, 1)
    last: Micro = plan.before.total
    out = []
    for stage, lines in done_of(plan):
        rows = []
        for line in lines:
            option, left = line.change.option, line.change.strain_after
            rows.append(
                StepRow(
                    line.number,
                    line.new,
                    owned_title(tr(option.fix.title), option.owner, plan.state_before)
                    if line.new
                    else f"{line.text}.",
                    size_text(option) if line.new else "",
                    leave_text(option),
                    tr("{strain} left", strain=strain_text(left)),
                    min(last / most, 1.0),
                    min(left / most, 1.0),
                    cards.get(option.with_name) if line.change.after is not None else None,
                )
            )
            last = left
        out.append(
            StageRows(
                stage_title(stage),
                tuple(
                    (
                        purchase_text(line, plan.currency, catalog) + used_text(line.item, prices),
                        ask_text(catalog.items[line.item], prices),
                    )
                    for line in stage.buys
                ),
                total_text(sum(line.cost for line in stage.buys), plan.currency, plan.invented),
                tuple(rows),
                nothing_text(stage, plan),
                kept_text(stage, plan, catalog),
            )
        )
    return out


def bars_now_and_then(before: Score, after: Score) -> list[Bar]:
    """Strain by part of the body; parts that have none now nor then are left out."""
    now, left = before.by_region, after.by_region
    longest = max(*now.values(), *left.values(), 1)
    return [
        Bar(
            region_word(part),
            strain_text(now[part]),
            strain_text(left[part]),
            now[part] / longest,
            left[part] / longest,
        )
        for part in now
        if now[part] or left[part]
    ]


def wish_rows(
    plan: Plan, offers: Offers, catalog: Catalog, prices: PriceTable, wishing: Wishing
) -> tuple[list[WishRow], list[WishRow]]:
    """Fixes of the plan and those wished or refused, then all others that could be had."""
    must, never = wishing
    named = {name: "must" for name in must} | {name: "never" for name in never}
    planned = {key_of(step.option): step.option for step in plan.steps}
    state = plan.state_before
    first, told = [], set()
    for key, option in planned.items():
        name = _name(option)
        known = next(
            (one for one in named if one == name or one.partition("=")[0] in (name, option.fix.id)), None
        )
        told.add(known)
        bundle = plan.bundle_of.get(key)
        first.append(
            WishRow(
                known or name,
                step_title(option, state),
                "free" if known is None else named[known],
                "" if bundle is None else _without(bundle, plan),
                "" if bundle is None or bundle.instead is None else instead_text(bundle.instead, plan),
            )
        )
    first += [
        WishRow(name, wish_title(name, catalog), wish, "", "")
        for name, wish in named.items()
        if name not in told
    ]
    heard = {name.partition("=")[0].rpartition(".")[2] for name in named}
    more = [one for one in offers.options() if key_of(one) not in planned and one.fix.id not in heard]
    others = [
        WishRow(_name(option), owned_title(tr(option.fix.title), option.owner, state), "free", told, "")
        for option, told in _with_each(plan, more, prices)
    ]
    return first, sorted(others, key=lambda row: row.title.casefold())


def _with_each(
    plan: Plan, more: Sequence[OptionSpec], prices: PriceTable
) -> Iterator[tuple[OptionSpec, str]]:
    """What a plan would come to with one fix more, or in place of its rival, all else as it is.

    Each fix once, at the size that leaves least.
    """
    bare, weights = state_of(plan.case), weights_of(plan.case)
    taken = [step.option for step in plan.steps]
    first: dict[FixKey, OptionSpec] = {}
    sets, states = [], []
    for option in more:
        first.setdefault(key_of(option), option)
        chosen = [*(one for one in taken if decision_of(one) != decision_of(option)), option]
        try:
            states.append(state_with(bare, chosen))
        except TwoSets:
            # another fix of the plan settles the same: told below as what does not go with it
            continue
        sets.append(chosen)
    broken = breaches_of_many(
        [bare] * len(states), states, [[(one.fix, one.owner) for one in chosen] for chosen in sets]
    )
    strains = strain_of_many(states, [weights] * len(states))
    best: dict[FixKey, tuple[Micro, int]] = {}
    for number, (found, strain) in enumerate(zip(broken, strains, strict=True)):
        if not found:
            key = key_of(sets[number][-1])
            best[key] = min(best.get(key, (strain, number)), (strain, number))
    for key, option in first.items():
        if key in best:
            strain, number = best[key]
            yield option, _added_text(plan, sets[number], strain, prices)
        else:
            yield option, tr("It does not go with the rest of this plan.")


def _added_text(plan: Plan, chosen: Sequence[OptionSpec], strain: Micro, prices: PriceTable) -> str:
    """What a set of fixes leaves and costs beside the plan that it was made from by its last fix."""
    option = chosen[-1]
    rivals = [one for step in plan.steps if (one := step.option) not in chosen]
    bill = bill_of(chosen, plan.case, prices)
    cost = bill.total - plan.cost
    names = [owned_title(tr(one.fix.title), one.owner, plan.state_before) for one in rivals]
    start = tr("In place of {steps}", steps="; ".join(names)) if rivals else tr("Beside the rest")
    if size := size_text(option):
        start = (
            tr("At {size}, in place of {steps}", size=size, steps="; ".join(names))
            if rivals
            else tr("At {size}, beside the rest", size=size)
        )
    figures = {"start": start, "left": strain_text(strain)}
    if strain_text(abs(plan.after.total - strain)) == strain_text(0):
        told = tr("{start}: {left} left, as with this plan.", **figures)
    elif strain < plan.after.total:
        told = tr(
            "{start}: {left} left, {less} less.", **figures, less=strain_text(plan.after.total - strain)
        )
    else:
        told = tr(
            "{start}: {left} left, {more} more.", **figures, more=strain_text(strain - plan.after.total)
        )
    if bill.missing:
        return told
    if cost > 0:
        return f"{told} {tr('It costs {cost} more.', cost=money_text(cost, plan.currency))}"
    if cost < 0:
        return f"{told} {tr('It costs {cost} less.', cost=money_text(-cost, plan.currency))}"
    return f"{told} {tr('It costs nothing more.')}"


def _name(option: OptionSpec) -> str:
    """A fix as wishes name it, at whatever size."""
    return option.with_name.partition("=")[0]


def _without(bundle: Bundle, plan: Plan) -> str:
    """What the same plan leaves without a bundle."""
    left = strain_text(plan.after.total + bundle.leaving_out)
    if strain_text(bundle.leaving_out) == strain_text(0):
        told = tr("Left out: {left} left, nothing lost.", left=left)
    else:
        told = tr("Left out: {left} left, {more} more.", left=left, more=strain_text(bundle.leaving_out))
    others = [option for option in bundle.options if option != bundle.head]
    if others:
        names = step_titles(bundle.options, plan)
        told = f"{told} {tr('Only together: {steps}.', steps=names)}"
    if bundle.along:
        names = step_titles(bundle.along, plan)
        told = f"{told} {tr('Without it this goes too: {others}.', others=names)}"
    return told


def strain_view(found: Assessment, catalog: Catalog) -> Answer:
    """What strains now: drawn, by part of the body, and one by one."""
    state, score = found.before, found.now
    drawings = []
    for task in state.tasks:
        modes = modes_of(state, task)
        for mode in modes:
            words = "" if len(modes) == 1 else tr("Sitting") if mode == "sit" else tr("Standing")
            titles = [task if len(state.tasks) > 1 else "", words]
            view = side_view(state, state, task, mode, score, score)
            drawings.append(
                (", ".join(title for title in titles if title), Markup(view.svg), view.dimensions)
            )
    rows = sorted((row for row in found.exposures if row.strain), key=lambda row: -row.strain)
    many = len(state.tasks) > 1
    return {
        "title": case_name(found.case),
        "told": tr("Strain {now} a day now.", now=strain_text(score.total)),
        "html": rendered(
            "strain.html",
            first=first_of_all(found.case, catalog),
            signs=sign_warnings(found.case, catalog),
            waits=waits(found.case, catalog),
            warnings=other_warnings(found.warnings, found.case, catalog),
            fit=first_lines(found.lacks, mismatches_in(found.after)),
            now=strain_text(score.total),
            drawings=drawings,
            bars=bars_now_and_then(score, score),
            rows=[
                (
                    region_word(row.region),
                    exposure_words(row.name, row.of, row.task if many else ""),
                    strain_text(row.strain, 2),
                )
                for row in rows
            ],
            suits=suits_fold(found.suits),
        ),
    }


def beside_view(
    first: tuple[Plan, CheckedPlan], second: tuple[Plan, CheckedPlan], catalog: Catalog
) -> Answer:
    """Two plans side by side, and in what they differ."""
    (one, here), (other, there) = first, second
    change = change_between(here, there)
    sides = []
    for title, plan, only in (
        (tr("First plan"), one, change.leaves),
        (tr("Second plan"), other, change.enters),
    ):
        sides.append(
            {
                "title": title,
                "money": total_text(plan.cost, plan.currency, plan.invented),
                "left": strain_text(plan.after.total),
                "time": minutes_text(plan.minutes),
                "drawing": drawings_of([plan]),
                "only": [step_title(option, plan.state_before) for option in only],
                "bars": bars_now_and_then(plan.before, plan.after),
                "buys": [purchase_text(line, plan.currency, catalog) for line in plan.bill.lines],
            }
        )
    sized = [
        tr(
            "{step}; in the second {size}",
            step=step_title(pair.before, one.state_before),
            size=size_text(pair.after),
        )
        for pair in change.resized
    ]
    both = [
        step_title(option, one.state_before)
        for option in here.options
        if option.with_name in {kept.with_name for kept in there.options}
    ]
    return {
        "html": rendered("beside.html", sides=sides, sized=sized, both=both),
        "told": tr(
            "First plan: {first} left. Second plan: {second} left.",
            first=strain_text(one.after.total),
            second=strain_text(other.after.total),
        ),
    }


def wish_title(name: str, catalog: Catalog) -> str:
    """A wish in words: the fix's title, with its size, and whom it is for where the name tells."""
    read = parse_fix_name(name)
    fix = None if read is None else catalog.by_id.get(read.fix)
    if read is None or fix is None:
        return name
    sized = tr(fix.title) + (f": {read.value}" if read.value else "")
    return f"{sized} ({read.prefix})" if read.prefix else sized
