"""Steps that help only together: one line with its own sum, the same in text and page."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

from tests.planning.cases import CATALOG, GIVING_WAY, SAMPLE, made

from deskmend.planning.bill import bill_of
from deskmend.planning.by_hand import plans_by_hand
from deskmend.planning.frontier import Bundle
from deskmend.planning.plan import BudgetPlans, Plan
from deskmend.planning.selection import key_of
from deskmend.report.html.page import page_html
from deskmend.report.plan import plan_text
from deskmend.report.stages import (
    bundle_texts,
    done_of,
    groups_of,
    in_buying_order,
    parted_text,
    together_text,
    wanting,
)
from deskmend.report.words import money_text, strain_text

FIXES = ("keyboard_basic", "mouse_basic", "den.screen_books=120", "den.seat_height=380")
TOGETHER = ("keyboard_basic", "mouse_basic", "den.screen_books=120")


@cache
def by_hand() -> BudgetPlans:
    """Some fixes, as they are put together by hand."""
    return plans_by_hand(made(**GIVING_WAY), CATALOG, SAMPLE, FIXES)


def bundled(*names: str) -> Plan:
    """The same plan, its lines so that some fixes help only together."""
    found = by_hand().plans[0]
    options = [step.option for step in found.steps]
    inside = tuple(option for option in options if option.with_name in names)
    others = [
        Bundle(options=(o,), head=o, leaving_out=10, told=False, along=(), instead=None) for o in options
    ]
    whole = Bundle(options=inside, head=inside[-1], leaving_out=4_600_000, told=True, along=(), instead=None)
    return replace(found, bundles=(whole, *(one for one in others if one.head not in inside)))


def test_what_is_bought_for_less_than_can_be_told_says_so() -> None:
    untold = "By itself that is less than can be told: buy it last, or leave it."
    texts = {text.split(":")[0]: text for text in bundle_texts(bundled("keyboard_basic"))}
    assert {name for name, text in texts.items() if untold in text} == {
        "Plain separate mouse that fits the hand"
    }
    assert len(texts) == len(FIXES)


TWO_TASKS = {
    "tasks": [
        {"id": name, "place": "den", "hours": "3", "main": "laptop", "reference": "paper"}
        for name in ("letters", "bills")
    ]
}
"""One holder serves both: it is carried."""


def test_a_thing_that_serves_two_tasks_is_not_for_nothing_at_the_second() -> None:
    case = made(**TWO_TASKS)
    names = ("letters.holder_bought", "bills.holder_bought")
    plan = plans_by_hand(case, CATALOG, SAMPLE, names).plans[0]
    alone = [bill_of(bundle.options, case, SAMPLE).total for bundle in plan.bundles]
    assert plan.cost > 0
    assert alone == [plan.cost, plan.cost], "either alone costs as much as both"
    texts = bundle_texts(plan)
    holder = plan.bundles[0].head.fix.title
    for payer, other in (("letters", "bills"), ("bills", "letters")):
        (text,) = (text for text in texts if text.startswith(f"{holder} ({payer}): "))
        paid = money_text(plan.cost, plan.currency) in text
        serves = (
            "What is bought for it serves this too" if paid else "What is bought for this serves here too"
        )
        assert f"{serves}: {holder} ({other})." in text
        assert ("for no more money" in text) is not paid
        assert "for nothing" not in text
    assert sum(money_text(plan.cost, plan.currency) in text for text in texts) == 1, "it is paid once"


def test_a_bundle_is_one_line_with_its_own_sum() -> None:
    found = bundled(*TOGETHER)
    stages = [groups_of(lines, found) for _, lines in done_of(found)]
    (bundle,) = [one for bundles in stages for one in bundles if one.of is not None]
    assert [line.change.option.with_name for line in bundle.lines] == list(TOGETHER)
    assert [line for bundles in stages for one in bundles for line in one.lines] == [
        line for _, lines in done_of(found) for line in lines
    ]
    assert bundle.of is not None
    cost = sum(step.cost for step in found.steps if step.option.with_name in TOGETHER)
    told = together_text(bundle.of, found)
    assert told == f"Only together: they take off {strain_text(4_600_000)} for {money_text(cost, 'EUR')}."
    text = " ".join(plan_text(found, CATALOG, SAMPLE, steps=False).split())
    page = page_html(replace(by_hand(), plans=[found]), CATALOG, SAMPLE)
    assert f"{bundle.mark} " in text
    assert told in text
    assert told in page
    assert f">{bundle.numbers}</span>" in page
    assert page.count('<li class="bundle">') == 1


def test_a_bundle_that_others_part_is_told_at_its_first_step() -> None:
    found = bundled("keyboard_basic", "den.screen_books=120")
    lines = [line for _, lines in done_of(found) for line in lines]
    assert all(one.of is None for _, found_lines in done_of(found) for one in groups_of(found_lines, found))
    first, last = (
        next(line for line in lines if line.change.option.with_name == name)
        for name in ("keyboard_basic", "den.screen_books=120")
    )
    assert f"steps {first.number}, {last.number}." in parted_text(first, found)
    assert parted_text(last, found) == ""
    assert parted_text(first, found) in " ".join(plan_text(found, CATALOG, SAMPLE, steps=False).split())


def test_steps_of_a_bundle_that_come_at_different_times_are_told_for_when_all_is_there() -> None:
    """Until the last of them is there, an earlier one helps without it: else it would not be done yet."""
    found = bundled("den.seat_height=380", "mouse_basic")
    stages = list(done_of(found))
    numbers = {
        line.change.option.with_name: (line.number, at)
        for at, (_, lines) in enumerate(stages)
        for line in lines
    }
    (first, early), (last, late) = numbers["den.seat_height=380"], numbers["mouse_basic"]
    assert early < late
    line = next(line for _, lines in stages for line in lines if line.number == first)
    cost = money_text(sum(step.cost for step in found.steps if step.option.with_name == "mouse_basic"), "EUR")
    told = f"When the whole plan is there, only together: steps {first}, {last}."
    told += f" They take off 4.6 then, for {cost} in all."
    assert parted_text(line, found) == told
    assert told in " ".join(plan_text(found, CATALOG, SAMPLE, steps=False).split())
    assert told in page_html(replace(by_hand(), plans=[found]), CATALOG, SAMPLE)


def test_what_is_bought_stands_in_the_order_of_use_and_leads_to_its_steps() -> None:
    found = by_hand().plans[0]
    page = page_html(by_hand(), CATALOG, SAMPLE)
    seen = 0
    for at, stage in enumerate(found.stages):
        firsts = []
        for line in in_buying_order(stage, found):
            steps = [one for _, one in wanting(line, at, found)]
            assert steps
            assert all(line.item in one.change.option.use for one in steps)
            firsts.append(min(one.number for one in steps))
            seen += 1
        assert firsts == sorted(firsts)
    assert seen == len(found.bill.lines)
    links = re.findall(r'for step <a href="#(step-\d+)">(\d+)</a>', page)
    numbers = {line.number: key_of(line.change.option) for _, lines in done_of(found) for line in lines}
    titles = dict(re.findall(r'<summary><h3>(.*?)</h3></summary>\s*<div id="(step-\d+)">', page))
    assert len(links) == seen
    for anchor, number in links:
        fix = numbers[int(number)][0]
        title = next(title for title, key in titles.items() if key == anchor)
        assert title.startswith(CATALOG.by_id[str(fix)].title)
