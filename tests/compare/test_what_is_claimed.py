"""What a comparison claims of more money is true of the plans that can be had, not only of those it shows."""

from __future__ import annotations

import re
from dataclasses import replace

from tests.planning.cases import CATALOG, GIVING_WAY, SAMPLE, made

from deskmend.planning.budgets import compared
from deskmend.planning.plan import budget_plans
from deskmend.planning.ready_case import prepare
from deskmend.report.budgets import comparison_text, dearer_plans

FEW = replace(
    CATALOG,
    fixes=tuple(
        fix
        for fix in CATALOG.fixes
        if fix.id
        in ("screen_books", "screen_stand", "keyboard_basic", "mouse_basic", "back_towel", "back_strap")
    ),
)
CRUMBS = GIVING_WAY | {"places__0__light": {"lux": "500", "glare": "none"}}


def test_what_cannot_be_told_is_not_denied() -> None:
    ready = prepare(made(**CRUMBS), FEW, SAMPLE)
    usual, best = compared(ready), compared(ready, every_gain=True)
    assert best.rungs[-1].strain < usual.rungs[-1].strain, "no crumb to be had: the test needs another case"
    text = " ".join(comparison_text(usual, FEW).split())
    assert "No more money takes more off," not in text
    assert re.search(r"The best choice of all leaves \d", text)
    assert "by a difference that can be told" in text.partition("Proven")[2]
    exact = " ".join(comparison_text(best, FEW).split())
    assert "No more money takes more off, with" in exact
    assert "by a difference that can be told" not in exact


def test_where_nothing_helps_no_budget_is_compared() -> None:
    nothing = replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id == "lamp_move"))
    found = compared(prepare(made(), nothing, SAMPLE))
    text = comparison_text(found, nothing)
    assert "it comes down to" not in text
    assert "What changes from one to the next" not in text
    assert "Nothing on offer, at any price, makes a difference" in " ".join(text.split())


def test_what_the_money_in_hand_pays_for_waits_no_month() -> None:
    case = made(**GIVING_WAY, means__budget="20.00", means__saving_per_month="10.00")
    plans = budget_plans(case, FEW, SAMPLE)
    assert len(plans.comparison.rungs) > 2
    told = " ".join(fold for one in dearer_plans(plans, 0) for fold in (one.line, *one.details))
    assert ": at once; strain left" in told
    assert "after 0 month" not in told
