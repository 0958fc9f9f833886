"""What is told of a plan's stages: numbers that stand for one step, what may stay, what is kept for later."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

from tests.planning.cases import CATALOG, GIVING_WAY, SAMPLE, made

from deskmend.planning.dates import Savings
from deskmend.planning.model.offers import offers_for
from deskmend.planning.plan import BudgetPlans, Plan, budget_plans, plan
from deskmend.planning.selection import key_of, state_with
from deskmend.planning.stages import StageChange
from deskmend.report.budgets import dearer_plans
from deskmend.report.plan import how_sure_text, plan_text, reserve_texts
from deskmend.report.stages import _again, done_of, rights_of
from deskmend.report.steps import lacking_by_check, why_numbers
from deskmend.report.words import money_text
from deskmend.workstation.state import state_of


@cache
def changing() -> Plan:
    """A pile gives way to a bought stand, and arms rest where they need no longer."""
    case = made(**GIVING_WAY)
    return plan(case, CATALOG, SAMPLE, 6000, every_gain=True)


def test_a_number_begins_one_step_alone_and_later_lines_cite_it() -> None:
    begun: list[int] = []
    for _, lines in done_of(changing()):
        for line in lines:
            if line.new:
                begun.append(line.number)
                assert line.mark == f"{line.number}."
                assert not re.match(r"Step|Take away", line.text)
            else:
                assert line.mark == "-"
                assert line.number in begun
                assert re.match(rf"(Step|Take away or undo step) {line.number}\b", line.text)
    assert begun == list(range(1, len(begun) + 1))
    text = plan_text(changing(), CATALOG, SAMPLE, steps=False)
    assert re.search(r"- Take away or undo step \d+: Stack of books", text)
    assert re.search(r"- Step \d+ is no longer needed, and may stay: Push the keys in", text)
    assert "Set anew: Set" not in text


def test_only_what_stays_as_it_is_to_the_end_is_as_good_as_it_gets() -> None:
    found = changing()
    last, passing = found.stages[-1], 0
    for stage in found.stages[:-1]:
        for option in stage.options:
            lacks, then = (lacking_by_check(option, one.state) for one in (stage, last))
            told = " ".join(rights_of(found, option))
            if lacks and key_of(option) not in map(key_of, last.options):
                passing += 1
                assert "as good as it gets" not in told
                assert "This step goes again: " in told or "It comes right later: " in told
            for check, text in lacks.items():
                if then.get(check) != text:
                    assert f"{text} With this plan it is as good" not in told
    assert passing


def test_figures_are_those_of_the_stage_that_the_reason_is_given_in() -> None:
    text = " ".join(plan_text(changing(), CATALOG, SAMPLE).partition("For the assessor")[2].split())
    lines = [line for _, found in done_of(changing()) for line in found if line.change.after is not None]
    told = [(line.text, why_numbers(line.change.state_before, line.change.state_after)) for line in lines]
    assert text.count("in figures, ") == sum(1 for _, figures in told if figures)
    for title, figures in told:
        assert not figures or f"in figures, {title}: {figures}" in text


def test_money_is_kept_back_only_where_enough_is_left() -> None:
    found = changing()
    costs = {reserve.watch.item: reserve.cost or 0 for reserve in found.watch_for}
    assert sum(costs.values()) > 0
    assert found.limit is not None
    enough = sum(costs.values()) <= found.limit - found.cost
    told = " ".join(reserve_texts(found))
    assert ("Keep " in told) == enough
    poor = plan(found.case, CATALOG, SAMPLE, found.cost, every_gain=True)
    left = " ".join(reserve_texts(poor))
    assert "Keep " not in left
    for reserve in poor.watch_for:
        if reserve.cost:
            assert f"It would cost {money_text(reserve.cost, 'EUR')} then." in left
    planned = {item for step in poor.steps for item in step.option.use}
    assert not planned & {reserve.watch.item for reserve in poor.watch_for}


def test_a_place_that_fits_is_left_alone() -> None:
    text = plan_text(plan(made(**FITS), CATALOG, SAMPLE, 10000), CATALOG, SAMPLE, steps=False)
    assert "This place fits. Change nothing" in text
    assert "Today, for nothing" not in text


def test_what_only_cannot_be_told_within_the_money_does_not_fit_for_it() -> None:
    poor = plan(made(places__0__desk__height="760", means__minutes="0"), CATALOG, SAMPLE, 0)
    assert not poor.steps
    assert "This place fits" not in plan_text(poor, CATALOG, SAMPLE, steps=False)


FITS: dict[str, Any] = {
    "places__0__seat__recline": "15",
    "places__0__seat__lumbar": {"height": "200", "depth": "40"},
    "devices__keyboard": "separate",
    "devices__mouse": "separate",
    "devices__monitor": {"top": "480", "height": "290"},
    "tasks": [{"id": "work", "place": "den", "hours": "4", "spell": "30", "main": "monitor"}],
}


def test_who_asks_is_asked_in_the_short_list_too() -> None:
    case = made(
        places__0__desk={"height": "600", "underside": "565", "depth": "700", "top": "wood", "legs": "fixed"},
        means__tools=["saw", "drill", "screwdriver", "hammer", "knife", "sandpaper"],
        means__may_alter="yes",
        room={"landlord_leave": "true"},
    )
    found = plan(case, CATALOG, SAMPLE, 6000, every_gain=True, must=["desk_blocks"])
    leave = {step.option.fix.leave for step in found.steps} - {"none"}
    text = plan_text(found, CATALOG, SAMPLE, steps=False)
    assert ("Ask the owner first." in text) == ("owner" in leave)
    assert leave


@cache
def at_every_budget() -> BudgetPlans:
    case = made(
        places__0__desk={"height": "600", "underside": "565", "depth": "700", "edge": "rounded"},
        owns={"hardback_book": ["30", "40", "50"]},
        means__budget="20.00",
    )
    return budget_plans(case, CATALOG, SAMPLE)


def test_the_next_purchase_tells_what_new_money_it_takes() -> None:
    plans = at_every_budget()
    rungs = plans.comparison.rungs
    assert len(rungs) > 1
    for number, (here, then) in enumerate(pairwise(rungs)):
        had = Counter({line.item: line.packs for line in here.bill.lines})
        wanted = Counter({line.item: line.packs for line in then.bill.lines})
        # no tier of the sample makes more packs cheaper here: each pack costs what the table says
        new = sum(SAMPLE.items[item].price * packs for item, packs in (wanted - had).items())
        line = dearer_plans(plans, number)[0].line
        assert f"{money_text(new, 'EUR')} of new money" in line
        assert ("builds on what this one buys" in line) == (bool(had) and not had - wanted)


def test_page_and_text_hold_the_plan_of_the_money_in_hand_against_the_same_best() -> None:
    plans = at_every_budget()
    shown = plans.plans[plans.chosen]
    alone = plan(plans.comparison.case, CATALOG, SAMPLE)
    assert shown.cost < 2000
    assert (shown.limit, shown.cost, shown.after.total) == (alone.limit, alone.cost, alone.after.total)
    assert (shown.best and shown.best.strain, shown.noise) == (alone.best and alone.best.strain, alone.noise)
    assert how_sure_text(shown) == how_sure_text(alone)


def test_what_delays_a_purchase_is_money_only_where_money_is_lacking() -> None:
    found = plan(at_every_budget().comparison.case, CATALOG, SAMPLE, 1000, saving=1000)
    schedule = found.schedule
    assert schedule is not None
    rich = replace(schedule, savings=Savings(schedule.spent, 1000))
    assert schedule.cost_now < schedule.spent
    waits = "bought as money comes in"
    assert (waits in plan_text(found, CATALOG, SAMPLE, steps=False)) == (
        schedule.spent > schedule.savings.in_hand
    )
    text = plan_text(replace(found, schedule=rich), CATALOG, SAMPLE, steps=False)
    assert waits not in text
    assert "only the time for the work delays it" in " ".join(text.split())


def test_a_worker_is_not_told_that_something_is_proven() -> None:
    text = plan_text(changing(), CATALOG, SAMPLE, steps=False)
    assert "Searched exactly" in text
    assert "proven" not in text.replace("how it is proven", "")


def test_what_still_takes_something_off_is_not_called_needless() -> None:
    """A timer that goes while it helps a little may stay, and the sentence says why it goes."""
    case = made(tasks__0__spell="120", places__0__seat__surface="hard")
    bare = state_of(case)
    timer = next(
        one for one in offers_for(case, bare, CATALOG, SAMPLE).options() if one.fix.id == "break_timer"
    )
    helped = state_with(bare, [timer])
    for with_it, says in (
        (helped, "Step 5 is not counted from here on; it may stay"),
        (bare, "Step 5 is no longer"),
    ):
        change = StageChange(timer, None, (), with_it, bare, 0, may_stay=True)
        assert _again(5, "Timer", change).startswith(says)
